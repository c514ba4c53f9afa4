"""The bound that no plan is below: counted by hand, and held against plans."""

from __future__ import annotations

from dataclasses import replace

import pytest

from cases.domain.planning.alone import least_lateness
from cases.domain.planning.dispatch import try_rules
from cases.domain.planning.lab import invent
from cases.domain.planning.problem import Case, Person, Problem, Running, Stage
from cases.domain.planning.shop import Shop
from tests.domain.planning.small import small


def test_a_case_alone_is_counted() -> None:
    # Ada waxes from 0 to 30 and waits 15; packs until 65; loads the bath at once, which runs 540
    # minutes to 605; it cools until 650. Due at 600, both cases are late by 50 at the least.
    assert least_lateness(Shop(small(2))) == 100.0


def test_weight_and_van_count() -> None:
    problem = small(1)
    case = replace(problem.cases[0], weight=3.0, vans=(640, 700))

    # It is done at 650 and takes the van at 700: 100 late.
    assert least_lateness(Shop(replace(problem, cases=(case,)))) == 300.0


def test_a_night_is_passed_and_what_runs_goes_on() -> None:
    hours = ((0, 100), (1440, 1540))
    problem = Problem(
        (Case("a", 0), Case("b", 0)),
        (
            Stage("a cut", "a", "attended", 30, "wax", not_before=90, pausable=False),
            Stage("b cut", "b", "attended", 30, "wax", running=Running(-10, 20, "Ada")),
        ),
        (Person("Ada", (("wax", 1.0),), hours),),
    )

    assert least_lateness(Shop(problem)) == 1470.0 + 20.0


@pytest.mark.parametrize("number", range(6))
def test_no_rule_is_below_it(number: int) -> None:
    lab = invent(3, 3, number)
    shop = Shop(replace(lab, cases=tuple(replace(case, due=0) for case in lab.cases)))
    least = least_lateness(shop)

    assert least > 0
    assert all(tried.worth[1] >= least for tried in try_rules(shop) if not tried.worth[0])
