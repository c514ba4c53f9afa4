"""A case goes through the lab: every stage started, checked and finished by the services."""

from __future__ import annotations

import pytest

from cases.models import Occupied
from cases.services.verify_record import verify_record
from tests.factories import NOW, Shop, make_case, make_shop
from tests.walk import Clock, walk

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop() -> Shop:
    return make_shop()


def test_new_case_goes_from_the_counter_to_the_van(shop: Shop) -> None:
    case = make_case(shop)

    keys = walk(shop, case, Clock(NOW))

    spine = [
        "pour",
        "block-out",
        "clasps",
        "teeth",
        "wax",
        "flask-lower",
        "boil-out",
        "pack",
        "cure",
        "finish",
        "send",
    ]
    assert [key for key in keys if key in spine] == spine
    assert set(case.stages.values_list("state", flat=True)) <= {"done", "dropped"}
    assert set(case.checks.values_list("state", flat=True)) <= {"passed", "dropped"}
    assert Occupied.objects.filter(freed_at__isnull=True).count() == 0
    assert verify_record() == []
