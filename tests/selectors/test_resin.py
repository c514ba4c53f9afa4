"""The resin of a case: the one that was mixed, else the one active, with what is known of it."""

from __future__ import annotations

import pytest

from cases.models import Resin
from cases.selectors.resin import makers_numbers, packed_with, resin_of, resins_in_use
from cases.services.check import enter_checks
from tests.factories import NOW, answers, make_case, make_shop, rows, start_stage
from tests.walk import Clock, photograph, walk

pytestmark = pytest.mark.django_db


def make_resin(name: str, **told: float | bool) -> None:
    rows(lambda record: {"resin": record.create(Resin, name=name, **told)})


def test_one_active_resin_is_the_one_of_every_case() -> None:
    case = make_case(make_shop(NOW), now=NOW)
    make_resin("Test resin", ratio_low=2.0, dough_until=15.0)
    make_resin("Old resin", ratio_low=1.0, active=False)

    assert packed_with(case) is None
    assert makers_numbers(resin_of(case)) == {"ratio_low": 2.0, "dough_until": 15.0}


def test_none_or_several_leave_it_open() -> None:
    case = make_case(make_shop(NOW), now=NOW)
    assert resin_of(case) is None
    make_resin("Test resin", ratio_low=2.0)
    make_resin("Other resin", ratio_low=2.1)

    assert resin_of(case) is None
    assert makers_numbers(None) == {}
    assert [row.name for row in resins_in_use()] == ["Other resin", "Test resin"]


def test_mix_entered_at_the_bench_is_held_against_the_resin() -> None:
    shop = make_shop(NOW)
    make_resin("Test resin", ratio_low=2.0, ratio_high=2.4)
    case, clock = make_case(shop, now=NOW), Clock(NOW)
    walk(shop, case, clock, until="separate")
    stage = case.stages.get(key="pack")
    now = max(clock.now, stage.ready_at or clock.now)
    start_stage(
        shop.envelope("mara", now=now),
        stage=stage.pk,
        version=stage.version,
        photo=photograph(shop, case, stage, now, "mara"),
    )
    stage.refresh_from_db()
    item = stage.checks.get(number=40)
    entry = next(one for one in answers(stage) if one["item"] == item.pk)
    entry["values"] |= {"powder": 30, "liquid": 10}
    enter_checks(
        shop.envelope("mara", now=now), stage=stage.pk, version=stage.version, checks=[entry]
    )

    item.refresh_from_db()

    assert item.state == "failed"
    assert "3 g to 1 ml; the maker asks for 2–2.4 g to 1 ml." in item.sentence
