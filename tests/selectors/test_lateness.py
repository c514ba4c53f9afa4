"""What is late and will be, reckoned case by case."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

import pytest
from pytest_django import DjangoAssertNumQueries

from cases.models import Case, OpenHours
from cases.selectors.lateness import Outlook, lateness, steps_left
from cases.services.hold import hold_case
from tests.factories import NOW, Shop, make_case, make_shop, rows
from tests.walk import Clock, walk

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop() -> Shop:
    return make_shop()


@dataclass
class Stage:
    """As much of a stage as the reckoning reads."""

    key: str
    state: str = "planned"
    minutes: float = 10
    ended_at: datetime | None = None


@dataclass
class Edge:
    """As much of an edge as the reckoning reads."""

    before: str
    after: str
    min_wait: float = 0


def leaving(case: Case, at: datetime) -> Case:
    """Let a case leave at another instant."""
    rows(lambda record: {"case": record.change(case, leaves_at=at)})
    return case


def only(now: datetime = NOW) -> list[Outlook]:
    return list(lateness(now).outlooks)


def test_steps_left_keep_waits_that_run_and_drop_what_is_over() -> None:
    stages = [
        Stage("pour", "done", ended_at=NOW - timedelta(minutes=20)),
        Stage("trim"),
        Stage("mount", "away"),
        Stage("soak"),
        Stage("send"),
        Stage("gone", "dropped"),
    ]
    edges = [Edge("pour", "trim", 60), Edge("trim", "soak"), Edge("soak", "send", 1440)]

    steps = steps_left(stages, edges, NOW)  # type: ignore[arg-type]

    assert [(step.key, step.minutes) for step in steps] == [
        ("trim", 10), ("mount", 0), ("soak", 10), ("send", 10),
    ]  # fmt: skip
    assert steps[0].not_before == NOW + timedelta(minutes=40)
    assert [(b.key, b.wait_minutes) for b in steps[3].after] == [("soak", 0)]


@pytest.mark.parametrize(
    ("leaves_in", "verdict"),
    [
        (timedelta(hours=-1), "late"),
        (timedelta(hours=5), "will-be-late"),
        (timedelta(days=6), None),
    ],
)
def test_verdict_follows_from_what_is_left(
    shop: Shop, leaves_in: timedelta, verdict: str | None
) -> None:
    leaving(make_case(shop), NOW + leaves_in)

    assert [one.verdict for one in only()] == ([verdict] if verdict else [])


def test_case_with_little_reserve_is_close(shop: Shop) -> None:
    case = leaving(make_case(shop), NOW + timedelta(hours=5))
    ready = only()[0].ready_at
    assert ready is not None

    leaving(case, ready + timedelta(minutes=30))

    assert [one.verdict for one in only()] == ["tight"]


def test_packed_case_past_its_instant_is_late_without_a_reckoning(shop: Shop) -> None:
    case = leaving(make_case(shop), NOW - timedelta(hours=1))
    rows(lambda record: {"case": record.change(case, state="packed")})

    found = only()

    assert [(one.verdict, one.ready_at) for one in found] == [("late", None)]


def test_work_done_brings_the_case_nearer(shop: Shop) -> None:
    case = leaving(make_case(shop), NOW + timedelta(hours=5))
    before = only()[0].minutes_left
    clock = Clock(NOW)

    walk(shop, case, clock, until="trim")

    after = only(clock.now)[0]
    assert after.minutes_left < before
    assert [stage.key for stage in after.at] == ["survey"]


def test_holds_are_named(shop: Shop) -> None:
    case = leaving(make_case(shop), NOW + timedelta(hours=5))
    hold_case(
        shop.envelope("noor"), case=case.pk, version=case.version, reason="on-order",
        waits_for="supplier",
    )  # fmt: skip

    assert [hold.reason for hold in only()[0].holds] == ["on-order"]


def test_lab_without_hours_says_so(shop: Shop) -> None:
    leaving(make_case(shop), NOW + timedelta(hours=5))
    rows(lambda record: {"n": [record.remove(row) for row in OpenHours.objects.all()]})

    found = lateness(NOW)

    assert (found.has_hours, found.outlooks, found.total) == (False, (), 1)


@pytest.mark.parametrize("cases", [1, 3, 60])
def test_lateness_takes_the_same_queries(
    shop: Shop, cases: int, django_assert_num_queries: DjangoAssertNumQueries
) -> None:
    for n in range(cases):
        leaving(make_case(shop, ref=f"Q-{n:04d}"), NOW + timedelta(hours=n))

    with django_assert_num_queries(8):
        found = lateness(NOW)

    assert found.reckoned == cases
