"""A second pair of eyes: who did a stage does not look at it, where somebody else can."""

from __future__ import annotations

from dataclasses import replace

import pytest

from cases.domain.planning.dispatch import dispatch
from cases.domain.planning.mend import mend
from cases.domain.planning.problem import (
    After,
    Case,
    Person,
    Pin,
    Plan,
    Problem,
    Running,
    Stage,
)
from cases.domain.planning.verify import verify
from tests.domain.planning.small import DAY, HOURS

SKILL = (("wax", 1.0),)
ADA = Person("Ada", SKILL, HOURS)
LATE = tuple((start + DAY, end + DAY) for start, end in HOURS)
"""The hours of somebody who comes on the second day."""


def lab(*persons: Person, **facts: object) -> Problem:
    """Return one case that is waxed for 30 minutes and looked at for 10."""
    look = Stage("look", "case", "attended", 10, "wax", after=(After("wax"),), other_than="wax")
    return Problem(
        (Case("case", 600),),
        (Stage("wax", "case", "attended", 30, "wax"), replace(look, **facts)),
        persons,
    )


def who(plan: Plan) -> dict[str, tuple[str, int]]:
    return {one.stage: (one.person, one.start) for one in plan.planned}


def test_somebody_else_looks_even_when_he_comes_on_another_day() -> None:
    plan = dispatch(lab(ADA, Person("Bo", SKILL, LATE)))

    assert who(plan) == {"wax": ("Ada", 0), "look": ("Bo", DAY)}


@pytest.mark.parametrize(
    "other",
    [
        Person("Bo", SKILL, HOURS, student=True),
        Person("Bo", (("pack", 1.0),), HOURS),
        Person("Bo", SKILL, ()),
    ],
    ids=["a student", "without the skill", "never there"],
)
def test_who_is_alone_looks_at_his_own_work(other: Person) -> None:
    problem = lab(ADA, other)
    problem = replace(
        problem, stages=(replace(problem.stages[0], pin=Pin("Ada")), problem.stages[1])
    )
    plan = dispatch(problem)

    assert plan.unplanned == ()
    assert verify(problem, plan) == []
    if not (other.student and who(plan)["look"][0] == "Bo"):
        assert who(plan)["look"] == ("Ada", 30)


def test_who_has_no_time_in_one_piece_is_no_other_pair_of_eyes() -> None:
    short = Person("Bo", SKILL, tuple((start, start + 9) for start, _ in HOURS))
    problem = lab(ADA, short, pausable=False)
    problem = replace(
        problem, stages=(replace(problem.stages[0], pin=Pin("Ada")), problem.stages[1])
    )

    assert who(dispatch(problem))["look"] == ("Ada", 30)


def test_what_was_done_already_is_looked_at_by_somebody_else() -> None:
    problem = lab(ADA, Person("Bo", SKILL, LATE), not_by="Ada", other_than="", after=())
    problem = replace(problem, stages=problem.stages[1:])

    assert who(dispatch(problem)) == {"look": ("Bo", DAY)}


def test_what_runs_is_looked_at_by_somebody_else() -> None:
    problem = lab(ADA, Person("Bo", SKILL, LATE))
    running = replace(problem.stages[0], running=Running(-10, 20, "Ada"))

    plan = dispatch(replace(problem, stages=(running, problem.stages[1])))

    assert who(plan)["look"] == ("Bo", DAY)


def test_who_is_pinned_to_look_leaves_the_work_to_somebody_else() -> None:
    plan = dispatch(lab(ADA, Person("Bo", SKILL, LATE), pin=Pin("Ada")))

    assert who(plan) == {"wax": ("Bo", DAY), "look": ("Ada", DAY + 30)}


@pytest.mark.parametrize("over", [True, False])
def test_pins_that_look_at_their_own_work_are_said(over: bool) -> None:
    problem = lab(ADA, Person("Bo", SKILL, LATE), pin=Pin("Ada"))
    wax, look = problem.stages
    if over:
        problem = replace(problem, stages=(replace(look, not_by="Ada", other_than="", after=()),))
    else:
        problem = replace(problem, stages=(replace(wax, pin=Pin("Ada")), look))
    plan = dispatch(problem)

    assert "second pair of eyes" in dict(plan.unplanned)["look"]
    assert verify(problem, plan) == []


def test_what_is_done_together_is_looked_at_together_by_others() -> None:
    one = lab(ADA, Person("Bo", SKILL, HOURS), batch="look", setup=5)
    other = tuple(
        replace(
            stage,
            key=f"{stage.key} 2",
            case="case 2",
            after=tuple(replace(after, stage=f"{after.stage} 2") for after in stage.after),
            other_than=stage.other_than and f"{stage.other_than} 2",
        )
        for stage in one.stages
    )
    problem = replace(
        one,
        cases=(*one.cases, Case("case 2", 600)),
        stages=(*one.stages, *other),
        batch_limits=(("look", 2),),
    )
    plan = dispatch(problem)

    assert plan.unplanned == ()
    assert verify(problem, plan) == []


def test_check_finds_who_looks_at_his_own_work() -> None:
    problem = lab(ADA, Person("Bo", SKILL, LATE))
    good = dispatch(problem)
    bad = replace(
        good,
        planned=(
            good.planned[0], replace(good.planned[1], person="Ada", start=30, end=40),
        ),
        leaves=(replace(good.leaves[0], at=40),),
    )  # fmt: skip

    assert verify(problem, good) == []
    assert any("looks at what Ada did" in words for words in verify(problem, bad))


def test_a_mended_plan_keeps_the_second_pair_of_eyes() -> None:
    problem = lab(ADA, Person("Bo", SKILL, LATE))
    last = dispatch(lab(ADA))
    problem = replace(problem, last=last.planned)
    mended = mend(problem).plan

    assert who(mended)["look"][0] != who(mended)["wax"][0]
    assert verify(problem, mended) == []
