"""What is late, what will be late, and what stands in the way: reckoned case by case.

Each case is reckoned as if one pair of hands worked on it alone from now on, within open hours,
with setting, cooling and curing on the clock. Other cases, flasks and baths that are taken, and
what a stage in hand has had already, are left out: it says what is still possible, not what is
planned. Fixed query counts, whatever the number of cases.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta

from cases.domain.calendar import LabCalendar, NeverOpen
from cases.domain.promise import NOT_BEFORE_LEAVING, Before, Step, earliest_finish
from cases.models import Case, CaseEdge, CaseStage, Hold
from cases.selectors.hours import lab_calendar

HORIZON = timedelta(days=10)
"""Cases that leave later than this are not looked at. Judgement: a whole route with its waits
fits into half of it."""
TIGHT_MINUTES = 120.0
"""Open minutes of reserve below which a case counts as close. Judgement."""
MOST_RECKONED = 150
"""Cases reckoned, the first to leave first; what is beyond is said, not hidden. Judgement."""

ENDED = frozenset({"done", "skipped", "dropped"})
IN_HAND = frozenset({"running", "paused", "countersign", "away"})


@dataclass
class Outlook:
    """One case: when it can be ready at the earliest, and what it waits for now.

    ``verdict``: ``late`` (should have left), ``will-be-late`` (cannot be ready in time any
    more), ``tight`` (less than ``TIGHT_MINUTES`` of reserve), ``in-time``. ``ready_at`` is None
    when nothing can be reckoned (packed, or the lab has no hours).
    """

    case: Case
    verdict: str = "in-time"
    ready_at: datetime | None = None
    minutes_left: float = 0
    at: list[CaseStage] = field(default_factory=list)
    holds: list[Hold] = field(default_factory=list)


@dataclass(frozen=True)
class Lateness:
    """All outlooks that are not in time, the first to leave first; ``reckoned`` cases of
    ``total`` that leave within the horizon; ``has_hours`` False when the lab has none."""

    outlooks: tuple[Outlook, ...]
    reckoned: int
    total: int
    has_hours: bool = True

    def of(self, *verdicts: str) -> list[Outlook]:
        """Return the outlooks with one of these verdicts."""
        return [one for one in self.outlooks if one.verdict in verdicts]


def steps_left(stages: Iterable[CaseStage], edges: Iterable[CaseEdge], now: datetime) -> list[Step]:
    """Return what is still to do of one case, as the promise reads it."""
    by_key = {stage.key: stage for stage in stages if stage.state != "dropped"}
    before: dict[str, list[Before]] = {}
    not_before: dict[str, datetime] = {}
    for edge in edges:
        first, then = by_key.get(edge.before), by_key.get(edge.after)
        if first is None or then is None:
            continue
        wait = 0 if first.key in NOT_BEFORE_LEAVING else edge.min_wait
        if first.state not in ENDED:
            before.setdefault(then.key, []).append(Before(first.key, wait))
        elif first.ended_at and first.state == "done":
            over = first.ended_at + timedelta(minutes=wait)
            if over > now:
                not_before[then.key] = max(over, not_before.get(then.key, over))
    return [
        Step(
            stage.key,
            0 if stage.state in {"countersign", "away"} else stage.minutes,
            tuple(before.get(stage.key, ())),
            not_before.get(stage.key),
        )
        for stage in by_key.values()
        if stage.state not in ENDED
    ]


def _judge(
    outlook: Outlook,
    stages: Sequence[CaseStage],
    edges: Sequence[CaseEdge],
    calendar: LabCalendar,
    now: datetime,
) -> None:
    case = outlook.case
    assert case.leaves_at is not None  # noqa: S101 - only such cases are fetched
    if case.state == "open":
        steps = steps_left(stages, edges, now)
        outlook.minutes_left = sum(step.minutes for step in steps)
        outlook.ready_at = earliest_finish(steps, calendar, now)
        outlook.at = [
            stage
            for stage in stages
            if stage.state in IN_HAND or (stage.state == "planned" and stage.ready_at)
        ]
    if case.leaves_at <= now:
        outlook.verdict = "late"
    elif outlook.ready_at is None:
        outlook.verdict = "in-time"
    elif outlook.ready_at > case.leaves_at:
        outlook.verdict = "will-be-late"
    elif calendar.open_minutes_between(outlook.ready_at, case.leaves_at) < TIGHT_MINUTES:
        outlook.verdict = "tight"


def _work_of(
    keys: Sequence[int],
) -> tuple[dict[int, list[CaseStage]], dict[int, list[CaseEdge]]]:
    """Return the stages and the edges of cases, by case (two queries)."""
    stages: dict[int, list[CaseStage]] = {key: [] for key in keys}
    for stage in (
        CaseStage.objects.filter(case__in=keys)
        .exclude(state="dropped")
        .select_related("worker")
        .defer("spec")
        .order_by("position", "pk")
    ):
        stages[stage.case_id].append(stage)
    edges: dict[int, list[CaseEdge]] = {key: [] for key in keys}
    for edge in CaseEdge.objects.filter(case__in=keys):
        edges[edge.case_id].append(edge)
    return stages, edges


def late_among(keys: Sequence[int], now: datetime) -> set[int]:
    """Return which of these cases cannot leave as promised any more (six queries).

    None of them where the lab has no hours: then nothing can be reckoned.
    """
    stages, edges = _work_of(keys)
    calendar = lab_calendar()
    found = set()
    for case in Case.objects.filter(pk__in=keys, state="open", leaves_at__isnull=False):
        outlook = Outlook(case)
        try:
            _judge(outlook, stages[case.pk], edges[case.pk], calendar, now)
        except NeverOpen:
            return set()
        if outlook.verdict in {"late", "will-be-late"}:
            found.add(case.pk)
    return found


def lateness(now: datetime) -> Lateness:
    """Return what is late, will be late, or is close, within the horizon (eight queries)."""
    soon = Case.objects.filter(state__in=("open", "packed"), leaves_at__lt=now + HORIZON)
    total = soon.count()
    rows = list(
        soon.select_related("practice", "design").order_by("leaves_at", "pk")[:MOST_RECKONED]
    )
    keys = [case.pk for case in rows]
    stages, edges = _work_of(keys)
    holds: dict[int, list[Hold]] = {key: [] for key in keys}
    for hold in Hold.objects.filter(case__in=keys, released_at__isnull=True):
        holds[hold.case_id].append(hold)
    calendar = lab_calendar()
    found = []
    for case in rows:
        outlook = Outlook(case, holds=holds[case.pk])
        try:
            _judge(outlook, stages[case.pk], edges[case.pk], calendar, now)
        except NeverOpen:
            return Lateness((), 0, total, has_hours=False)
        if outlook.verdict != "in-time":
            found.append(outlook)
    return Lateness(tuple(found), len(rows), total)
