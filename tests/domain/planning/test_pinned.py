"""Loads that a manager pinned: their bath and minute are kept, for their pieces and no others."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

import pytest

from cases.domain.planning.chance import chances
from cases.domain.planning.dispatch import dispatch
from cases.domain.planning.improve import improve
from cases.domain.planning.lab import invent
from cases.domain.planning.mend import mend
from cases.domain.planning.pinned import with_pinned_loads
from cases.domain.planning.problem import (
    Bath,
    Case,
    Person,
    Pin,
    Plan,
    Problem,
    Program,
    Running,
    Stage,
)
from cases.domain.planning.relax import limits_of_cases, relaxed
from cases.domain.planning.shop import Shop
from cases.domain.planning.verify import verify

DAY = 24 * 60
ADA = Person("Ada", (("pack", 1.0),), tuple((day * DAY, day * DAY + 480) for day in range(20)))


def cure(name: str, pin: Pin | None = None, **facts: object) -> Stage:
    stage = Stage(f"{name}1", name, "load", 0, "pack", program="short", pin=pin)
    return replace(stage, **facts)


def lab(*stages: Stage, baths: Iterable[str] = ("tub",), places: int = 2) -> Problem:
    return Problem(
        tuple(Case(name, DAY) for name in sorted({one.case for one in stages})),
        stages, (ADA,), programs=(Program("short", 100, hands=5),),
        baths=tuple(Bath(name, places, ("short",)) for name in baths),
    )  # fmt: skip


def where(plan: Plan) -> dict[str, tuple[str, int]]:
    return {one.stage: (one.bath, one.start) for one in plan.planned}


LABS: dict[str, tuple[Problem, dict[str, tuple[str, int]]]] = {
    "the bath is kept free for it": (
        lab(cure("a", Pin(start=60, bath="tub")), cure("b")),
        {"a1": ("tub", 60), "b1": ("tub", 160)}),
    "what goes before goes before": (
        lab(cure("a", Pin(start=120, bath="tub")), cure("b")),
        {"a1": ("tub", 120)}),
    "all its pieces are one load": (
        lab(*(cure(name, Pin(start=60, bath="tub")) for name in "ab"), cure("c")),
        {"a1": ("tub", 60), "b1": ("tub", 60), "c1": ("tub", 160)}),
    "in the bath that is meant, though another is free": (
        lab(cure("a", Pin(start=0, bath="pot")), cure("b", Pin(start=10, bath="tub")),
            baths=("pot", "tub")), {"a1": ("pot", 0), "b1": ("tub", 10)}),
    "a bath and no minute": (
        lab(cure("a", Pin(bath="tub")), cure("b", Pin(bath="tub"), not_before=30),
            baths=("pot", "tub")), {}),
    "after what is in the bath": (
        lab(cure("a", running=Running(-50, 50, bath="tub")),
            cure("b", Pin(start=50, bath="tub")), cure("c", not_before=10)),
        {"a1": ("tub", -50), "b1": ("tub", 50), "c1": ("tub", 150)}),
}  # fmt: skip


@pytest.mark.parametrize("what", LABS)
def test_a_pinned_load_is_where_and_when_it_was_pinned(what: str) -> None:
    problem, expected = LABS[what]
    first = dispatch(problem)
    for plan in (
        first,
        improve(problem, rounds=20, work=1.0),
        mend(replace(problem, last=first.planned)).plan,
    ):
        assert verify(problem, plan) == []
        assert plan.unplanned == ()
        found = where(plan)
        assert {key: found[key] for key in expected} == expected
        if not expected:
            assert {bath for bath, _start in found.values()} == {"tub"}
        assert {one.stage for one in plan.planned} == {one.key for one in problem.stages}


@pytest.mark.parametrize(
    "problem",
    [
        lab(cure("a", running=Running(-50, 50, bath="tub")), cure("b", Pin(start=40, bath="tub"))),
        lab(*(cure(name, Pin(start=at, bath="tub")) for name, at in (("a", 0), ("b", 60)))),
        lab(*(cure(name, Pin(start=0, bath="tub")) for name in "ab"), places=1),
        lab(cure("a"), cure("b", Pin(start=500, bath="tub"))),
    ],
    ids=["the bath is in use", "two at once", "more pieces than places", "nobody is there"],
)
def test_what_cannot_be_has_no_place_and_breaks_nothing(problem: Problem) -> None:
    plan = dispatch(problem)

    assert verify(problem, plan) == []
    assert len(plan.unplanned) == 1
    (lost,) = (stage.case for stage in problem.stages if stage.key == plan.unplanned[0][0])
    assert limits_of_cases(problem)[lost] == {"start"}
    given_up = relaxed(problem, {lost: frozenset({"start"})})
    assert dispatch(given_up).unplanned == ()
    assert verify(given_up, dispatch(given_up)) == []


def test_a_bath_that_cannot_run_it_is_said() -> None:
    problem = lab(cure("a", Pin(start=0, bath="pot")), cure("b"))
    plan = dispatch(problem)

    assert plan.unplanned[0] == (
        "a1",
        "“a1” is pinned to the bath “pot”, which cannot run its program “short” or is out of use: "
        "lift the pin, or choose another bath.",
    )
    assert [one.stage for one in plan.planned] == ["b1"]


def test_a_problem_without_pinned_loads_is_played_as_it_is() -> None:
    problem = invent(8, 2, 1)

    assert with_pinned_loads(problem).problem is problem
    assert Shop(problem).problem is problem


@pytest.mark.parametrize("number", range(3))
def test_a_load_of_an_invented_lab_stays_when_it_is_pinned(number: int) -> None:
    problem = invent(6, 2, number)
    plan = dispatch(problem)
    loads: dict[str, list[str]] = {}
    for one in plan.planned:
        if one.bath and one.start > 0:
            loads.setdefault(one.together, []).append(one.stage)
    members = set(max(loads.values(), key=len))
    (bath, start), *more = {at for key, at in where(plan).items() if key in members}
    pinned = replace(
        problem,
        last=plan.planned,
        stages=tuple(
            replace(one, pin=Pin(start=start, bath=bath)) if one.key in members else one
            for one in problem.stages
        ),
    )

    assert (len(members) > 1, more) == (True, [])
    for found in (mend(pinned).plan, improve(pinned, rounds=30)):
        assert verify(pinned, found) == []
        assert found.unplanned == ()
        assert {where(found)[key] for key in members} == {(bath, start)}
    late = chances(pinned, mend(pinned).plan, replays=5)
    assert set(late) == {case.key for case in problem.cases}
