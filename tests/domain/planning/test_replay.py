"""A plan played again comes out as it went in; with other times it breaks nothing either."""

from __future__ import annotations

from dataclasses import replace
from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cases.domain.planning.dispatch import dispatch, play
from cases.domain.planning.lab import invent
from cases.domain.planning.problem import (
    Case,
    Person,
    Pin,
    Plan,
    Planned,
    Problem,
    Running,
    Stage,
)
from cases.domain.planning.replay import Times, replay
from cases.domain.planning.rules import Rule, due_date, portfolio
from cases.domain.planning.score import to_plan, worth
from cases.domain.planning.shop import Hours, Shop
from cases.domain.planning.standing import Standing
from cases.domain.planning.timeline import Hands, Places, Store
from cases.domain.planning.verify import verify
from tests.domain.planning.events import changed, done
from tests.domain.planning.small import HOURS, small


def again(problem: Problem, last: tuple[Planned, ...], **how: object) -> Plan:
    shop = Shop(problem)
    return to_plan(shop, replay(Standing(shop, last), **how))


def places(plan: Plan) -> set[tuple[object, ...]]:
    return {
        (one.stage, one.start, one.end, one.person, one.bath, one.signer, one.signed_from)
        for one in plan.planned
    }


@settings(max_examples=12, deadline=None)
@given(cases=st.integers(1, 14), technicians=st.integers(1, 4), number=st.integers(0, 99))
def test_a_plan_that_nothing_happened_to_stays_as_it_is(
    cases: int, technicians: int, number: int
) -> None:
    problem = invent(cases, technicians, number)
    plan = dispatch(problem)
    found = again(problem, plan.planned)
    sooner = again(problem, plan.planned, forward_from=0)

    assert places(found) == places(plan)
    assert verify(problem, found) == []
    assert verify(problem, sooner) == []
    assert sooner.lateness <= plan.lateness


def test_students_loads_and_things_stay_too() -> None:
    problem = changed(small(4), "case 1 wax", pin=Pin("Bo"))
    plan = dispatch(problem)

    assert places(again(problem, plan.planned)) == places(plan)
    assert any(one.signer for one in plan.planned)


@settings(max_examples=15, deadline=None)
@given(number=st.integers(0, 999), forward=st.booleans())
def test_with_other_times_no_rule_is_broken(number: int, forward: bool) -> None:
    chance = Random(number)
    problem = invent(10, 2, number % 20)
    plan = dispatch(problem)
    longer = replace(
        problem,
        stages=tuple(
            replace(one, minutes=max(one.setup + 1, round(one.minutes * chance.uniform(0.6, 1.9))))
            for one in problem.stages
        ),
    )
    found = again(longer, plan.planned, forward_from=0 if forward else 10**9)

    assert verify(longer, found) == []
    assert found.unplanned == ()


def test_times_are_as_if_they_were_the_problems() -> None:
    problem = invent(8, 2, 3)
    plan = dispatch(problem)
    longer = replace(
        problem, stages=tuple(replace(one, minutes=one.minutes * 2) for one in problem.stages)
    )
    shop = Shop(problem)
    times = Times([one.minutes * 2 for one in problem.stages], [0] * len(problem.stages))
    floor = replay(Standing(shop, plan.planned), times=times)

    assert to_plan(shop, floor).lateness == again(longer, plan.planned).lateness > plan.lateness


def test_after_the_asked_cases_nothing_more_is_played() -> None:
    shop = Shop(invent(12, 2, 5))
    last = play(shop, portfolio(shop)[0])
    plan = to_plan(shop, last.floor)
    first = min(plan.leaves, key=lambda one: one.at)
    number = next(at for at, case in enumerate(shop.problem.cases) if case.key == first.case)
    floor = replay(Standing(shop, plan.planned), until=[number])

    assert [floor.end[at] for at in shop.own[number]] == [
        last.floor.end[at] for at in shop.own[number]
    ]
    assert any(floor.placed_not(at) for at in range(len(shop.stages)))


@pytest.mark.parametrize(
    ("stage", "facts"),
    [
        ("case 0 wax", {"running": Running(-10, 90, "Ada")}),
        ("case 0 wax", {"pin": Pin("Bo")}),
        ("case 0 pack", {"pin": Pin("Ada", 300)}),
        ("case 1 wax", {"not_before": 24 * 60}),
        ("case 1 pack", {"minutes": 130}),
        ("case 1 cool", {"minutes": 600}),
    ],
)
def test_what_is_fixed_anew_is_kept(stage: str, facts: dict[str, object]) -> None:
    problem = small(3)
    plan = dispatch(problem)
    fixed = changed(problem, stage, **facts)
    found = again(fixed, plan.planned)

    assert verify(fixed, found) == []
    assert found.unplanned == ()


