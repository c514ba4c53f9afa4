"""Each remedy is applied, and gives exactly what was said of it."""

from __future__ import annotations

from dataclasses import replace

import pytest

from cases.domain.planning.dispatch import dispatch
from cases.domain.planning.lab import invent
from cases.domain.planning.problem import (
    After,
    Bath,
    Case,
    Person,
    Pin,
    Problem,
    Program,
    Stage,
)
from cases.domain.planning.remedy import Effect, Remedy, remedies, replan, say_remedy, tried
from cases.domain.planning.verify import verify
from cases.domain.planning.whatif import (
    Helper,
    Lighter,
    Overtime,
    Skilled,
    Unpinned,
    Whatif,
    say,
)
from tests.domain.planning.small import DAY

DAYS = tuple((day * DAY, day * DAY + 480) for day in range(10))
EVENINGS = tuple((day * DAY + 480, day * DAY + 600) for day in range(10))
ADA = Person("Ada", (("wax", 1.0),), DAYS, EVENINGS)
BO = Person("Bo", (("pack", 1.0),), DAYS)


def wax(key: str, minutes: int, **facts: object) -> Stage:
    return replace(Stage(key, key[0], "attended", minutes, "wax"), **facts)


def lab(*stages: Stage, dues: dict[str, Case], persons: tuple[Person, ...] = (ADA, BO)) -> Problem:
    return Problem(tuple(dues.values()), stages, persons)


def result(problem: Problem, change: Whatif) -> dict[str, int]:
    return {one.case: one.late for one in replan(change.apply(problem)).leaves}


TWO = {"a": Case("a", 300, 4.0), "b": Case("b", 600)}
LABS: dict[str, tuple[Problem, str, Whatif, int]] = {
    # Ada waxes 300 minutes for a and then 240 for b, of which 180 on the first day.
    "overtime": (lab(wax("a1", 300), wax("b1", 240), dues=TWO), "b", Overtime("Ada", 480, 600), 0),
    "another with the skill": (
        lab(wax("a1", 300), wax("b1", 240), dues=TWO), "b", Skilled("Bo", "wax"), 0),
    "a helper": (
        lab(wax("a1", 300), wax("b1", 240), dues=TWO), "b", Helper("wax", ((0, 480),)), 0),
    "no rush for another": (
        lab(wax("a1", 300), wax("b1", 240, pausable=False),
            dues={"a": Case("a", 480, 4.0), "b": Case("b", 400)}, persons=(ADA,)),
        "b", Lighter("a"), 0),
    "a pin is lifted": (
        lab(wax("a1", 300, pin=Pin("Ada", 0)), wax("b1", 240),
            dues={"a": Case("a", DAY + 300), "b": Case("b", 300)}), "b", Unpinned("a1"), 0),
    "a second load tonight": (
        Problem(
            (Case("a", DAY),),
            (wax("a1", 475), Stage("a2", "a", "unattended", 45, after=(After("a1"),)),
             Stage("a3", "a", "load", 0, "pack", after=(After("a2"),), program="short")),
            (ADA, BO), programs=(Program("short", 300, hands=6),),
            baths=(Bath("bath", 2, ("short",)),),
        ), "a", Overtime("Bo", 480, 527, loads=True), 0),
}  # fmt: skip


@pytest.mark.parametrize("what", LABS)
def test_a_remedy_is_found_and_gives_what_is_said(what: str) -> None:
    problem, case, change, late = LABS[what]
    before = {one.case: one.late for one in replan(problem).leaves}
    found = {remedy.change: remedy for remedy in remedies(problem)}

    assert before[case] > 0
    assert change in found, found
    after = result(problem, change)
    assert after[case] == late
    assert found[change].saved(case) == before[case] - late
    assert {(one.case, one.was, one.now) for one in found[change].effects} == {
        (key, before[key], after[key]) for key in before if after[key] != before[key]
    }


