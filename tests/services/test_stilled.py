"""Alarms fall silent in the very submission that makes them untrue, and ring on if undone."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest

from cases.models import Alert, Case, Delivery, Event, Timer
from cases.services.alarms import RING_AGAIN, acknowledge, fire_due, ring
from cases.services.close_case import cancel_case
from cases.services.new_impression import take_new_impression
from cases.services.record import Refusal
from cases.services.send_back import send_back
from cases.services.stage import skip_stage, start_stage
from cases.services.undo import undo_stage
from cases.services.verify_record import verify_record
from tests.factories import NOW, Shop, make_case, make_shop
from tests.walk import Clock, walk

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop() -> Shop:
    return make_shop()


@pytest.fixture
def clock() -> Clock:
    return Clock(NOW)


@pytest.fixture
def case(shop: Shop, clock: Clock) -> Case:
    """A poured case whose plaster has set: the alarm of the trimmer rings."""
    made = make_case(shop)
    walk(shop, made, clock, until="pour")
    clock.now = made.timers.get(kind="wait-over", state="pending").due_at
    assert fire_due(clock.now) == 1
    assert ring(clock.now) == 1
    made.refresh_from_db()
    return made


def ringing(case: Case) -> list[str]:
    rows = Alert.objects.filter(timer__case=case, acknowledged_at=None)
    return sorted(rows.values_list("timer__kind", flat=True))


def stilled_by(case: Case) -> list[dict[str, Any]]:
    rows = Event.objects.filter(case=case, kind="alert.stilled").order_by("pk")
    return [row.facts for row in rows]


def cancel(shop: Shop, case: Case, clock: Clock) -> None:
    cancel_case(
        shop.envelope("pavo", now=clock.now), case=case.pk, version=case.version, reason="moved"
    )


def pour_back(shop: Shop, case: Case, clock: Clock) -> None:
    row = case.stages.get(key="trim")
    send_back(
        shop.envelope(now=clock.now), stage=row.pk, version=row.version,
        to="pour", reason="cast-broken",
    )  # fmt: skip


def new_impression(shop: Shop, case: Case, clock: Clock) -> None:
    came = {
        "kind": "working", "form": "impression", "material": "alginate",
        "taken_at": (clock.now - timedelta(minutes=4)).isoformat(),
    }  # fmt: skip
    take_new_impression(
        shop.envelope("noor", now=clock.now), case=case.pk, version=case.version,
        items=[came], disinfection={"done": "not-known"}, words="A bubble in the rest seat.",
    )  # fmt: skip


def start(shop: Shop, case: Case, clock: Clock) -> None:
    row = case.stages.get(key="trim")
    start_stage(shop.envelope(now=clock.now), stage=row.pk, version=row.version)


def skip(shop: Shop, case: Case, clock: Clock) -> None:
    row = case.stages.get(key="trim")
    skip_stage(shop.envelope(now=clock.now), stage=row.pk, version=row.version, reason="no-time")


@pytest.mark.parametrize(
    ("act", "verb"),
    [
        (cancel, "case.cancel"),
        (pour_back, "case.send-back"),
        (new_impression, "case.new-impression"),
        (start, "stage.start"),
        (skip, "stage.skip"),
    ],
)
def test_alarm_is_stilled_by_the_act_that_makes_it_untrue(
    shop: Shop, case: Case, clock: Clock, act: Any, verb: str
) -> None:
    assert ringing(case) == ["wait-over"]

    act(shop, case, clock)

    assert ringing(case) == []
    assert stilled_by(case) == [{"timer_kind": "wait-over", "act": verb}]
    alert = Alert.objects.get(timer__case=case, timer__kind="wait-over")
    assert (alert.acknowledged_at, alert.acknowledged_by) == (clock.now, None)
    ring(clock.now + RING_AGAIN)
    assert Delivery.objects.get(alert=alert).times == 1
    assert verify_record() == []


def test_cancelled_case_has_no_timer_left(shop: Shop, case: Case, clock: Clock) -> None:
    cancel(shop, case, clock)

    assert not Timer.objects.filter(case=case, state="pending").exists()


def test_alarm_of_another_case_rings_on(shop: Shop, case: Case, clock: Clock) -> None:
    other = make_case(shop, now=clock.now, ref="Q-77")
    other.refresh_from_db()

    cancel(shop, other, clock)

    assert ringing(case) == ["wait-over"]


def test_what_a_person_heard_stays_theirs(shop: Shop, case: Case, clock: Clock) -> None:
    alert = Alert.objects.get(timer__case=case)
    acknowledge(shop.envelope("oren", now=clock.now), alert=alert.pk)

    cancel(shop, case, clock)

    alert.refresh_from_db()
    assert alert.acknowledged_by == shop.people["oren"]
    assert stilled_by(case) == []


def test_stilled_alarm_says_why_when_it_is_tapped(shop: Shop, case: Case, clock: Clock) -> None:
    start(shop, case, clock)

    with pytest.raises(Refusal, match="what it rang for is over"):
        acknowledge(
            shop.envelope("oren", now=clock.now), alert=Alert.objects.get(timer__case=case).pk
        )


def test_start_taken_back_lets_the_alarm_ring_on(shop: Shop, case: Case, clock: Clock) -> None:
    start(shop, case, clock)
    row = case.stages.get(key="trim")

    undo_stage(shop.envelope(now=clock.now), stage=row.pk, version=row.version)

    assert ringing(case) == ["wait-over"]
    assert verify_record() == []


def test_changes_after_the_stilling_stand_under_the_act_itself(
    shop: Shop, case: Case, clock: Clock
) -> None:
    new_impression(shop, case, clock)

    for event in Event.objects.filter(case=case, kind="alert.stilled"):
        assert [one["m"] for one in event.changes] == ["Alert"]
