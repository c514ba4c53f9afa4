"""The check finds each way in which a plan can be broken."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest

from cases.domain.planning.dispatch import dispatch
from cases.domain.planning.problem import Bath, Pin, Plan, Planned, Problem, Running
from cases.domain.planning.verify import verify
from tests.domain.planning.small import small

PROBLEM = small()
DAY_LATER = 24 * 60 + 10
PLAN = dispatch(PROBLEM)


def at(stage: str) -> Planned:
    return next(one for one in PLAN.planned if one.stage == stage)


def change(stage: str, **facts: object) -> Plan:
    return replace(
        PLAN,
        planned=tuple(replace(one, **facts) if one.stage == stage else one for one in PLAN.planned),
    )


def shift(stage: str, by: int) -> Plan:
    one = at(stage)
    return change(stage, start=one.start + by, end=one.end + by)


def with_stage(stage: str, **facts: object) -> Problem:
    return replace(
        PROBLEM,
        stages=tuple(replace(one, **facts) if one.key == stage else one for one in PROBLEM.stages),
    )


def pair(first: tuple[int, ...], second: tuple[int, ...], at: int) -> tuple[Problem, Plan]:
    """Return the lab with its two cases as a pair with these vans, and the plan in which it leaves
    at a minute."""
    one, other = PROBLEM.cases
    return (
        replace(
            PROBLEM,
            cases=(replace(one, vans=first), replace(other, vans=second)),
            pairs=((one.key, other.key),),
        ),
        replace(
            PLAN, leaves=tuple(replace(each, at=at, late=at - 600) for each in PLAN.leaves),
            lateness=2.0 * (at - 600), flow=2 * at,
        ),
    )  # fmt: skip


def test_the_plan_that_is_broken_below_is_whole() -> None:
    assert verify(PROBLEM, PLAN) == []
    assert len(PLAN.planned) == 8


BROKEN: dict[str, tuple[Callable[[], tuple[Problem, Plan]], str]] = {
    "a stage missing": (
        lambda: (PROBLEM, replace(PLAN, planned=PLAN.planned[1:])), "a reason why not"),
    "a stage twice": (
        lambda: (PROBLEM, replace(PLAN, planned=(*PLAN.planned, PLAN.planned[0]))), "twice"),
    "a stage nobody knows": (
        lambda: (PROBLEM, replace(PLAN, planned=(*PLAN.planned, Planned("odd", -1, 2)))),
        "not in the problem"),
    "what it comes after is missing": (
        lambda: (PROBLEM, replace(
            PLAN, planned=PLAN.planned[1:], unplanned=((PLAN.planned[0].stage, "why"),))),
        "though"),
    "in the past": (lambda: (PROBLEM, change("case 0 wax", start=-5)), "in the past"),
    "too soon": (lambda: (PROBLEM, shift("case 0 cool", -1)), "too soon after"),
    "too late": (lambda: (PROBLEM, shift("case 0 pack", 240)), "too late after"),
    "no such skill": (lambda: (PROBLEM, change("case 0 pack", person="Bo")), "may not do"),
    "nobody": (lambda: (PROBLEM, change("case 0 pack", person="")), "not known"),
    "too few minutes": (
        lambda: (PROBLEM, change("case 0 pack", end=at("case 0 pack").end - 1)), "minutes of"),
    "at night": (lambda: (PROBLEM, shift("case 0 pack", 600)), "does not work"),
    "paused": (
        lambda: (PROBLEM, change("case 0 pack", start=470, end=DAY_LATER)), "may not be paused"),
    "two things at once": (
        lambda: (PROBLEM, change("case 1 pack", start=at("case 0 pack").start,
                                 end=at("case 0 pack").end)), "two things at once"),
    "station full": (
        lambda: (PROBLEM, change("case 1 pack", start=at("case 0 pack").start,
                                 end=at("case 0 pack").end)), "station press"),
    "thing taken": (
        lambda: (replace(PROBLEM, things=(replace(PROBLEM.things[0], count=1),)), PLAN),
        "thing flask"),
    "bath full": (
        lambda: (replace(PROBLEM, baths=(replace(PROBLEM.baths[0], places=1),)), PLAN),
        "only 1 places"),
    "two loads at once": (
        lambda: (PROBLEM, change("case 0 cure", together="another")), "two loads at once"),
    "load apart": (lambda: (PROBLEM, shift("case 0 cure", 1)), "start and end together"),
    "wrong bath": (lambda: (PROBLEM, change("case 0 cure", bath="pot")), "no bath"),
    "load too short": (
        lambda: (PROBLEM, change("case 0 cure", end=at("case 0 cure").end - 9)), "as long as"),
    "nobody loads": (lambda: (PROBLEM, change("case 0 cure", person="Bo")), "may load"),
    "sets too short": (
        lambda: (PROBLEM, change("case 0 cool", end=at("case 0 cool").end - 1)), "as long as"),
    "running and changed": (
        lambda: (with_stage("case 0 wax", running=Running(-10, 20, "Ada")), PLAN), "was changed"),
    "pinned to another": (
        lambda: (with_stage("case 0 wax", pin=Pin("Nobody")), PLAN), "pinned to"),
    "pinned elsewhere": (lambda: (with_stage("case 0 wax", pin=Pin(start=7)), PLAN), "minute 7"),
    "before it may": (
        lambda: (with_stage("case 0 wax", not_before=5000), PLAN), "before it may"),
    "past its last moment": (
        lambda: (with_stage("case 0 cool", latest=5), PLAN), "last moment"),
    "batch too large": (
        lambda: (replace(PROBLEM, batch_limits=(("wax", 1),)),
                 change("case 0 wax", together=at("case 1 wax").together)), "Too many"),
    "not to be done together": (
        lambda: (with_stage("case 0 wax", batch="other"), PLAN), "cannot be done together"),
    "student unsigned": (
        lambda: (PROBLEM, change("case 0 wax", person="Bo", signer="")), "countersign"),
    "student who has begun unsigned, and it goes on": (
        lambda: (with_stage("case 0 wax", running=Running(-10, 20, "Bo")),
                 change("case 0 wax", start=-10, end=20, person="Bo", signer="")), "countersign"),
    "signed without the right for it": (
        lambda: (with_stage("case 0 wax", sign_skill="sign wax"),
                 change("case 0 wax", person="Bo", signer="Ada")), "nobody who may countersign"),
    "signed before it is done": (
        lambda: (PROBLEM, change("case 0 wax", person="Bo", signer="Ada", signed_from=0,
                                 signed_until=5)), "has no time in which Ada works"),
    "two programs in a load": (
        lambda: (replace(with_stage("case 0 cure", program="short"), programs=(
            *PROBLEM.programs, replace(PROBLEM.programs[0], key="short"))), PLAN),
        "two programs"),
    "follows before the countersign": (
        lambda: (PROBLEM, change("case 0 wax", person="Bo", signer="Ada",
                                 signed_from=at("case 0 pack").start - 1,
                                 signed_until=at("case 0 pack").start + 4)), "is countersigned"),
    "a load without a name": (lambda: (PROBLEM, change("case 0 cure", together="")), "has a name"),
    "two programs in one bath, in loads without names": (
        lambda: (replace(with_stage("case 0 cure", program="short"), programs=(
            *PROBLEM.programs, replace(PROBLEM.programs[0], key="short")), baths=(
            replace(PROBLEM.baths[0], programs=("long", "short")),)), replace(
                PLAN, planned=tuple(
                    replace(one, together="") if one.bath else one for one in PLAN.planned))),
        "has a name"),
    "another piece in a pinned load": (
        lambda: (with_stage("case 0 cure", pin=Pin(start=at("case 0 cure").start, bath="bath")),
                 PLAN), "others are in it"),
    "pinned to a bath at any minute, with another piece": (
        lambda: (with_stage("case 0 cure", pin=Pin(bath="bath")), PLAN), "others are in it"),
    "two loads at once, one with an odd name": (
        lambda: (PROBLEM, change("case 0 cure", together="running")), "two loads at once"),
    "leaves and is not all planned": (
        lambda: (PROBLEM, replace(
            PLAN, planned=tuple(one for one in PLAN.planned if one.stage != "case 0 cool"),
            unplanned=(("case 0 cool", "why"),))), "cannot leave"),
    "leaves after the last van": (
        lambda: (replace(PROBLEM, cases=(replace(PROBLEM.cases[0], vans=(1,)), PROBLEM.cases[1])),
                 PLAN), "cannot leave"),
    "leaves without its other half": (
        lambda: (replace(PROBLEM, pairs=(("case 0", "case 1"),)), replace(
            PLAN, planned=tuple(one for one in PLAN.planned if one.stage != "case 0 cool"),
            unplanned=(("case 0 cool", "why"),), leaves=PLAN.leaves[1:])), "leaves with stays"),
    "not said when it leaves": (
        lambda: (PROBLEM, replace(PLAN, leaves=PLAN.leaves[1:])), "not said when"),
    "not with the first van": (
        lambda: (replace(PROBLEM, cases=(
            replace(PROBLEM.cases[0], vans=(3000, 9000)), PROBLEM.cases[1])),
            replace(PLAN, leaves=(replace(PLAN.leaves[0], at=9000, late=8400), PLAN.leaves[1]))),
        "with the first van."),
    "wrong lateness of a case": (
        lambda: (PROBLEM, replace(PLAN, leaves=(replace(PLAN.leaves[0], late=-1),
                                                PLAN.leaves[1]))), "lateness of"),
    "wrong flow": (lambda: (PROBLEM, replace(PLAN, flow=-5)), "release to leaving"),
    "wrong moves": (lambda: (PROBLEM, replace(PLAN, moves=99)), "another person"),
    "no reason for what is missing": (
        lambda: (PROBLEM, replace(
            PLAN, planned=PLAN.planned[1:], unplanned=((PLAN.planned[0].stage, ""),))),
        "a reason why not"),
    "wrong lateness": (lambda: (PROBLEM, replace(PLAN, lateness=1.0)), "sum up to"),
    "leaves too soon": (
        lambda: (PROBLEM, replace(PLAN, leaves=(replace(PLAN.leaves[0], at=1), PLAN.leaves[1]))),
        "before it is done"),
    "pair apart": (
        lambda: (replace(PROBLEM, pairs=(("case 0", "case 1"),)),
                 replace(PLAN, leaves=(replace(PLAN.leaves[0], at=9999), PLAN.leaves[1]))),
        "leave together"),
    "pair with a later van": (
        lambda: pair((3000, 9000, 9900), (5000, 9000, 9900), 9900), "first van of both"),
    "pair of which one half has vans, with a later one": (
        lambda: pair((), (5000, 9000), 9000), "first van of both"),
    "pair without vans, later than it is done": (
        lambda: pair((), (), 9000), "first van of both"),
}  # fmt: skip


@pytest.mark.parametrize(
    ("first", "second", "at"),
    [((3000, 9000, 9900), (5000, 9000, 9900), 9000), ((), (5000, 9000), 5000)],
    ids=["both have vans", "one has"],
)
def test_a_pair_leaves_with_the_first_van_of_both(
    first: tuple[int, ...], second: tuple[int, ...], at: int
) -> None:
    problem, plan = pair(first, second, at)

    assert verify(problem, plan) == []
    assert verify(problem, dispatch(problem)) == []
    assert {one.at for one in dispatch(problem).leaves} == {at}


def test_a_pair_of_which_a_half_is_not_planned_is_found_though_both_are_said_to_leave() -> None:
    problem, plan = pair((), (), 9000)
    less = replace(plan, planned=plan.planned[:-1])

    assert [words for words in verify(problem, less) if "cannot leave" in words]


def test_a_pinned_load_in_another_bath_is_found() -> None:
    problem = replace(small(), baths=(Bath("bath", 2, ("long",)), Bath("pot", 2, ("long",))))
    plan = dispatch(problem)
    where = {one.bath for one in plan.planned if one.bath}
    pinned = replace(
        problem,
        stages=tuple(
            replace(one, pin=Pin(bath=({"bath", "pot"} - where).pop())) if one.kind == "load"
            else one
            for one in problem.stages
        ),
    )  # fmt: skip

    assert len(where) == 1
    assert [words for words in verify(pinned, plan) if "is pinned to" in words]


@pytest.mark.parametrize("kind", BROKEN)
def test_a_broken_plan_is_found(kind: str) -> None:
    make, words = BROKEN[kind]
    problem, plan = make()

    assert any(words in sentence for sentence in verify(problem, plan)), verify(problem, plan)
