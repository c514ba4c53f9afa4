"""Which finished stages a design puts in question: what they were made by, and what it changes."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from cases.domain.design import Design as Plan
from cases.domain.design_change import Change, changes, questioned
from cases.models import Case, CaseStage, Design
from cases.selectors.design_drafts import decided_against


@dataclass(frozen=True)
class Doubt:
    """A finished stage in question, with the changes that it looks at."""

    stage: CaseStage
    because: tuple[Change, ...]


def doubts(case: Case, plan: Plan) -> list[Doubt]:
    """Return the finished stages that a design puts in question, in the order of the route.

    A stage is in question where it looks at something that differs from the design that stands,
    unless it was made by a version that decided the same: going back to that makes it true again.
    """
    before = decided_against(case)
    if before is None:
        return []
    done = {stage.key: stage for stage in case.stages.filter(state="done").order_by("position")}
    asked = questioned(changes(before, plan), tuple(done))
    if not asked:
        return []
    rows = list(case.designs.order_by("version"))
    return [
        Doubt(done[key], because)
        for key, because in asked.items()
        if _differs(_made_by(rows, done[key].ended_at), plan, key)
    ]


def _differs(made_by: Design | None, plan: Plan, key: str) -> bool:
    if made_by is None:
        return True
    return bool(questioned(changes(Plan.from_json(made_by.data), plan), (key,)))


def _made_by(rows: Iterable[Design], ended_at: datetime | None) -> Design | None:
    """Return the version that the work went by when a stage ended; None where nobody knows.

    A draft counts only while no design was finished.
    """
    found: Design | None = None
    finished = False
    for row in rows:
        if ended_at is None or row.made_at > ended_at:
            break
        if not (finished and row.data["draft"]):
            found = row
            finished = finished or not (row.data["draft"] or row.data["provisional"])
    return found
