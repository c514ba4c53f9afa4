"""Plans against theory and against every order there is."""

from __future__ import annotations

from dataclasses import replace
from heapq import heappop, heappush
from itertools import permutations, product
from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cases.domain.planning import cpsat
from cases.domain.planning.dispatch import best_of, dispatch, play, try_rules
from cases.domain.planning.improve import improve
from cases.domain.planning.jobshop import from_file, result
from cases.domain.planning.problem import Case, Person, Problem, Stage
from cases.domain.planning.rules import plain
from cases.domain.planning.score import to_plan
from cases.domain.planning.shop import Shop
from cases.domain.planning.verify import verify
from tests.domain.planning.small import HOURS

JOBS = st.lists(st.tuples(st.integers(1, 60), st.integers(1, 300)), min_size=1, max_size=7)


def one_hand(jobs: list[tuple[int, int]]) -> Problem:
    return Problem(
        tuple(Case(str(at), due) for at, (_, due) in enumerate(jobs)),
        tuple(
            Stage(f"{at}.", str(at), "attended", minutes, "wax")
            for at, (minutes, _) in enumerate(jobs)
        ),
        (Person("Ada", (("wax", 1.0),), HOURS),),
    )


@settings(max_examples=40, deadline=None)
@given(JOBS)
def test_due_date_rule_has_the_least_greatest_lateness(jobs: list[tuple[int, int]]) -> None:
    shop = Shop(one_hand(jobs))
    plan = to_plan(shop, play(shop, plain(shop)[0]).floor)

    end, greatest = 0, -(10**9)
    for minutes, due in sorted(jobs, key=lambda job: job[1]):  # Jackson 1955
        end += minutes
        greatest = max(greatest, end - due)
    assert max(one.at - jobs[int(one.case)][1] for one in plan.leaves) == greatest


@settings(max_examples=40, deadline=None)
@given(JOBS)
def test_no_plan_has_fewer_late_than_moore_and_hodgson(jobs: list[tuple[int, int]]) -> None:
    plan = dispatch(one_hand(jobs))

    longest: list[int] = []
    end = 0
    for minutes, due in sorted(jobs, key=lambda job: job[1]):  # Moore 1968
        end += minutes
        heappush(longest, -minutes)
        if end > due:
            end += heappop(longest)
    assert sum(one.late > 0 for one in plan.leaves) >= len(jobs) - len(longest)


def least_tardiness(jobs: list[tuple[int, int]]) -> int:
    found = []
    for order in permutations(jobs):
        end = late = 0
        for minutes, due in order:
            end += minutes
            late += max(0, end - due)
        found.append(late)
    return min(found)


@pytest.mark.parametrize(
    "jobs",
    [
        [(30, 40), (20, 25), (50, 60), (10, 100)],
        [(60, 61), (5, 70), (40, 62), (7, 66), (20, 64)],
        [(10, 10), (10, 10), (10, 10)],
    ],
)
def test_constraints_find_the_best_of_every_order(jobs: list[tuple[int, int]]) -> None:
    plan = improve(one_hand(jobs), rounds=5, work=5.0)

    assert plan.lateness == least_tardiness(jobs)


@pytest.mark.parametrize("seed", range(4))
def test_another_pair_of_hands_never_makes_the_best_plan_worse(seed: int) -> None:
    random = Random(seed)
    jobs = [(random.randint(5, 60), random.randint(10, 120)) for _ in range(5)]
    alone = one_hand(jobs)
    both = replace(alone, persons=(*alone.persons, Person("Bo", (("wax", 1.3),), HOURS)))

    assert (
        improve(both, rounds=20, work=3.0).lateness <= improve(alone, rounds=20, work=3.0).lateness
    )


SHOP = [
    [("a", 3), ("b", 2), ("c", 2)],
    [("a", 2), ("c", 1), ("b", 4)],
    [("b", 4), ("c", 3), ("a", 1)],
]
DUES, WEIGHTS = (7, 8, 9), (4, 2, 1)


def best_of_all_orders() -> int:
    """Try every order of the three jobs on each of the three machines."""
    best = 10**9
    for orders in product(permutations(range(3)), repeat=3):
        lines = dict(zip("abc", (list(order) for order in orders), strict=True))
        step, ready, free, left = [0, 0, 0], [0, 0, 0], dict.fromkeys("abc", 0), 9
        moved = True
        while moved:
            moved = False
            for job in range(3):
                if step[job] < 3:
                    machine, minutes = SHOP[job][step[job]]
                    if lines[machine][0] == job:
                        ready[job] = free[machine] = max(ready[job], free[machine]) + minutes
                        lines[machine].pop(0)
                        step[job] += 1
                        left -= 1
                        moved = True
        if not left:
            late = zip(WEIGHTS, ready, DUES, strict=True)
            best = min(best, sum(weight * max(0, end - due) for weight, end, due in late))
    return best


def test_a_tiny_job_shop_is_planned_as_well_as_the_best_of_all_orders() -> None:
    jobs = [
        {"operations": [list(one) for one in job], "due": due, "weight": weight}
        for job, due, weight in zip(SHOP, DUES, WEIGHTS, strict=True)
    ]
    problem, objective = from_file({"jobs": jobs})
    bounds: list[float] = []
    shop = Shop(problem)
    solved = cpsat.solve(
        shop, best_of(try_rules(shop)), set(range(9)), stop=lambda: False,
        effort=cpsat.Effort(5.0),
    )  # fmt: skip
    bounds.append(solved.bound or 0.0)
    plan = to_plan(shop, solved.best.floor)

    assert verify(problem, plan) == []
    assert result(plan, objective) == best_of_all_orders() == bounds[0]
    assert solved.finished
