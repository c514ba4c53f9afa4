"""What is left of a case, read as stages of the planner: waits, states, holds, pins, batches."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from typing import Any

import pytest

from cases.domain.planning.problem import After, Pin, Running
from cases.models import Case, Hold, PersonSkill, PlanPin, StageRun, WorkSpan
from cases.selectors.planning.build import build
from cases.selectors.planning.people import person_key
from cases.selectors.planning.work import stage_key
from cases.services.record import Recorder
from tests.factories import NOW, Shop, make_shop, rows
from tests.selectors.planning.small import (
    MORNING,
    Step,
    after,
    ago,
    change,
    make_small,
    read,
    solve,
    stage_of,
)

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop() -> Shop:
    return make_shop()


def two(shop: Shop, least: float = 0, most: float | None = None, **first: Any) -> Case:
    """Return a case of two stages of 30 minutes, one after the other."""
    return make_small(
        shop, Step("one", facts=first), Step("two"), edges=[after("one", "two", least, most)]
    )


# ── order and waits ──────────────────────────────────────────────────────────


def test_stage_begins_when_the_wait_after_the_one_before_is_over(shop: Shop) -> None:
    case = two(shop, 60)

    plan = solve()

    assert plan.span(case, "one") == (0, 30)
    assert plan.span(case, "two") == (90, 120)


def test_a_network_waits_for_the_longest_of_its_branches(shop: Shop) -> None:
    case = make_small(
        shop,
        Step("left", 20), Step("right", 50), Step("sets", 45, "unattended"), Step("join", 10),
        edges=[after("left", "sets"), after("sets", "join"), after("right", "join")],
    )  # fmt: skip

    plan = solve()

    assert plan.span(case, "sets") == (20, 65)
    assert plan.at(case, "sets").person == ""
    assert plan.span(case, "join") == (65, 75)


@pytest.mark.parametrize(("state", "begins"), [("skipped", 40), ("done", 55)])
def test_what_comes_after_a_closed_stage_still_waits_for_the_open_one_before_it(
    shop: Shop, state: str, begins: int
) -> None:
    case = make_small(
        shop,
        Step("first", 30), Step("closed", 30, facts={"state": state, "ended_at": ago(600)}),
        Step("last", 10),
        edges=[after("first", "closed", 10), after("closed", "last", 15)],
    )  # fmt: skip

    plan = solve()

    assert plan.span(case, "first") == (0, 30)
    assert plan.span(case, "last") == (begins, begins + 10)


def test_longest_wait_is_kept_by_beginning_later(shop: Shop) -> None:
    case = two(shop, 0, 10)
    change(stage_of(case, "one"), minutes=360, spec={"night": "no"})
    change(stage_of(case, "two"), spec={"night": "no"})

    plan = solve()

    assert read(case, "two").after == (After(read(case, "one").key, 0, 10),)
    # Begun now it would end at minute 360, with no room for the second until the morning.
    assert plan.span(case, "one") == (MORNING, MORNING + 360)
    assert plan.span(case, "two") == (MORNING + 360, MORNING + 390)


def test_wait_that_runs_already_is_told_by_its_end(shop: Shop) -> None:
    case = two(shop, 60, 120, state="done", started_at=ago(50), ended_at=ago(20))

    stage = read(case, "two")

    assert (stage.after, stage.not_before, stage.latest) == ((), 40, 100)
    assert stage.until == "rest"


@pytest.mark.parametrize(
    ("now", "most"),
    [(0, 10), (12 * 60, 13 * 60)],
    ids=["it is over", "the lab is closed till then"],
)
def test_limit_that_nobody_can_keep_is_none(shop: Shop, now: int, most: float) -> None:
    case = two(shop, 0, most, state="done", started_at=ago(300), ended_at=ago(20))

    assert read(case, "two", NOW + timedelta(minutes=now)).latest is None


def test_limit_that_is_near_is_kept_by_beginning_at_once(shop: Shop) -> None:
    """Two minutes are left for beginning what takes thirty, and others are due before."""
    change(shop.people["oren"], active=False)
    change(shop.people["teo"], active=False)
    first = make_small(shop, Step("one", 60), ref="Q-0", leaves_at=NOW + timedelta(minutes=60))
    case = two(shop, 0, 22, state="done", started_at=ago(300), ended_at=ago(20))

    plan = solve()

    assert read(case, "two").latest == 2
    assert plan.span(case, "two") == (0, 30)
    assert plan.span(first, "one") == (30, 90)


def test_what_was_left_out_or_dropped_is_not_waited_for(shop: Shop) -> None:
    case = make_small(
        shop,
        Step("one", facts={"state": "skipped"}), Step("two", facts={"state": "dropped"}),
        Step("three"),
        edges=[after("one", "three", 60), after("two", "three", 60)],
    )  # fmt: skip

    assert [one.key for one in build(NOW).problem.stages] == [read(case, "three").key]
    assert (read(case, "three").after, read(case, "three").not_before) == ((), 0)


def test_the_van_is_no_stage(shop: Shop) -> None:
    case = make_small(shop, Step("one"), Step("send", 0), edges=[after("one", "send")])

    (leaves,) = solve().plan.leaves

    # The van of today at 16:00 is minute 318.
    assert len(build(NOW).problem.stages) == 1
    assert (leaves.case, leaves.at) == (f"k{case.pk}", 318)


# ── states ───────────────────────────────────────────────────────────────────


def in_hand(case: Case, key: str, shop: Shop, begun: float, state: str = "running") -> None:
    """Let mara have a stage in hand since some minutes, or have put it down now."""
    row, person = stage_of(case, key), shop.people["mara"]

    def make(record: Recorder) -> dict[str, Any]:
        record.change(row, state=state, worker=person, started_at=ago(begun))
        run = record.create(StageRun, stage=row, attempt=1, begun_at=ago(begun))
        ended = None if state == "running" else NOW
        record.create(WorkSpan, run=run, person=person, began_at=ago(begun), ended_at=ended)
        return {}

    rows(make)


def test_running_stage_stays_and_ends_with_the_minutes_it_has_left(shop: Shop) -> None:
    case = two(shop)
    in_hand(case, "one", shop, 10)

    plan = solve()

    mara = person_key(shop.people["mara"].pk)
    assert read(case, "one").running == Running(-10, 20, mara)
    assert plan.span(case, "two") == (20, 50)


def test_running_stage_goes_at_the_pace_of_who_has_it(shop: Shop) -> None:
    case = two(shop, skill="wax")
    skill = PersonSkill.objects.get(person=shop.people["mara"], skill__key="wax")
    change(skill, speed=0.5)
    in_hand(case, "one", shop, 10)

    running = read(case, "one").running

    assert running is not None
    assert running.end == 40


def test_stage_that_ran_over_takes_a_little_longer(shop: Shop) -> None:
    case = two(shop)
    in_hand(case, "one", shop, 60)

    running = read(case, "one").running

    assert running is not None
    assert running.end == 5


def test_two_in_hand_share_the_minutes(shop: Shop) -> None:
    case = make_small(shop, Step("one"), Step("two"))
    in_hand(case, "one", shop, 10)
    in_hand(case, "two", shop, 10)

    ends = [stage.running.end for stage in solve().built.problem.stages if stage.running]

    assert ends == [25, 25]


def test_paused_stage_needs_the_minutes_it_has_left(shop: Shop) -> None:
    case = two(shop)
    in_hand(case, "one", shop, 10, state="paused")

    stage = read(case, "one")

    assert (stage.running, stage.minutes) == (None, 20)


def test_work_that_waits_for_a_signature_takes_five_minutes_of_who_may_sign(shop: Shop) -> None:
    case = two(shop, state="countersign", skill="wax", worker=shop.people["teo"])

    plan = solve()

    assert plan.span(case, "one") == (0, 5)
    assert plan.at(case, "one").person != person_key(shop.people["teo"].pk)


def test_piece_at_the_practice_is_expected_back(shop: Shop) -> None:
    case = two(shop, state="away", started_at=NOW - timedelta(days=1))

    # Three days are assumed, of which one has passed; of five, a day is left at least.
    assert read(case, "one").not_before == 2 * 24 * 60
    change(stage_of(case, "one"), started_at=NOW - timedelta(days=5))
    assert read(case, "one").not_before == 24 * 60


def test_stage_whose_piece_goes_to_the_practice_lets_three_days_pass(shop: Shop) -> None:
    case = two(shop)
    change(stage_of(case, "one"), spec={"at_practice": True})

    assert read(case, "two").after == (After(read(case, "one").key, 3 * 24 * 60, None),)


def test_students_work_is_signed_before_a_point_of_no_return(shop: Shop) -> None:
    case = two(shop, assignee=shop.people["teo"])
    change(stage_of(case, "two"), spec={"photo_before": "no way back"})

    plan = solve()

    one = plan.at(case, "one")
    assert read(case, "one").sign == 5
    assert (one.signed_from, one.signed_until) == (30, 35)
    assert plan.span(case, "two") == (35, 65)


# ── holds ────────────────────────────────────────────────────────────────────


def hold(case: Case, opened: datetime = NOW, **facts: Any) -> None:
    def make(record: Recorder) -> dict[str, Any]:
        record.create(
            Hold, case=case, reason="on-order", waits_for="supplier", opened_at=opened, **facts
        )
        return {}

    rows(make)


FRIDAY, MONDAY = MORNING + 24 * 60, MORNING + 4 * 24 * 60


@pytest.mark.parametrize(
    ("opened", "expected_on", "until"),
    [
        (NOW, None, FRIDAY),
        (NOW - timedelta(days=9), None, MORNING),
        (NOW, date(2026, 12, 10), MORNING),
        (NOW, date(2026, 12, 12), MONDAY),
        (NOW, date(2026, 12, 1), MORNING),
    ],
    ids=["two days assumed", "long ago", "tomorrow", "a Saturday", "a day that is over"],
)
def test_held_case_goes_on_in_the_morning_that_was_said(
    shop: Shop, opened: datetime, expected_on: date | None, until: int
) -> None:
    case = two(shop)
    hold(case, opened, expected_on=expected_on)

    assert (read(case, "one").not_before, read(case, "one").until) == (until, "supplier")
    assert solve().at(case, "one").start == until


def test_hold_of_one_stage_stops_that_stage(shop: Shop) -> None:
    case = two(shop)
    hold(case, stages=["two"])

    assert (read(case, "one").not_before, read(case, "two").not_before) == (0, FRIDAY)
    assert (read(case, "one").until, read(case, "two").until) == ("", "supplier")


def test_what_runs_goes_on_under_a_hold_of_the_rest(shop: Shop) -> None:
    case = two(shop)
    in_hand(case, "one", shop, 10)
    hold(case)

    assert read(case, "one").running is not None


# ── who, and together ────────────────────────────────────────────────────────


def pin(shop: Shop, case: Case, key: str, **facts: Any) -> PlanPin:
    """Pin a stage."""
    made: dict[str, Any] = rows(
        lambda record: {
            "pin": record.create(
                PlanPin,
                stage=stage_of(case, key),
                by=shop.people["pavo"],
                **{"at": ago(30)} | facts,
            )
        }
    )
    found: PlanPin = made["pin"]
    return found


def test_pins_are_read_until_they_are_lifted_or_begun(shop: Shop) -> None:
    case = two(shop)
    oren = shop.people["oren"]
    row = pin(shop, case, "one", person=oren, begins_at=NOW + timedelta(minutes=90))

    assert read(case, "one").pin == Pin(person_key(oren.pk), 90)
    assert solve().span(case, "one") == (90, 120)
    change(row, lifted_at=NOW)
    assert read(case, "one").pin is None


def test_pin_of_a_stage_that_began_since_is_over(shop: Shop) -> None:
    case = two(shop)
    pin(shop, case, "one", person=shop.people["oren"])
    in_hand(case, "one", shop, 10, state="paused")

    assert read(case, "one").pin is None


def test_pinned_minute_that_is_over_binds_nobody(shop: Shop) -> None:
    case = two(shop)
    pin(shop, case, "one", person=shop.people["oren"], begins_at=ago(5))

    assert read(case, "one").pin == Pin(person_key(shop.people["oren"].pk))


def test_who_was_given_a_stage_does_it_unless_the_skill_is_lacking(shop: Shop) -> None:
    case = two(shop, assignee=shop.people["oren"], skill="wax")

    assert read(case, "one").pin == Pin(person_key(shop.people["oren"].pk))
    PersonSkill.objects.filter(person=shop.people["oren"]).delete()
    assert read(case, "one").pin is None


def eyes(shop: Shop, **first: Any) -> Case:
    """Return a case whose second stage is a second pair of eyes on the first."""
    case = two(shop, **first)
    change(stage_of(case, "two"), spec={"other_than": "one"})
    return case


def test_second_pair_of_eyes_names_the_stage_and_then_who_did_it(shop: Shop) -> None:
    case = eyes(shop)
    mara = shop.people["mara"]

    stage = read(case, "two")
    assert (stage.other_than, stage.not_by) == (stage_key(stage_of(case, "one").pk), "")
    change(stage_of(case, "one"), state="done", worker=mara, ended_at=NOW)
    stage = read(case, "two")
    assert (stage.other_than, stage.not_by) == ("", person_key(mara.pk))
    assert solve().at(case, "two").person != person_key(mara.pk)


def test_who_got_the_whole_case_looks_at_none_of_his_own(shop: Shop) -> None:
    case = eyes(shop, assignee=shop.people["mara"])
    change(stage_of(case, "two"), assignee=shop.people["mara"])

    plan = solve()

    assert plan.at(case, "one").person == person_key(shop.people["mara"].pk)
    assert plan.at(case, "two").person != plan.at(case, "one").person


def test_cases_done_together_share_the_fixed_minutes(shop: Shop) -> None:
    step = Step("pour", 10, spec={"batch": True, "minutes": {"*": {"fixed": 4}}})
    one, other = make_small(shop, step, ref="Q-1"), make_small(shop, step, ref="Q-2")
    for name in ("oren", "teo"):
        change(shop.people[name], active=False)

    plan = solve()

    assert plan.span(one, "pour") == plan.span(other, "pour") == (0, 16)
    assert plan.at(one, "pour").together == plan.at(other, "pour").together != ""
