"""What cannot be planned is said with a way out, and takes only its own case out."""

from __future__ import annotations

from dataclasses import replace

import pytest

from cases.domain.planning import improve, mend
from cases.domain.planning.compiled import engine
from cases.domain.planning.dispatch import dispatch
from cases.domain.planning.problem import (
    After,
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
from cases.domain.planning.score import to_plan
from cases.domain.planning.shop import Shop
from cases.domain.planning.verify import verify

DAY = 24 * 60
HOURS = tuple((day * DAY, day * DAY + 480) for day in range(5))
ADA = Person("Ada", (("wax", 1.0), ("load", 1.0)), HOURS)
GONE = Person("Bo", (("wax", 1.0), ("glue", 1.0)), ())


def wax(case: str, **facts: object) -> Stage:
    return Stage(f"{case} wax", case, "attended", 30, "wax", **facts)  # type: ignore[arg-type]


def cure(case: str, **facts: object) -> Stage:
    return Stage(f"{case} cure", case, "load", 0, "load", program="long", **facts)  # type: ignore[arg-type]


def problem_of(*stages: Stage, **facts: object) -> Problem:
    names = sorted({stage.case for stage in stages})
    given: dict[str, object] = {
        "persons": (ADA, GONE),
        "programs": (Program("long", 100, 6),),
        "baths": (Bath("bath", 2, ("long",)),),
    }
    return Problem(tuple(Case(name, DAY) for name in names), stages, **(given | facts))  # type: ignore[arg-type]


def plans_of(problem: Problem) -> list[Plan]:
    """Return the plan of the rules, the improved one, and both mended: all must hold."""
    first = dispatch(problem)
    better = improve.improve(problem, rounds=20)
    shop = Shop(replace(problem, last=first.planned))
    again = to_plan(shop, mend.mended(shop, first.planned).floor)
    return [first, better, replace(again, moves=first.moves)]


@pytest.fixture(params=[True, False], ids=["compiled", "plain"], autouse=True)
def _both(request: pytest.FixtureRequest) -> object:
    """Both decoders are asked."""
    if request.param:
        engine.wait()
    else:
        engine.use(compiled=False)
    yield
    engine.use(compiled=True)


SAID: dict[str, tuple[Problem, str, str]] = {
    "given to somebody who is away": (
        problem_of(wax("a", pin=Pin("Bo")), wax("b")), "a wax", "give it to somebody else"),
    "given to somebody without the skill": (
        problem_of(Stage("a glue", "a", "attended", 9, "glue", pin=Pin("Ada")), wax("b"),
                   persons=(ADA, replace(GONE, hours=HOURS))), "a glue", "may not do it"),
    "may begin after the calendar": (
        problem_of(wax("a", not_before=40 * DAY), wax("b")), "a wax", "an earlier end"),
    "a load that may begin after the calendar": (
        problem_of(cure("a", not_before=40 * DAY), wax("b")), "a cure", "an earlier end"),
    "a student whom nobody may sign": (
        problem_of(wax("a", sign=5), Stage("b glue", "b", "attended", 9, "glue"),
                   persons=(replace(ADA, student=True), replace(GONE, hours=((0, 90),),
                            skills=(("glue", 1.0),)))), "a wax", "nobody may countersign"),
    "a student who has begun and whom nobody may sign": (
        problem_of(Stage("a carve", "a", "attended", 9, "wax", sign=5,
                         running=Running(-5, 10, "Ada")),
                   wax("a", after=(After("a carve"),)), Stage("b glue", "b", "attended", 9, "glue"),
                   persons=(replace(ADA, student=True), replace(GONE, hours=((0, 90),),
                            skills=(("glue", 1.0),)))), "a wax", "nobody may countersign"),
}  # fmt: skip


@pytest.mark.parametrize("what", SAID)
def test_it_is_said_and_the_rest_is_planned(what: str) -> None:
    problem, stage, words = SAID[what]

    for plan in plans_of(problem):
        assert verify(problem, plan) == []
        assert words in dict(plan.unplanned)[stage]
        assert [one.case for one in plan.leaves] == ["b"]


def test_load_whose_loaders_never_come_back_has_no_place() -> None:
    """The first case takes the last minutes of the only one who loads."""
    short = replace(ADA, hours=((0, 30),))
    problem = problem_of(cure("a", after=(After("a wax"),)), wax("a"), wax("b"), persons=(short,))

    for plan in plans_of(problem):
        assert verify(problem, plan) == []
        assert "a cure" in dict(plan.unplanned)


def test_half_of_a_pair_that_cannot_be_planned_keeps_the_other_and_nothing_else() -> None:
    lost = Stage("b solder", "b", "attended", 30, "solder")
    problem = problem_of(wax("a"), lost, wax("c"), pairs=(("a", "b"),))

    for plan in plans_of(problem):
        assert verify(problem, plan) == []
        assert {one.stage for one in plan.planned} == {"a wax", "c wax"}
        assert [one.case for one in plan.leaves] == ["c"]


def test_case_that_is_done_after_the_last_van_has_no_day_and_the_rest_has() -> None:
    problem = problem_of(wax("a"), wax("b"))
    problem = replace(problem, cases=(replace(problem.cases[0], vans=(5,)), problem.cases[1]))

    for plan in plans_of(problem):
        assert verify(problem, plan) == []
        assert [one.case for one in plan.leaves] == ["b"]


@pytest.mark.parametrize(
    "baths",
    [(), (Bath("bath", 2, ()),), (Bath("other", 2, ("long",)),)],
    ids=["none left", "runs it no more", "out of use"],
)
def test_load_in_a_bath_that_is_out_of_use_by_now_stays_as_it_is(baths: tuple[Bath, ...]) -> None:
    runs = Running(-10, 90, "Ada", "bath")
    problem = problem_of(cure("a", running=runs), wax("b"), baths=baths)

    for plan in plans_of(problem):
        assert verify(problem, plan) == []
        assert {one.case for one in plan.leaves} == {"a", "b"}
