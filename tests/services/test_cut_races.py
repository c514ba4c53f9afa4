"""Two people decide about one power cut at once, on PostgreSQL: one of them, and only once."""

from __future__ import annotations

from typing import Any

import pytest

from cases.models import LoadExtension, PowerCut
from cases.services import cut
from cases.services.cut import decide_cut
from cases.services.record import Outcome, Refusal
from cases.services.verify_record import verify_record
from tests.services.test_cut import Night
from tests.services.test_races import Meeting, both, without_row_locks

pytestmark = [pytest.mark.production, pytest.mark.django_db(transaction=True)]


def decide_twice(night: Night, monkeypatch: pytest.MonkeyPatch) -> list[Any]:
    """Oren and Pavo have the same page before them and press the button at one moment."""
    meeting = Meeting()
    honest = cut._all_of_them
    bodies = {"oren": night.body("longer"), "pavo": night.body("scrap")}

    def meet(*known: Any) -> None:
        honest(*known)
        meeting.wait()

    monkeypatch.setattr(cut, "_all_of_them", meet)
    return both(
        *(
            lambda who=who, body=body: decide_cut(night.envelope(who), **body)
            for who, body in bodies.items()
        )
    )


def test_two_people_decide_at_once_and_one_of_them_is_told(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    night = Night("long")

    answers = decide_twice(night, monkeypatch)

    assert [type(one) for one in answers].count(Outcome) == 1
    [refused] = [one for one in answers if isinstance(one, Refusal)]
    assert refused.code == "load-changed"
    assert PowerCut.objects.count() == 1
    assert verify_record() == []


def test_without_the_lock_both_decide(monkeypatch: pytest.MonkeyPatch) -> None:
    night = Night("long")
    without_row_locks(monkeypatch)

    answers = decide_twice(night, monkeypatch)

    assert not any(isinstance(one, Refusal) for one in answers)
    assert PowerCut.objects.count() == 2
    assert LoadExtension.objects.count() == 1