@pytest.mark.parametrize("number", [1, 2])
def test_every_remedy_of_an_invented_lab_gives_what_is_said(number: int) -> None:
    problem = invent(10, 2, number)
    problem = replace(
        problem,
        cases=tuple(replace(case, due=case.due // 2) for case in problem.cases),
        persons=tuple(replace(one, overtime=EVENINGS) for one in problem.persons),
    )
    problem = replace(problem, last=dispatch(problem).planned)
    before = {one.case: one.late for one in replan(problem).leaves}
    found = remedies(problem, at_most=4)

    assert found
    for remedy in found:
        changed = remedy.change.apply(problem)
        plan = replan(changed)
        assert verify(changed, plan) == []
        assert remedy.lateness == plan.lateness
        assert remedy.effects == tuple(
            sorted(
                (
                    Effect(one.case, before[one.case], one.late)
                    for one in plan.leaves
                    if one.late != before[one.case]
                ),
                key=lambda one: (one.now - one.was, one.case),
            )
        )
        assert any(one.now < one.was for one in remedy.effects)


def test_a_lab_without_overtime_is_not_offered_any() -> None:
    problem = lab(wax("a1", 300), wax("b1", 240), dues=TWO, persons=(replace(ADA, overtime=()), BO))

    changes = [remedy.change for remedy in remedies(problem)]
    assert not any(isinstance(change, Overtime) for change in changes)


def test_overtime_is_offered_by_name_of_those_who_do_not_stay_anyway() -> None:
    ada, bo = replace(ADA, overtime=EVENINGS), replace(BO, skills=ADA.skills, overtime=EVENINGS)
    stages = [wax(key, 300, pin=Pin(who)) for key, who in (("a1", "Ada"), ("b1", "Bo"))]
    stages += [wax(key, 240, pin=Pin(who)) for key, who in (("c1", "Ada"), ("d1", "Bo"))]
    dues = {key: Case(key, 600) for key in "abcd"}

    def offered(*persons: Person) -> set[str]:
        found = remedies(lab(*stages, dues=dues, persons=persons), at_most=20)
        return {one.change.person for one in found if isinstance(one.change, Overtime)}

    assert offered(ada, bo) == {"Ada", "Bo"}
    assert offered(replace(ada, stays=True), bo) == {"Bo"}
    assert offered(replace(ada, overtime=()), bo) == {"Bo"}


def test_only_asked_cases_are_saved_and_the_budget_ends_it() -> None:
    problem = LABS["overtime"][0]

    assert remedies(problem, ["a"]) == ()
    assert remedies(problem, stop=lambda: True) == ()
    assert remedies(problem, at_most=1) == ()
    assert [one.change for one in remedies(problem, at_most=2)] == [Overtime("Ada", 480, 600)]


def test_remedies_are_told_against_the_plan_that_people_know() -> None:
    problem, case, change, late = LABS["overtime"]
    known = replan(problem)
    known = replace(
        known,
        leaves=tuple(replace(one, at=one.at + 90, late=one.late + 90) for one in known.leaves),
    )
    was = {one.case: one.late for one in known.leaves}

    found = {remedy.change: remedy for remedy in remedies(problem, base=known)}

    assert found[change].saved(case) == was[case] - late


def test_what_a_change_costs_others_is_said() -> None:
    problem = LABS["no rush for another"][0]
    remedy = tried(problem, replan(problem), Lighter("a"))

    assert remedy.harmed == tuple(one for one in remedy.effects if one.now > one.was)
    assert [one.case for one in remedy.harmed] == ["a"]
    assert say_remedy(remedy, "b") == (
        "With no rush for a, b is in time, and 1 other case is later."
    )
    less = Remedy(Skilled("Bo", "wax"), (Effect("b", 120, 60),), 60, 120)
    assert say_remedy(less, "b") == (
        "With Bo does wax too, b is 1 hour late instead of 2 hours, and no other case is later."
    )


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (Overtime("Ada", DAY + 480, DAY + 600), "2 hours of overtime for Ada on day 2"),
        (
            Overtime("Bo", 480, 527, loads=True),
            "Bo stays 47 minutes longer on day 1 to load a bath",
        ),
        (Helper("wax", ((DAY, DAY + 60),)), "one more person for wax on day 2"),
        (Unpinned("a1"), "“a1” is not pinned"),
    ],
)
def test_changes_are_said_in_words(change: Whatif, words: str) -> None:
    assert say(change) == words
