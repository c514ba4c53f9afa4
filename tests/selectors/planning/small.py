"""A case of a few stages in the small lab, so that its plan can be reckoned by hand.

It is 10:42 on a Wednesday; everybody works until 17:00, which is minute 378, and comes again at
8:00, which is minute 1278.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any

from cases.domain.planning import problem as plan
from cases.domain.planning.dispatch import dispatch
from cases.domain.planning.verify import verify
from cases.models import Case, CaseEdge, CaseStage
from cases.selectors.planning.build import Built, build
from cases.selectors.planning.work import stage_key
from cases.services.record import Recorder
from tests.factories import NOW, Shop, make_case, rows

EVENING, MORNING = 378, 1278


@dataclass
class Step:
    """A stage of a small case; ``facts`` are further columns."""

    key: str
    minutes: float = 30
    kind: str = "attended"
    spec: dict[str, Any] = field(default_factory=dict)
    facts: dict[str, Any] = field(default_factory=dict)


def after(before: str, then: str, least: float = 0, most: float | None = None) -> dict[str, Any]:
    """Return an edge."""
    return {"before": before, "after": then, "min_wait": least, "max_wait": most}


def make_small(
    shop: Shop,
    *steps: Step,
    edges: Iterable[dict[str, Any]] = (),
    ref: str = "Q-1",
    now: datetime = NOW,
    **changes: Any,
) -> Case:
    """Return an open case that has these stages and no others."""
    case = make_case(shop, now=now, ref=ref)

    def make(record: Recorder) -> dict[str, Any]:
        for row in case.stages.all():
            record.change(row, state="dropped", key=f"old-{row.pk}")
        for edge in case.edges.all():
            record.remove(edge)
        for place, step in enumerate(steps):
            record.create(
                CaseStage,
                case=case,
                key=step.key,
                name=step.key.capitalize(),
                position=100 + place,
                kind=step.kind,
                minutes=step.minutes,
                spec=step.spec,
                **step.facts,
            )
        for one in edges:
            record.create(CaseEdge, case=case, **one)
        record.change(case, **changes)
        return {}

    rows(make)
    return case


def stage_of(case: Case, key: str) -> CaseStage:
    return case.stages.get(key=key)


def change(row: Any, **facts: Any) -> None:
    """Change a row under a submission of its own."""
    rows(lambda record: {"row": record.change(row, **facts)})


def ago(minutes: float) -> datetime:
    return NOW - timedelta(minutes=minutes)


def read(case: Case, key: str, now: datetime = NOW) -> plan.Stage:
    """Return a stage as the planner reads it."""
    built = build(now)
    wanted = stage_key(stage_of(case, key).pk)
    return next(one for one in built.problem.stages if one.key == wanted)


@dataclass
class Solved:
    """A problem with the dispatcher's plan, which breaks nothing."""

    built: Built
    plan: plan.Plan

    def at(self, case: Case, key: str) -> plan.Planned:
        wanted = stage_key(stage_of(case, key).pk)
        return next(one for one in self.plan.planned if one.stage == wanted)

    def span(self, case: Case, key: str) -> tuple[int, int]:
        one = self.at(case, key)
        return one.start, one.end


def solve(now: datetime = NOW) -> Solved:
    built = build(now)
    found = dispatch(built.problem)
    assert verify(built.problem, found) == []
    return Solved(built, found)
