"""The flush after a transactional test may empty the record; nothing else may."""

from __future__ import annotations

from datetime import datetime

import pytest
from django.db import DatabaseError

from cases.models import Submission


@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize("round_number", [1, 2])
def test_record_is_empty_again_after_a_test_that_wrote_it(round_number: int, now: datetime) -> None:
    assert Submission.objects.count() == 0

    Submission.objects.create(
        verb="try", door="test", body_hash="0", happened_at=now, received_at=now, outcome="done"
    )

    with pytest.raises(DatabaseError, match="append-only"):
        Submission.objects.all().delete()
    with pytest.raises(DatabaseError, match="append-only"):
        Submission.objects.update(code="forged")
