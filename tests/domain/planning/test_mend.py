"""After an event the plan is whole again, and nobody is moved within the day without need."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cases.domain.planning.dispatch import dispatch, play
from cases.domain.planning.lab import invent
from cases.domain.planning.mend import DAY, Change, changes, mend, say_change, wishes
from cases.domain.planning.problem import Planned, Problem
from cases.domain.planning.rules import portfolio
from cases.domain.planning.score import to_plan
from cases.domain.planning.shop import Shop
from cases.domain.planning.standing import Standing
from cases.domain.planning.verify import verify
from cases.domain.planning.why import Wait
from tests.domain.planning.events import arrived, away, changed, done, overrun
from tests.domain.planning.small import small


def published(problem: Problem) -> Problem:
    shop = Shop(problem)
    return replace(problem, last=to_plan(shop, play(shop, portfolio(shop)[0]).floor).planned)


def first_of(problem: Problem) -> Planned:
    return min(
        (one for one in problem.last if not one.bath and not one.together),
        key=lambda one: (one.start, one.stage),
    )


def answered(problem: Problem) -> Problem:
    last = max(problem.last, key=lambda one: (one.start, one.stage))
    return changed(problem, last.stage, not_before=last.start + 600)


def cured_in_vain(problem: Problem) -> Problem:
    """The first cure is done again: the flask was opened, so pack and cure are still to do."""
    cure = min((one for one in problem.last if one.bath), key=lambda one: (one.start, one.stage))
    return changed(problem, cure.stage, not_before=cure.start + DAY)


EVENTS = {
    "a stage takes an hour more": lambda problem: overrun(problem, first_of(problem), 60),
    "a stage is done at once": lambda problem: done(problem, first_of(problem).stage),
    "somebody is away for the day": lambda problem: away(problem, "technician 1", 0, DAY),
    "somebody goes home": lambda problem: away(problem, "technician 1", 120, DAY),
    "a new case": lambda problem: arrived(problem, "new", "case 1", problem.cases[0].due),
    "an answer is late": answered,
    "a cure goes a day later": cured_in_vain,
}


@settings(max_examples=20, deadline=None)
@given(
    event=st.sampled_from(sorted(EVENTS)),
    cases=st.integers(2, 14),
    technicians=st.integers(2, 4),
    number=st.integers(0, 60),
)
def test_a_mended_plan_is_whole_and_moves_nobody_today_without_need(
    event: str, cases: int, technicians: int, number: int
) -> None:
    before = published(invent(cases, technicians, number))
    problem = EVENTS[event](before)
    mended = mend(problem)
    was = {one.stage: one for one in before.last}
    attended = {one.key for one in problem.stages if one.kind == "attended"}
    told = {change.stage: change for change in mended.changes}

    assert verify(problem, mended.plan) == []
    assert mended.plan.unplanned == ()
    for one in mended.plan.planned:
        old = was.get(one.stage)
        if old is None or one.stage not in attended or old.start >= DAY:
            continue
        if one.person != old.person:
            assert told[one.stage].away
            assert event.startswith("somebody")


@pytest.mark.parametrize("event", sorted(EVENTS))
def test_a_mend_is_the_same_twice(event: str) -> None:
    problem = EVENTS[event](published(invent(10, 3, 4)))

    assert mend(problem) == mend(problem)


def test_nothing_happened_and_nothing_changes() -> None:
    problem = published(invent(15, 3, 8))
    mended = mend(problem)

    assert mended.changes == ()
    assert {(one.stage, one.start, one.person) for one in mended.plan.planned} == {
        (one.stage, one.start, one.person) for one in problem.last
    }


def test_what_changed_is_told_with_its_reason() -> None:
    problem = small()
    problem = replace(problem, last=dispatch(problem).planned)
    at = {one.stage: one for one in problem.last}
    later = changed(problem, "case 0 cool", not_before=at["case 0 cool"].start + 45)
    gone = changed(problem, "case 0 pack", skill="solder")

    assert mend(later).changes == (
        Change(
            "case 0 cool", "later", at["case 0 cool"],
            replace(at["case 0 cool"], start=at["case 0 cool"].start + 45,
                    end=at["case 0 cool"].end + 45),
            wait=Wait("hold", at["case 0 cool"].start, at["case 0 cool"].start + 45),
        ),
    )  # fmt: skip
    assert {one.stage: one.kind for one in mend(gone).changes if one.stage[5] == "0"} == {
        "case 0 wax": "unplanned", "case 0 pack": "unplanned",
        "case 0 cure": "unplanned", "case 0 cool": "unplanned",
    }  # fmt: skip


def test_who_is_away_is_named() -> None:
    problem = published(invent(10, 3, 4))
    moved = next(
        one
        for one in mend(away(problem, "technician 1", 0, DAY)).changes
        if one.kind == "person" and one.was is not None and one.was.person == "technician 1"
    )

    words = say_change(moved)
    assert f"{moved.stage} goes from technician 1, who is not at work then, to techn" in words


def test_a_stage_that_runs_is_not_told_as_a_change() -> None:
    problem = published(invent(10, 3, 4))
    one = first_of(problem)
    mended = mend(overrun(problem, one, 45))

    assert one.stage not in {change.stage for change in mended.changes}
    assert changes(problem, replace(mended.plan, planned=())) != ()


def test_only_what_is_new_is_wished_for_in_three_ways() -> None:
    problem = published(invent(6, 2, 4))
    new = arrived(problem, "new", "case 1", 40 * DAY)
    soon, middle, late = wishes(Standing(Shop(new), new.last))

    assert wishes(Standing(Shop(problem), problem.last)) == [{}]
    assert all(new.stages[at].case == "new" for at in soon)
    assert all(soon[at] <= middle[at] <= late[at] for at in soon)
    assert soon != late
