"""Words beside a number: kept with who wrote them, refused where they are none of the list."""

from __future__ import annotations

from typing import Any

import pytest

from cases.models import CaseStage, CheckItem, CheckResult
from cases.services.check import enter_checks
from cases.services.record import Refusal
from cases.services.stage import start_stage
from cases.services.verify_record import verify_record
from tests.factories import NOW, Shop, make_case, make_shop
from tests.walk import Clock, free_things, photograph, walk

pytestmark = pytest.mark.django_db
MIX = {"powder": 22, "liquid": 10, "minutes": 12, "closings": 2, "press": 40}


@pytest.fixture
def shop() -> Shop:
    return make_shop()


@pytest.fixture
def pack(shop: Shop) -> tuple[CaseStage, Clock]:
    """A stage of packing in hand."""
    case = make_case(shop)
    clock = Clock(NOW)
    walk(shop, case, clock, until="separate")
    row = case.stages.select_related("case").get(key="pack")
    clock.now = max(clock.now, row.ready_at or clock.now)
    photo = photograph(shop, case, row, clock.now, "mara")
    start_stage(
        shop.envelope(now=clock.now), stage=row.pk, version=row.version,
        things_used=free_things(), photo=photo,
    )  # fmt: skip
    row.refresh_from_db()
    return row, clock


def enter(shop: Shop, pack: tuple[CaseStage, Clock], **entry: Any) -> CheckItem:
    row, clock = pack
    item = row.checks.get(number=40)
    enter_checks(
        shop.envelope(now=clock.now), stage=row.pk, version=row.version,
        checks=[{"item": item.pk, **entry}],
    )  # fmt: skip
    item.refresh_from_db()
    return item


def test_reading_is_kept_with_its_words(shop: Shop, pack: tuple[CaseStage, Clock]) -> None:
    item = enter(shop, pack, values=MIX, words={"unit": "bar", "read": "at the gauge"})

    result = CheckResult.objects.get(item=item)
    assert result.values["words"] == {"unit": "bar", "read": "at the gauge"}
    assert "40 bar, at the gauge" in result.sentence
    assert item.state == "passed"
    assert verify_record() == []


def test_words_entered_one_by_one_add_up(shop: Shop, pack: tuple[CaseStage, Clock]) -> None:
    assert enter(shop, pack, values=MIX, words={"unit": "bar"}).state == "open"

    assert enter(shop, pack, words={"read": "at the gauge", "unit": ""}).state == "passed"


@pytest.mark.parametrize(
    ("words", "code"), [({"unit": "stone"}, "no-choice"), ({"colour": "red"}, "no-measure")]
)
def test_other_words_are_refused(
    shop: Shop, pack: tuple[CaseStage, Clock], words: dict[str, str], code: str
) -> None:
    with pytest.raises(Refusal) as refused:
        enter(shop, pack, values=MIX, words=words)

    assert refused.value.code == code
