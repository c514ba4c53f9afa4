"""What may not stay as it is overnight."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
from pytest_django import DjangoAssertNumQueries

from cases.models import Case
from cases.selectors.closing import Night, may_not_rest, night, running
from cases.services.stage import start_stage
from tests.factories import NOW, Shop, make_case, make_shop
from tests.walk import Clock, walk

pytestmark = pytest.mark.django_db

OPENS = datetime(2026, 12, 10, 7, 0, tzinfo=UTC)


@pytest.fixture
def shop() -> Shop:
    return make_shop()


def why(night_: Night) -> list[tuple[str, str]]:
    return [(rest.why, rest.stage.key) for one in may_not_rest(night_) for rest in one.rests]


def walked(shop: Shop, until: str) -> tuple[Case, Night]:
    case, clock = make_case(shop), Clock(NOW)
    walk(shop, case, clock, until=until)
    return case, night(clock.now)


def test_night_runs_from_closing_to_the_next_opening(shop: Shop) -> None:
    assert night(NOW) == Night(datetime(2026, 12, 9, 16, 0, tzinfo=UTC), OPENS)


def test_night_after_closing_time_and_on_a_closed_day(shop: Shop) -> None:
    evening = datetime(2026, 12, 11, 18, 0, tzinfo=UTC)
    monday = datetime(2026, 12, 14, 7, 0, tzinfo=UTC)

    assert night(evening) == Night(None, monday)
    assert night(evening + timedelta(days=1)) == Night(None, monday)


def test_impression_that_must_be_poured_is_named(shop: Shop) -> None:
    make_case(shop)

    assert ("latest", "pour") in why(night(NOW))


def test_alginate_on_the_cast_may_not_rest(shop: Shop) -> None:
    _, tonight = walked(shop, "pour")

    assert why(tonight) == [("no", "pour")]


def test_trimmed_cast_may_rest(shop: Shop) -> None:
    _, tonight = walked(shop, "trim")

    assert why(tonight) == []


def test_work_in_hand_that_may_not_be_left_is_named(shop: Shop) -> None:
    case, clock = make_case(shop), Clock(NOW)
    stage = case.stages.get(key="receive")
    walk(shop, case, clock, until="receive")
    stage = case.stages.get(key="pour")
    start_stage(shop.envelope("mara", now=clock.now), stage=stage.pk, version=stage.version)

    assert ("in-hand", "pour") in why(night(clock.now))
    assert [one.key for one in running()] == ["pour"]


def test_separated_mould_may_rest_only_within_its_limit(shop: Shop) -> None:
    case, _tonight = walked(shop, "separate")
    latest = case.stages.get(key="pack").latest_at
    assert latest is not None

    assert why(Night(None, latest + timedelta(hours=1)))[0] == ("limit", "separate")
    assert why(Night(None, latest - timedelta(hours=1))) == []


@pytest.mark.parametrize("cases", [1, 3, 20])
def test_closing_takes_the_same_queries(
    shop: Shop, cases: int, django_assert_num_queries: DjangoAssertNumQueries
) -> None:
    for n in range(cases):
        walk(shop, make_case(shop, ref=f"Q-{n:04d}"), Clock(NOW), until="pour")
    tonight = night(NOW)

    with django_assert_num_queries(3):
        found = may_not_rest(tonight)

    assert len(found) == cases
