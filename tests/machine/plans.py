"""The lab of a run is planned as it stands: no plan may be refused, and nothing be left out."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime

from cases.models import CaseStage, Plan, PlanCase, Planner, PlanStage
from cases.selectors.planning.work import ENDED, SENT
from cases.services import planner
from tests.machine.driver import Broken

FEW_RULES = 3


def can_be_planned(now: datetime) -> None:
    """Plan the lab as it stands.

    Raises
    ------
    Broken
        When the plan is refused, or leaves something out.
    """
    wrong = broken_plan(now)
    if wrong:
        raise Broken("; ".join(wrong[:5]))


def broken_plan(now: datetime) -> list[str]:
    """Plan twice, the second time with the first plan in force; return what is wrong in words."""
    return [*_planned(now), *_planned(now)]


def _planned(now: datetime) -> Iterator[str]:
    left = [FEW_RULES]

    def few() -> bool:
        left[0] -= 1
        return left[0] <= 0

    stored = planner.publish(planner.think(now, rules=few), now, seconds=0)
    if stored is None:
        yield f"the plan was refused: {Planner.objects.get().fault}"
        return
    placed = set(PlanStage.objects.filter(plan=stored).values_list("stage_id", flat=True))
    without = {one["stage"]: one["words"] for one in stored.unplanned}
    for stage, words in without.items():
        if not words:
            yield f"stage {stage} has no place, and no words"
    yield from _whole(stored, placed, without)


def _whole(stored: Plan, placed: set[int], without: dict[int, str]) -> Iterator[str]:
    """What is open is in the plan or said to have no place; a case leaves or is said not to."""
    left = CaseStage.objects.filter(case__state="open").exclude(key=SENT)
    left = left.exclude(state__in=[*ENDED, "dropped"])
    leaving = set(PlanCase.objects.filter(plan=stored).values_list("case_id", flat=True))
    for stage in left:
        if (stage.pk in placed) == (stage.pk in without):
            yield f"{stage} is {stage.state} and in no plan, or twice"
    for case in {stage.case_id for stage in left} - leaving:
        own = {stage.pk for stage in left if stage.case_id == case}
        if not own & without.keys():
            yield f"case {case} does not leave, and nobody says why"
