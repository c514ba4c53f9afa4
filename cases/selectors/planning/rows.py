"""The rows of open cases as the planner reads them: thousands, so no object of the ORM each."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any, NamedTuple

from django.db.models import TextField
from django.db.models.functions import Cast

from cases.models import Case, CaseEdge, CaseStage, Hold


class StageRow(NamedTuple):
    """A stage of an open case; the columns are those of ``CaseStage``.

    Stages of the same specification share one ``spec``: nobody writes into it.
    """

    pk: int
    case_id: int
    key: str
    name: str
    kind: str
    skill: str
    station: str
    minutes: float
    spec: dict[str, Any]
    state: str = "planned"
    started_at: datetime | None = None
    ended_at: datetime | None = None
    latest_at: datetime | None = None
    worker_id: int | None = None
    assignee_id: int | None = None


class EdgeRow(NamedTuple):
    """What comes after what in a case; the columns are those of ``CaseEdge``."""

    case_id: int
    before: str
    after: str
    min_wait: float
    max_wait: float | None


@dataclass
class Open:
    """One open case with its rows."""

    case: Case
    stages: list[StageRow] = field(default_factory=list)
    edges: list[EdgeRow] = field(default_factory=list)
    holds: list[Hold] = field(default_factory=list)


def _stage_rows() -> Iterator[StageRow]:
    specs: dict[str, dict[str, Any]] = {}
    names = [name if name != "spec" else "written" for name in StageRow._fields]
    rows = (
        CaseStage.objects.filter(case__state="open")
        .annotate(written=Cast("spec", TextField()))
        .order_by("case_id", "position", "pk")
        .values_list(*names)
    )
    at = names.index("written")
    for row in rows:
        spec = specs.get(row[at])
        if spec is None:
            spec = specs[row[at]] = json.loads(row[at])
        yield StageRow._make((*row[:at], spec, *row[at + 1 :]))


def open_cases() -> list[Open]:
    """Return the open cases with their rows (four queries)."""
    rows = Case.objects.filter(state="open").select_related("practice").order_by("pk")
    found = {case.pk: Open(case) for case in rows}
    for stage in _stage_rows():
        if stage.case_id in found:
            found[stage.case_id].stages.append(stage)
    edges = CaseEdge.objects.filter(case__state="open").order_by("pk")
    for edge in map(EdgeRow._make, edges.values_list(*EdgeRow._fields)):
        if edge.case_id in found:
            found[edge.case_id].edges.append(edge)
    for hold in Hold.objects.filter(case__state="open", released_at__isnull=True).order_by("pk"):
        if hold.case_id in found:
            found[hold.case_id].holds.append(hold)
    return list(found.values())
