"""What lies as far ahead as nobody plans: said with a way out, and the rest of the lab is planned.

Calendars are laid out for ninety days from Wednesday 9 December 2026: until Monday 8 March.
"""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from cases.models import Absence, Case, PersonSkill, Plan, PlanCase, Planner, PlanStage
from cases.services import planner
from cases.services.hold import hold_case
from tests.factories import NOW, Shop, make_shop, rows
from tests.selectors.planning.small import Step, after, make_small

pytestmark = pytest.mark.django_db
FAR = timedelta(days=400)
NEAR = timedelta(days=60)


@pytest.fixture
def shop() -> Shop:
    return make_shop()


@pytest.fixture
def other(shop: Shop) -> Case:
    """The rest of the lab: a case that is done this morning."""
    return make_small(shop, Step("one"), ref="Q-2")


def planned() -> Plan:
    planner.mend(NOW)
    assert Planner.objects.get().fault == ""
    return Plan.objects.get()


def said(plan: Plan) -> list[str]:
    return [one["words"] for one in plan.unplanned]


def leave(plan: Plan) -> dict[Case, date]:
    found = PlanCase.objects.filter(plan=plan).select_related("case")
    return {one.case: one.leaves_at.date() for one in found if one.leaves_at is not None}


def on_hold(shop: Shop, case: Case, until: timedelta) -> None:
    hold_case(
        shop.envelope("noor"), case=case.pk, version=case.version, reason="on-order",
        waits_for="supplier", expected_on=(NOW + until).date().isoformat(),
    )  # fmt: skip


def away(until: timedelta) -> None:
    """Let everybody who may wax be away."""
    days = {"first_on": NOW.date(), "last_on": (NOW + until).date()}
    waxers = [row.person for row in PersonSkill.objects.filter(skill__key="wax")]
    rows(lambda record: {"away": [record.create(Absence, person=one, **days) for one in waxers]})


def only_mara_waxes(shop: Shop) -> None:
    PersonSkill.objects.filter(skill__key="wax").exclude(person=shop.people["mara"]).delete()


@pytest.mark.parametrize("until", [NEAR, FAR])
def test_case_that_is_due_far_ahead_is_planned_as_any_other(
    shop: Shop, other: Case, until: timedelta
) -> None:
    case = make_small(shop, Step("one"), leaves_at=NOW + until)

    plan = planned()

    assert leave(plan) == {case: NOW.date(), other: NOW.date()}
    assert set(PlanCase.objects.values_list("late_minutes", flat=True)) == {0}


def test_case_on_hold_within_the_calendar_is_planned_for_its_day(shop: Shop, other: Case) -> None:
    case = make_small(shop, Step("one"))
    on_hold(shop, case, NEAR)

    plan = planned()

    # The sixtieth day is a Sunday.
    assert leave(plan) == {case: date(2027, 2, 8), other: NOW.date()}
    assert said(plan) == []


def test_case_on_hold_beyond_the_calendar_says_until_when_and_which_year(
    shop: Shop, other: Case
) -> None:
    case = make_small(shop, Step("one"))
    on_hold(shop, case, FAR)

    plan = planned()

    assert leave(plan) == {other: NOW.date()}
    assert said(plan) == [
        f"“{case.number}, One” may begin on Thursday 13 January 2028 at the earliest, and who may "
        "do it is planned until Monday 8 March: say an earlier end of what it waits for, or leave "
        "it; it is planned when that day is nearer."
    ]


def test_stage_waits_for_its_only_hand_within_the_calendar(shop: Shop, other: Case) -> None:
    only_mara_waxes(shop)
    case = make_small(shop, Step("one", facts={"skill": "wax"}))
    away(NEAR)

    plan = planned()

    assert leave(plan) == {case: date(2027, 2, 8), other: NOW.date()}
    assert PlanStage.objects.get(stage__case=case).person == shop.people["mara"]


def test_stage_whose_only_hand_is_away_beyond_the_calendar_says_who_would_help(
    shop: Shop, other: Case
) -> None:
    only_mara_waxes(shop)
    make_small(shop, Step("one", facts={"skill": "wax"}))
    away(FAR)

    plan = planned()

    assert leave(plan) == {other: NOW.date()}
    assert said(plan) == [
        "Nobody who may do “Wax” works before Tuesday 9 March: give someone the skill, or "
        "extend the calendar."
    ]


@pytest.mark.parametrize("minutes", [NEAR, FAR])
def test_wait_between_two_stages_may_be_longer_than_the_calendar(
    shop: Shop, other: Case, minutes: timedelta
) -> None:
    edge = after("one", "two", minutes.total_seconds() / 60)
    case = make_small(shop, Step("one"), Step("two"), edges=[edge])

    plan = planned()

    begun = set(PlanStage.objects.filter(stage__case=case).values_list("stage__key", flat=True))
    if minutes == NEAR:
        assert (begun, said(plan)) == ({"one", "two"}, [])
    else:
        assert begun == {"one"}
        assert said(plan)[0].startswith(
            f"“{case.number}, Two” may begin on Thursday 13 January 2028 at the earliest"
        )
    assert leave(plan)[other] == NOW.date()


def test_stage_that_began_a_year_ago_is_still_in_somebodys_hands(shop: Shop, other: Case) -> None:
    run = {"state": "running", "started_at": NOW - FAR, "worker": shop.people["oren"]}
    case = make_small(shop, Step("one", facts=run), Step("two"), edges=[after("one", "two")])

    plan = planned()

    assert leave(plan) == {case: NOW.date(), other: NOW.date()}
