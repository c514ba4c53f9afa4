"""How long stages really took in this lab, against what was planned: a spread for each kind."""

from __future__ import annotations

from collections import defaultdict
from datetime import datetime, timedelta

from cases.domain.planning.problem import Stage
from cases.domain.planning.spread import Spread, SpreadOf, fit, usual
from cases.models import StageRun, WorkSpan
from cases.selectors.planning.rows import StageRow
from cases.selectors.planning.work import stage_pk

LOOK_BACK = timedelta(days=180)
MOST_RUNS = 3000
"""The last finished runs are enough, and bounded."""


def lab_spread(now: datetime, stages: dict[int, StageRow]) -> SpreadOf:
    """Return the spread of the lab's own times by the key of the stage (two queries).

    Minutes of hands against the standard minutes of the case. What one person had in hand
    beside something else counts longer than it was: the spread is a little too wide then.

    Parameters
    ----------
    stages
        The stages of the open cases, by their primary key.
    """
    runs = dict(
        StageRun.objects.filter(
            outcome="done",
            ended_at__gt=now - LOOK_BACK,
            stage__kind="attended",
            stage__minutes__gt=0,
        )
        .order_by("-pk")
        .values_list("pk", "stage_id")[:MOST_RUNS]
    )
    planned: dict[int, tuple[str, float]] = {}
    worked: dict[int, float] = defaultdict(float)
    rows = WorkSpan.objects.filter(run__in=list(runs), ended_at__isnull=False)
    for run, key, minutes, began, ended in rows.values_list(
        "run_id", "run__stage__key", "run__stage__minutes", "began_at", "ended_at"
    ):
        planned[run] = (key, minutes)
        if ended is not None:
            worked[run] += (ended - began).total_seconds() / 60
    ratios: dict[str, list[float]] = defaultdict(list)
    for run, (key, minutes) in planned.items():
        ratios[key].append(worked[run] / minutes)
    fits = {key: fit(found) for key, found in ratios.items()}

    def spread_of(stage: Stage) -> Spread:
        if stage.kind != "attended":
            return usual(stage)
        row = stages.get(stage_pk(stage.key))
        return fits[row.key] if row is not None and row.key in fits else usual(stage)

    return spread_of
