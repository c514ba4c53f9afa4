"""Taking a finish back puts a stage in hand again: what forbids that forbids the undo."""

from __future__ import annotations

import pytest

from cases.services.hold import hold_case
from cases.services.record import Refusal
from cases.services.undo import undo_stage
from cases.services.verify_record import verify_record
from tests.factories import NOW, Shop, make_case, make_shop
from tests.walk import Clock, do_stage, walk

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop() -> Shop:
    return make_shop()


def test_finish_is_not_taken_back_under_a_hold(shop: Shop) -> None:
    case = make_case(shop)
    clock = Clock(NOW)
    walk(shop, case, clock, until="survey")
    case.refresh_from_db()
    stage = case.stages.get(key="survey")
    hold_case(
        shop.envelope("noor", now=clock.now),
        case=case.pk,
        version=case.version,
        reason="answer",
        waits_for="practice",
    )

    with pytest.raises(Refusal) as caught:
        undo_stage(shop.envelope("mara", now=clock.now), stage=stage.pk, version=stage.version)

    stage.refresh_from_db()
    assert (caught.value.code, stage.state) == ("on-hold", "done")
    assert verify_record() == []


def test_finish_is_not_taken_back_while_others_have_the_cast(shop: Shop) -> None:
    from cases.services.stage import start_stage

    case = make_case(shop)
    clock = Clock(NOW)
    walk(shop, case, clock, until="block-out")
    clasps, bar = (case.stages.select_related("case").get(key=key) for key in ("clasps", "bar"))
    clasps = do_stage(shop, clasps, clock)
    bar.refresh_from_db()
    clock.now = max(clock.now, bar.ready_at or clock.now)
    start_stage(shop.envelope("oren", now=clock.now), stage=bar.pk, version=bar.version)

    with pytest.raises(Refusal) as caught:
        undo_stage(shop.envelope("mara", now=clock.now), stage=clasps.pk, version=clasps.version)

    assert caught.value.code == "cast-in-hand"
    assert verify_record() == []