def test_a_load_waits_for_a_piece_that_is_a_little_late_and_not_for_one_that_is_much() -> None:
    shop = Shop(small())
    plan = to_plan(shop, play(shop, Rule("plain", due_date(shop), patience=30)).floor)
    at = {one.stage: one for one in plan.planned}
    first, second = sorted(("case 0", "case 1"), key=lambda case: at[f"{case} pack"].end)
    load = at[f"{first} cure"]
    by = load.start + 20 - at[f"{second} pack"].start
    little = changed(shop.problem, f"{second} pack", minutes=by)
    much = changed(shop.problem, f"{second} wax", not_before=24 * 60)

    together = {one.stage: one for one in again(little, plan.planned).planned}
    apart = {one.stage: one for one in again(much, plan.planned).planned}

    assert at[f"{second} cure"].together == load.together
    assert together[f"{second} cure"].together == together[f"{first} cure"].together
    assert load.start < together[f"{first} cure"].start == together[f"{second} pack"].end
    assert apart[f"{first} cure"].start == load.start
    assert apart[f"{second} cure"].start >= 24 * 60


def test_who_did_it_does_not_look_at_it() -> None:
    problem = invent(6, 3, 2)
    last = dispatch(problem).planned
    at = {one.stage: one.person for one in last}
    shop = Shop(problem)
    same = next(
        (stage.key, after.stage)
        for stage in problem.stages
        for after in stage.after
        if at[stage.key] == at[after.stage] and len(shop.may_do[shop.number[stage.key]]) > 1
    )
    eyes = changed(problem, same[0], other_than=same[1])
    found = again(eyes, last, keep_until=10**6)

    assert verify(eyes, found) == []
    assert found.unplanned == ()


def test_stages_that_are_done_are_left_out() -> None:
    problem = small()
    plan = dispatch(problem)
    rest = done(problem, "case 0 wax", "case 0 pack")
    found = again(rest, plan.planned)

    assert verify(rest, found) == []
    assert len(found.planned) == 6


def test_rooms_are_found_over_breaks_and_not_in_what_is_taken() -> None:
    hands = Hands(Hours(((0, 240), (270, 480), (1440, 1700))))
    hands.take(30, 60)
    hands.take(100, 300)
    hands.take(60, 80)

    assert hands.room(0, 30, True) == (0, 30)
    assert hands.room(0, 31, True) == (300, 331)
    assert hands.room(0, 200, True) == (300, 1460)
    assert hands.room(0, 200, False) == (1440, 1640)
    assert hands.room(0, 400, False)[0] == 1 << 40
    assert hands.room(85, 15, False) == (85, 100)
    hands.give_back(100, 300)
    assert hands.room(0, 60, True) == (80, 140)
    assert hands.room(90, 200, True) == (90, 320)


def test_places_and_things_are_counted() -> None:
    station, store = Places(2), Store(1)
    station.take(0, 100)
    station.take(50, 80)
    store.give_back(40)

    assert station.full(0, 50) == -1
    assert station.full(0, 60) == 80
    assert station.full(80, 200) == -1
    station.take(50, 80, -1)
    assert station.full(0, 60) == -1
    assert (store.take(39), store.soonest()) == (0, 40)
    assert (store.take(90), store.soonest()) == (40, 1 << 40)


def test_the_time_of_a_pin_is_kept_from_others() -> None:
    ada = Person("Ada", (("wax", 1.0),), HOURS)
    first, pinned = (
        Stage(f"{case}1", case, "attended", 60, "wax", pin=pin)
        for case, pin in (("a", None), ("b", Pin("Ada", 60)))
    )
    problem = Problem((Case("a", 600), Case("b", 600)), (first, pinned), (ada,))
    last = dispatch(problem).planned
    longer = changed(problem, "a1", minutes=120)
    found = again(longer, last)

    assert {one.stage: one.start for one in last} == {"a1": 0, "b1": 60}
    assert verify(longer, found) == []
    assert {one.stage: one.start for one in found.planned} == {"a1": 120, "b1": 60}


def test_more_may_be_held_than_there_are() -> None:
    store = Store(-1)
    store.give_back(50)

    assert (store.count(), store.soonest()) == (0, 1 << 40)
    store.give_back(20)
    assert (store.count(), store.soonest(), store.soonest(2)) == (1, 50, 1 << 40)
    assert store.take(60) == 50
    store.give_back(50)
    assert store.soonest() == 50


@pytest.mark.parametrize("flasks", [1, 2])
def test_what_runs_may_be_more_than_there_is_place_for(flasks: int) -> None:
    problem = small(4)
    at = {one.stage: one for one in dispatch(problem).planned}
    both = [f"case {number} pack" for number in (0, 1)]
    crowded = done(problem, "case 0 wax", "case 1 wax")
    for key in both:
        crowded = changed(crowded, key, running=Running(-10, 40, "Ada"))
    crowded = replace(crowded, things=(replace(crowded.things[0], count=flasks),))
    found = again(crowded, tuple(at.values()))

    assert verify(crowded, found) == []
    assert found.unplanned == ()


def test_the_worth_of_a_plan_played_again_is_the_same() -> None:
    shop = Shop(invent(20, 3, 7))
    tried = play(shop, portfolio(shop)[0])
    plan = to_plan(shop, tried.floor)

    assert worth(shop, replay(Standing(shop, plan.planned))) == tried.worth
