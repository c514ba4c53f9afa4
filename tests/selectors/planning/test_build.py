"""The whole lab as a problem: dates, vans, weights, twins, the last plan, fixed queries."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from cases.domain.planning import problem as plan
from cases.domain.promise import latest_ship_day
from cases.models import (
    Absence,
    Case,
    ClosedDay,
    Lab,
    Person,
    PersonSkill,
    Plan,
    PlanStage,
    Skill,
    Station,
)
from cases.selectors.hours import lab_calendar, ship_route
from cases.selectors.planning.build import Built, build
from cases.selectors.planning.people import person_key
from cases.selectors.planning.places import station_key, thing_key
from cases.selectors.planning.work import NO_PROMISE, case_key, stage_key
from cases.services.hold import hold_case
from cases.services.verify_record import verify_record
from tests.factories import NOW, Shop, log, make_case, make_shop, rows
from tests.selectors.planning.small import Step, change, make_small, solve, stage_of
from tests.walk import Clock, walk

pytestmark = pytest.mark.django_db


ONE_PIECE = {"night": "no"}


@pytest.fixture
def shop() -> Shop:
    return make_shop()


def case_of(case: Case, now: datetime = NOW) -> plan.Case:
    """Return a case as the planner reads it."""
    return next(one for one in build(now).problem.cases if one.key == case_key(case.pk))


def one_stage(shop: Shop, ref: str = "Q-1", minutes: float = 30, **changes: Any) -> Case:
    return make_small(shop, Step("one", minutes), ref=ref, **changes)


def test_case_is_due_when_its_van_leaves_on_the_day_promised(shop: Shop) -> None:
    case = one_stage(shop, leaves_at=NOW + timedelta(minutes=318))

    assert case_of(case).due == 318


@pytest.mark.parametrize(("days", "leaves_on"), [(0, 18), (1, 17), (3, 15)])
def test_days_in_transit_are_in_the_day_on_which_it_is_due(
    shop: Shop, days: int, leaves_on: int
) -> None:
    """The appointment is on Monday the 21st, and it must be there on Friday the 18th."""
    change(shop.practice, transit_days=days)
    route, calendar = ship_route(shop.practice), lab_calendar()
    day = latest_ship_day(route, calendar, appointment_on=date(2026, 12, 21))
    assert day is not None
    case = one_stage(shop, leaves_at=calendar.at(day, shop.practice.cut_off))

    assert day.day == leaves_on
    assert case_of(case).due in case_of(case).vans
    assert solve().plan.lateness == 0


def test_case_without_a_day_is_wanted_in_four_weeks(shop: Shop) -> None:
    case = one_stage(shop, leaves_at=None)

    assert case_of(case).due == NO_PROMISE.total_seconds() / 60


def test_vans_leave_on_the_days_of_the_practice_when_the_lab_is_open(shop: Shop) -> None:
    change(shop.practice, ship_weekdays=[1, 3, 4])
    rows(
        lambda record: {
            "day": record.create(ClosedDay, day=date(2026, 12, 10), words="Founder's day")
        }
    )
    case = one_stage(shop)

    # Thursday is closed: Friday at four is two days and 318 minutes on, Tuesday six.
    assert case_of(case).vans[:2] == (2 * 1440 + 318, 6 * 1440 + 318)


def test_case_that_misses_its_van_leaves_with_the_next(shop: Shop) -> None:
    case = one_stage(shop, minutes=319, leaves_at=NOW + timedelta(minutes=318))

    (leaves,) = solve().plan.leaves

    assert (leaves.case, leaves.at, leaves.late) == (case_key(case.pk), 1440 + 318, 1440)


def test_practice_without_a_van_takes_it_when_it_is_done(shop: Shop) -> None:
    one_stage(shop)
    change(shop.practice, ship_weekdays=[])

    (leaves,) = solve().plan.leaves

    assert leaves.at == 30


def test_rush_and_remake_weigh_what_the_lab_says(shop: Shop) -> None:
    change(Lab.objects.get(), rush_weight=5, remake_weight=3)
    plain = one_stage(shop)
    rush = one_stage(shop, "Q-2", rush=True)
    remake = one_stage(shop, "Q-3", remake_of=plain)
    both = one_stage(shop, "Q-4", remake_of=rush, rush=True)

    assert [case_of(one).weight for one in (plain, rush, remake, both)] == [1, 5, 3, 5]


def test_the_heavier_case_is_done_first(shop: Shop) -> None:
    for name in ("oren", "teo"):
        change(shop.people[name], active=False)
    due = NOW + timedelta(minutes=318)
    plain = one_stage(shop, "Q-1", 200, leaves_at=due)
    rush = one_stage(shop, "Q-2", 200, leaves_at=due, rush=True)

    solved = solve()

    assert (solved.span(rush, "one"), solved.span(plain, "one")[0]) == ((0, 200), 200)


def test_twins_leave_together(shop: Shop) -> None:
    quick, slow = one_stage(shop, "Q-1", 30), one_stage(shop, "Q-2", 500)
    rows(
        lambda record: {"a": record.change(quick, twin=slow), "b": record.change(slow, twin=quick)}
    )

    solved = solve()

    assert solved.built.problem.pairs == ((case_key(quick.pk), case_key(slow.pk)),)
    assert [one.at for one in solved.plan.leaves] == [1440 + 318] * 2


def test_pair_as_the_desk_logs_it_is_a_pair_of_the_plan(shop: Shop) -> None:
    from cases.domain.order import Item

    box = tuple(Item("working", "cast", arch=arch) for arch in ("upper", "lower"))
    one, other = log(shop, arch="both", replaces=(16, 46), items=box).result["cases"]

    assert build(NOW).problem.pairs == ((case_key(one), case_key(other)),)


def test_last_plan_is_read_with_loads_and_signatures(shop: Shop) -> None:
    case = make_small(shop, Step("one"), Step("two"))
    mara, oren = shop.people["mara"], shop.people["oren"]
    old = Plan.objects.create(made_at=NOW, how="rules")
    PlanStage.objects.create(plan=old, stage=stage_of(case, "two"), begins_at=NOW, ends_at=NOW)
    newest = Plan.objects.create(made_at=NOW, how="rules")
    PlanStage.objects.create(
        plan=newest, stage=stage_of(case, "one"), person=mara, together="one 1", signer=oren,
        begins_at=NOW + timedelta(minutes=10), ends_at=NOW + timedelta(minutes=40),
        signed_from=NOW + timedelta(minutes=50),
    )  # fmt: skip
    PlanStage.objects.create(
        plan=newest, stage=case.stages.get(key__startswith="old-", position=1),
        begins_at=NOW, ends_at=NOW,
    )  # fmt: skip

    assert build(NOW).problem.last == (
        plan.Planned(
            stage_key(stage_of(case, "one").pk), 10, 40, person_key(mara.pk), together="one 1",
            signer=person_key(oren.pk), signed_from=50,
        ),
    )  # fmt: skip


def test_what_nobody_may_do_is_said_by_its_name(shop: Shop) -> None:
    case = make_small(shop, Step("one", facts={"skill": "wax"}))
    PersonSkill.objects.filter(skill__key="wax").delete()
    other = make_small(shop, Step("one"), ref="Q-2")

    solved = solve()
    said = solved.built.said(dict(solved.plan.unplanned)[stage_key(stage_of(case, "one").pk)])

    assert said == "Nobody may do “Wax”: give someone the skill."
    assert solved.span(other, "one") == (0, 30)


def away(*people: Person, until: date = date(2027, 6, 1)) -> None:
    """Let people be away from today on."""
    days = {"first_on": date(2026, 12, 9), "last_on": until}
    rows(lambda record: {"made": [record.create(Absence, person=one, **days) for one in people]})


def said_of(case: Case) -> str:
    """Return what is said of the first stage of a case that has no place."""
    solved = solve()
    return solved.built.said(dict(solved.plan.unplanned)[stage_key(stage_of(case, "one").pk)])


def test_until_when_nobody_with_the_skill_works_is_said(shop: Shop) -> None:
    case = make_small(shop, Step("one", facts={"skill": "wax"}))
    holders = PersonSkill.objects.filter(skill__key="wax").select_related("person")
    away(*(row.person for row in holders))

    # Calendars are laid out for ninety days.
    assert said_of(case) == (
        "Nobody who may do “Wax” works before Tuesday 9 March: give someone the skill, or extend "
        "the calendar."
    )


def test_until_when_who_is_to_do_it_is_away_is_said(shop: Shop) -> None:
    oren = shop.people["oren"]
    case = make_small(shop, Step("one", facts={"assignee": oren}))
    away(oren)

    assert said_of(case) == (
        f"“{case.number}, One” is given to “{oren.name}”, who does not work from Wednesday "
        "9 December until Tuesday 9 March: give it to somebody else."
    )


def test_from_when_a_stage_may_begin_that_is_too_far_off_is_said(shop: Shop) -> None:
    case = make_small(shop, Step("one"))
    hold_case(
        shop.envelope("noor"), case=case.pk, version=case.version, reason="on-order",
        waits_for="supplier", expected_on="2027-03-30",
    )  # fmt: skip

    assert said_of(case).startswith(
        f"“{case.number}, One” may begin on Tuesday 30 March at the earliest, and who may do it "
        "is planned until Monday 8 March: say an earlier end"
    )


def test_until_when_no_room_was_found_is_said(shop: Shop) -> None:
    """Two stages that only one person may do must follow each other in less than a shift."""
    edges = [{"before": "one", "after": "two", "min_wait": 0, "max_wait": 5}]
    case = make_small(
        shop,
        Step("one", 300, spec=ONE_PIECE),
        Step("two", 300, spec=ONE_PIECE),
        edges=edges,
    )
    for who in ("oren", "teo"):
        change(shop.people[who], active=False)

    assert "No time before Tuesday 9 March was found" in said_of(case)


def test_signature_that_nobody_may_give_is_said_in_words(shop: Shop) -> None:
    case = make_small(shop, Step("one", facts={"skill": "wax", "state": "countersign"}))
    PersonSkill.objects.update(may_countersign=False)
    change(shop.people["pavo"], is_manager=False)

    solved = solve()
    said = solved.built.said(dict(solved.plan.unplanned)[stage_key(stage_of(case, "one").pk)])

    assert "“countersign Wax”" in said


def test_sentences_name_stages_and_never_the_planners_keys(shop: Shop) -> None:
    case = make_small(shop, Step("one"), Step("two"))
    built = build(NOW)
    one, two = (stage_key(stage_of(case, key).pk) for key in ("one", "two"))

    assert built.said(f"“{one}” after “{two}”, “{one}1”") == (
        f"“{case.number}, One” after “{case.number}, Two”, “{one}1”"
    )


def test_skill_station_and_thing_of_one_key_are_each_said_by_their_name(shop: Shop) -> None:
    """The route has a skill “flask”, and the lab has flasks; a station may be called so too."""
    rows(
        lambda record: {
            "skill": record.change(Skill.objects.get(key="flask"), name="Flasking"),
            "station": record.create(Station, key="flask", name="Flasking place", count=1),
        }
    )
    make_small(shop, Step("one", facts={"skill": "flask", "station": "flask"}))
    built = build(NOW)
    stage = built.problem.stages[0]

    assert built.name(stage.skill) == "Flasking"
    assert built.name(stage.station) == "Flasking place"
    assert built.name(thing_key("flask")) == "a flask"
    assert built.said(f"Nobody who may do “{stage.skill}” works.") == (
        "Nobody who may do “Flasking” works."
    )
    assert {one.key for one in built.problem.things} >= {thing_key("flask")}


def queries(now: datetime = NOW) -> tuple[int, Built]:
    with CaptureQueriesContext(
        connection,
    ) as caught:
        built = build(now)
    return len(caught), built


def test_queries_are_as_many_for_three_cases_as_for_one(shop: Shop) -> None:
    clock = Clock(NOW)
    walk(shop, make_case(shop), clock, until="pour")
    few, _built = queries(clock.now)
    for ref in ("Q-2", "Q-3"):
        walk(shop, make_case(shop, now=clock.now, ref=ref), clock, until="trim")
    many, built = queries(clock.now)

    assert len(built.problem.cases) == 3
    assert (few, many) == (30, 30)


def test_the_same_lab_is_the_same_problem(shop: Shop) -> None:
    for ref in ("Q-1", "Q-2"):
        make_case(shop, ref=ref)

    assert build(NOW).problem == build(NOW).problem
    assert verify_record() == []


def test_bare_names_of_the_check_are_said_as_people_say_them(shop: Shop) -> None:
    case = one_stage(shop)
    built = build(NOW)
    stage, oren = stage_key(stage_of(case, "one").pk), person_key(shop.people["oren"].pk)

    assert built.named(f"{stage} is pinned to {oren}.") == (
        f"{case.number}, {stage_of(case, 'one').name} is pinned to {shop.people['oren'].name}."
    )
    assert built.named(f"There are only 1 of the thing cast {case.pk}.") == (
        f"There are only 1 of the thing the cast of {case.number}."
    )
    assert built.named(f"There are only 2 of the station {station_key('wet-bench')}.") == (
        "There are only 2 of the station Wet-bench."
    )
    assert built.named("s0 and wet-bench-2 stay.") == "s0 and wet-bench-2 stay."
