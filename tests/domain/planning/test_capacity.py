"""More of anything never makes the best known plan worse."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cases.domain.planning.improve import improve
from cases.domain.planning.lab import DAY, invent
from cases.domain.planning.mend import mend
from cases.domain.planning.problem import Plan, Problem
from cases.domain.planning.verify import verify

MORE = ("hands", "hours", "skill", "stations", "things", "bath")


def with_more(problem: Problem, what: str) -> Problem:
    """Return the lab with more of something."""
    first = problem.persons[0]
    if what == "hands":
        return replace(problem, persons=(*problem.persons, replace(first, key="one more")))
    if what == "hours":
        more = tuple((start, end + 60) for start, end in first.hours[1::2])
        longer = replace(first, hours=tuple(sorted((*first.hours[::2], *more))))
        return replace(problem, persons=(longer, *problem.persons[1:]))
    if what == "skill":
        every = {skill: 1.0 for one in problem.persons for skill, _ in one.skills}
        every |= dict(first.skills)
        able = replace(first, skills=tuple(every.items()))
        return replace(problem, persons=(able, *problem.persons[1:]))
    if what == "bath":
        return replace(problem, baths=(*problem.baths, replace(problem.baths[0], key="one more")))
    counted: Any = getattr(problem, what)
    return replace(problem, **{what: tuple(replace(one, count=one.count + 1) for one in counted)})


def cost(plan: Plan) -> tuple[int, float]:
    return len(plan.unplanned), plan.lateness


@settings(max_examples=40, deadline=None)
@given(
    what=st.sampled_from(MORE),
    cases=st.integers(2, 12),
    technicians=st.integers(1, 4),
    number=st.integers(0, 99),
)
def test_the_known_plan_stands_when_there_is_more(
    what: str, cases: int, technicians: int, number: int
) -> None:
    problem = invent(cases, technicians, number)
    known = improve(problem, rounds=15)
    richer = replace(with_more(problem, what), last=known.planned)

    mended = mend(richer, keep_until=0).plan

    assert verify(richer, mended) == []
    assert cost(mended) <= cost(known)


@pytest.mark.parametrize("what", MORE)
def test_what_is_added_can_be_of_use(what: str) -> None:
    """Somewhere each of them makes the plan better, or the property above says nothing."""
    for number in range(60):
        problem = invent(10, 2, number)
        problem = replace(
            problem,
            cases=tuple(replace(case, due=2 * DAY) for case in problem.cases),
            things=tuple(replace(one, count=min(one.count, 2)) for one in problem.things),
            baths=tuple(replace(bath, places=2) for bath in problem.baths),
        )
        known = improve(problem, rounds=5)
        if cost(improve(with_more(problem, what), rounds=5)) < cost(known):
            return
    pytest.fail(f"More {what} never helped.")
