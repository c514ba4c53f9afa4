"""What the constraints make of a plan keeps every rule, and is taken only when it is better."""

from __future__ import annotations

from dataclasses import replace

import pytest

from cases.domain.planning import cpsat, windows
from cases.domain.planning.dispatch import best_of, dispatch, try_rules
from cases.domain.planning.improve import improve
from cases.domain.planning.lab import invent
from cases.domain.planning.problem import Pin, Problem, Running, Station, Thing
from cases.domain.planning.score import to_plan
from cases.domain.planning.shop import Shop
from cases.domain.planning.verify import verify
from tests.domain.planning.small import small

VANS = (1000, 3000, 9000)


def with_stage(stage: str, **facts: object) -> Problem:
    problem = small()
    return replace(
        problem,
        stages=tuple(replace(one, **facts) if one.key == stage else one for one in problem.stages),
    )


def with_vans() -> Problem:
    problem = small()
    cases = tuple(replace(case, vans=VANS) for case in problem.cases)
    return replace(problem, cases=cases, pairs=(("case 0", "case 1"),))


def only_the_student_waxes() -> Problem:
    problem = small()
    ada, bo = problem.persons
    return replace(problem, persons=(replace(ada, skills=(("pack", 1.0),)), bo), batch_limits=())


LABS = {
    "one of everything": small,
    "one flask": lambda: replace(small(), things=(Thing("flask", 1),)),
    "one bench": lambda: replace(small(), stations=(Station("bench"), Station("press"))),
    "two students' signs": only_the_student_waxes,
    "a pinned person": lambda: with_stage("case 0 wax", pin=Pin("Bo")),
    "a pinned minute": lambda: with_stage("case 0 wax", pin=Pin("Ada", 120)),
    "a running stage": lambda: with_stage("case 0 wax", running=Running(-10, 20, "Ada")),
    "somebody else looks": lambda: with_stage("case 0 pack", other_than="case 0 wax"),
    "vans and a pair": with_vans,
    "an invented lab": lambda: invent(3, 2, 4),
}


@pytest.mark.parametrize("lab", LABS)
def test_what_the_constraints_find_keeps_every_rule(lab: str) -> None:
    problem = LABS[lab]()
    shop = Shop(problem)
    start = best_of(try_rules(shop))
    freed = {at for at, stage in enumerate(problem.stages) if stage.running is None}
    solved = cpsat.solve(shop, start, freed, stop=lambda: False, effort=cpsat.Effort(2.0))

    assert verify(problem, to_plan(shop, solved.best.floor)) == []
    assert solved.best.worth <= start.worth
    assert solved.refused == 0


def test_a_small_lab_is_planned_better_than_by_rules() -> None:
    problem = invent(3, 2, 1)
    shop = Shop(problem)
    start = best_of(try_rules(shop))
    solved = cpsat.solve(
        shop, start, windows.whole(shop), stop=lambda: False, effort=cpsat.Effort(1.0)
    )

    assert solved.best.worth < start.worth


def test_a_lab_with_a_pinned_load_is_planned_better_too() -> None:
    problem = invent(3, 2, 1)
    cure = next(one for one in dispatch(problem).planned if one.bath and one.start > 0)
    pin = Pin(start=cure.start, bath=cure.bath)
    shop = Shop(
        replace(
            problem,
            stages=tuple(
                replace(one, pin=pin) if one.kind == "load" else one for one in problem.stages
            ),
        )
    )
    start = best_of(try_rules(shop))
    solved = cpsat.solve(
        shop, start, windows.whole(shop), stop=lambda: False, effort=cpsat.Effort(1.0)
    )

    assert solved.refused == 0
    assert solved.best.worth < start.worth
    assert verify(shop.asked, to_plan(shop, solved.best.floor)) == []


def test_the_same_work_gives_the_same_plan() -> None:
    problem = invent(4, 2, 2)

    assert improve(problem, rounds=5, work=0.3) == improve(problem, rounds=5, work=0.3)


def test_without_the_solver_the_planner_goes_on(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(cpsat, "_solver", lambda: None)
    problem = small()
    plan = improve(problem, rounds=10, work=5.0)

    assert not cpsat.available()
    assert verify(problem, plan) == []
    with pytest.raises(RuntimeError, match="cannot be imported"):
        cpsat.solve(
            Shop(problem), best_of(try_rules(Shop(problem))), {0}, stop=lambda: False,
            effort=cpsat.Effort(1.0),
        )  # fmt: skip


def test_a_stopped_search_keeps_what_it_has_and_told_each_step() -> None:
    shop = Shop(invent(8, 2, 3))
    told: list[object] = []
    problem = shop.problem
    plan = improve(problem, rounds=60, progress=told.append)

    assert told == sorted(told, reverse=True)
    assert improve(problem, stop=lambda: True).lateness >= plan.lateness
