"""Plans keep every rule, are never worse than their start, and are the same for one number."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cases.domain.planning.dispatch import best_of, dispatch, try_rules
from cases.domain.planning.improve import improve, search
from cases.domain.planning.jobshop import bound, from_file, result
from cases.domain.planning.lab import invent
from cases.domain.planning.problem import Case, Person, Pin, Problem, Running, Stage
from cases.domain.planning.shop import Shop
from cases.domain.planning.verify import verify
from tests.domain.planning.small import HOURS, small


@settings(max_examples=12, deadline=None)
@given(
    cases=st.integers(1, 9),
    technicians=st.integers(1, 4),
    number=st.integers(0, 99),
    loose=st.booleans(),
)
def test_plans_of_invented_labs_break_nothing(
    cases: int, technicians: int, number: int, loose: bool
) -> None:
    problem = invent(cases, technicians, number, loose=loose)
    first, better = dispatch(problem), improve(problem, number=number, rounds=15)

    assert verify(problem, first) == []
    assert verify(problem, better) == []
    assert (len(better.unplanned), better.lateness) <= (len(first.unplanned), first.lateness)


def test_search_is_never_worse_and_the_same_number_gives_the_same_plan() -> None:
    shop = Shop(invent(8, 2, 3))
    tried = try_rules(shop)

    assert search(shop, tried, rounds=40).worth <= best_of(tried).worth
    assert improve(shop.problem, number=5, rounds=40) == improve(shop.problem, number=5, rounds=40)


FT06 = (
    ((2, 1), (0, 3), (1, 6), (3, 7), (5, 3), (4, 6)),
    ((1, 8), (2, 5), (4, 10), (5, 10), (0, 10), (3, 4)),
    ((2, 5), (3, 4), (5, 8), (0, 9), (1, 1), (4, 7)),
    ((1, 5), (0, 5), (2, 5), (3, 3), (4, 8), (5, 9)),
    ((2, 9), (1, 3), (4, 5), (5, 4), (0, 3), (3, 1)),
    ((1, 3), (3, 3), (5, 9), (0, 10), (4, 4), (2, 1)),
)
FT06_BEST = 55
"""Fisher & Thompson 1963, 6 x 6, and its shortest makespan: from memory."""


def test_a_classic_job_shop_is_planned_within_its_bounds() -> None:
    shape = {"objective": "makespan", "jobs": [{"operations": list(job)} for job in FT06]}
    problem, objective = from_file(shape)
    plan = improve(problem, rounds=400)

    assert verify(problem, plan) == []
    assert bound(shape, objective) <= FT06_BEST <= result(plan, objective) <= 1.15 * FT06_BEST


def one_hand(minutes: list[int], dues: list[int]) -> Problem:
    numbers = range(len(minutes))
    return Problem(
        tuple(Case(str(at), dues[at]) for at in numbers),
        tuple(Stage(f"{at}.", str(at), "attended", minutes[at], "wax") for at in numbers),
        (Person("Ada", (("wax", 1.0),), HOURS),),
    )


@settings(max_examples=30, deadline=None)
@given(st.lists(st.tuples(st.integers(1, 60), st.integers(1, 300)), min_size=1, max_size=7))
def test_one_hand_is_never_better_than_theory_allows(jobs: list[tuple[int, int]]) -> None:
    problem = one_hand([minutes for minutes, _ in jobs], [due for _, due in jobs])
    plan = dispatch(problem)
    # Jackson 1955: no order has a smaller greatest lateness than earliest due date first.
    end, greatest = 0, -(10**9)
    for minutes, due in sorted(jobs, key=lambda job: job[1]):
        end += minutes
        greatest = max(greatest, end - due)

    assert max(one.at - jobs[int(one.case)][1] for one in plan.leaves) >= greatest
    # Smith 1956: no order has a smaller flow than the shortest first.
    flows = sorted(minutes for minutes, _ in jobs)
    assert plan.flow >= sum(sum(flows[: at + 1]) for at in range(len(flows)))


def changed(problem: Problem, stage: str, **facts: object) -> Problem:
    return replace(
        problem,
        stages=tuple(replace(one, **facts) if one.key == stage else one for one in problem.stages),
    )


@pytest.mark.parametrize(
    ("stage", "facts"),
    [
        ("case 0 wax", {"running": Running(-10, 20, "Ada")}),
        ("case 0 wax", {"pin": Pin("Bo")}),
        ("case 0 wax", {"pin": Pin("Ada", 120)}),
        ("case 0 wax", {"not_before": 24 * 60}),
        ("case 0 cure", {"running": Running(-10, 300, "Ada", "bath"), "after": ()}),
    ],
)
def test_what_is_fixed_stays(stage: str, facts: dict[str, object]) -> None:
    problem = changed(small(), stage, **facts)
    if stage.endswith("cure"):
        gone = {"case 0 wax", "case 0 pack"}
        problem = replace(
            problem,
            stages=tuple(one for one in problem.stages if one.key not in gone),
            held=(replace(problem.held[0], first=""), problem.held[1]),
        )
    plan = dispatch(problem)

    assert verify(problem, plan) == []
    assert plan.unplanned == ()


def test_pairs_and_vans_keep_a_case_back() -> None:
    problem = small()
    vans = (1000, 3000, 9000)
    problem = replace(
        problem,
        cases=tuple(replace(case, vans=vans) for case in problem.cases),
        pairs=(("case 0", "case 1"),),
    )
    plan = dispatch(problem)

    assert verify(problem, plan) == []
    assert len({one.at for one in plan.leaves}) == 1
    assert plan.leaves[0].at in vans


@pytest.mark.parametrize(
    ("facts", "words"),
    [
        ({"skill": "solder"}, "give someone the skill"),
        ({"minutes": 900}, "without a break"),
    ],
)
def test_what_cannot_be_planned_is_said_and_the_rest_is_planned(
    facts: dict[str, object], words: str
) -> None:
    problem = changed(small(), "case 0 pack", **facts)
    plan = dispatch(problem)

    assert verify(problem, plan) == []
    assert words in dict(plan.unplanned)["case 0 pack"]
    assert {one.case for one in plan.leaves} == {"case 1"}


def test_a_circle_takes_only_its_case_out() -> None:
    problem = small()
    wax = problem.stages[0]
    after = (replace(problem.stages[1].after[0], stage="case 0 cool", most=None),)
    plan = dispatch(changed(problem, wax.key, after=after))

    assert "circle" in dict(plan.unplanned)["case 0 wax"]
    assert [one.case for one in plan.leaves] == ["case 1"]
