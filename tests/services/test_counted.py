"""What is counted is a whole number, on the page of the bench as in the demo's lab."""

from __future__ import annotations

import random

import pytest

from cases.demo.readings import passing
from cases.models import CaseStage, CheckResult
from cases.selectors.driving import CheckStand
from cases.services.record import Refusal
from tests.factories import Shop
from tests.services import test_told
from tests.services.test_told import MIX, enter
from tests.walk import Clock

pytestmark = pytest.mark.django_db
shop, pack = test_told.shop, test_told.pack
WORDS = {"unit": "bar", "read": "at the gauge"}


@pytest.mark.parametrize("closings", [2.8, "2.5", -1, "nan"])
def test_number_that_counts_is_refused_beside_its_field_unless_it_is_whole(
    shop: Shop, pack: tuple[CaseStage, Clock], closings: object
) -> None:
    with pytest.raises(Refusal) as refused:
        enter(shop, pack, values={**MIX, "closings": closings}, words=WORDS)

    assert (refused.value.code, refused.value.field) == ("not-a-count", "closings")
    assert "Trial closings are counted: enter a whole number" in refused.value.sentence
    assert not CheckResult.objects.filter(item__number=40).exists()


@pytest.mark.parametrize("closings", [2, "3", 4.0])
def test_whole_number_of_closings_is_kept(
    shop: Shop, pack: tuple[CaseStage, Clock], closings: object
) -> None:
    item = enter(shop, pack, values={**MIX, "closings": closings, "powder": 22.5}, words=WORDS)

    assert item.state == "passed"


def test_demo_counts_its_closings(pack: tuple[CaseStage, Clock]) -> None:
    item = pack[0].checks.get(number=40)
    check = CheckStand(**{
        name: getattr(item, name) for name in CheckStand.__dataclass_fields__
    })  # fmt: skip

    told = {passing(check, random.Random(n), {})["values"]["closings"] for n in range(40)}

    assert told == {2.0, 3.0}
