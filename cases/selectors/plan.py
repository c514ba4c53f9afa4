"""The plan in force, as its pages and benches show it; fixed query counts."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.db.models import F, QuerySet

from cases.domain.calendar import LabCalendar
from cases.models import (
    Case,
    CaseStage,
    Heartbeat,
    Plan,
    PlanCase,
    Planner,
    PlanPin,
    PlanStage,
)

OLD = timedelta(minutes=30)
"""After this a plan says how old it is in a warning. Judgement."""
MOST_ROWS = 3000
MOST_PIECES = 24
"""How many flasks a load is chosen from. Judgement: two loads of the largest bath."""


@dataclass(frozen=True)
class State:
    """The plan in force and the planner: what stands, how old it is, what goes on.

    ``old``: nobody has planned for long, so the worker is probably down. ``improving``: a better
    plan is being looked for now, ``searched``: it has been.
    """

    plan: Plan | None
    planner: Planner | None
    old: bool
    improving: bool = False

    @property
    def searched(self) -> bool:
        """Whether the search for a better plan than this one is over."""
        if self.plan is None or self.planner is None or self.improving:
            return False
        return self.planner.improved_for == self.plan.pk


def state(now: datetime) -> State:
    """Return what stands (three queries)."""
    plan = Plan.objects.first()
    last = Heartbeat.objects.filter(name="plan").first()
    old = plan is not None and (last is None or now - last.at > OLD)
    planner = Planner.objects.first()
    until = planner.busy_until if planner is not None and planner.improving_since else None
    # A worker that died while it improved has the turn until its lease ends, and no longer.
    return State(plan, planner, old, until is not None and until > now)


def rows_of(plan: Plan) -> QuerySet[PlanStage]:
    """Return the rows of a plan with what every page shows of them."""
    return (
        PlanStage.objects.filter(plan=plan)
        .select_related(
            "stage__case__practice", "stage__case__design", "person", "bath", "signer", "was_person"
        )
        .defer("stage__spec")
        .order_by("begins_at", "pk")
    )


def between(plan: Plan, begins: datetime, ends: datetime) -> list[PlanStage]:
    """Return the rows that touch a span of time (one query)."""
    return list(rows_of(plan).filter(begins_at__lt=ends, ends_at__gt=begins)[:MOST_ROWS])


@dataclass(frozen=True)
class WithoutPlace:
    """A stage that the planner found no place for, and what it says."""

    stage: CaseStage
    words: str


def without_place(plan: Plan) -> list[WithoutPlace]:
    """Return what has no place in a plan: of each case the first stage that says why."""
    said = {one["stage"]: one["words"] for one in plan.unplanned}
    rows = (
        CaseStage.objects.filter(pk__in=said)
        .select_related("case__practice", "case__design")
        .defer("spec")
    )
    first: dict[int, CaseStage] = {}
    for row in rows.order_by("case_id", "position"):
        first.setdefault(row.case_id, row)
    return [WithoutPlace(row, said[row.pk]) for row in first.values()]


def pins(stages: Iterable[int]) -> dict[int, PlanPin]:
    """Return what was decided about stages, by the stage (one query)."""
    found = PlanPin.objects.filter(stage__in=list(stages), lifted_at__isnull=True)
    return {row.stage_id: row for row in found.select_related("person", "by", "bath")}


def pieces_for(row: CaseStage, plan: Plan | None) -> list[PlanStage]:
    """Return what could go into one load with a cure: what the plan has for a bath and has not
    begun, the next first (one query)."""
    if plan is None:
        return []
    waiting = rows_of(plan).filter(
        bath__isnull=False, stage__kind="load", stage__state__in=("planned", "paused")
    )
    return list(waiting.exclude(stage=row)[:MOST_PIECES])


def same_load(pin: PlanPin) -> list[int]:
    """Return the cures that are pinned to the same bath and minute, by their keys (one query)."""
    found = PlanPin.objects.filter(
        bath=pin.bath_id, begins_at=pin.begins_at, lifted_at__isnull=True
    )
    return list(found.order_by("stage_id").values_list("stage_id", flat=True))


def leaves(plan: Plan) -> QuerySet[PlanCase]:
    """Return when the cases of a plan leave, the latest of all first."""
    return (
        PlanCase.objects.filter(plan=plan)
        .select_related("case__practice", "case__design")
        .order_by("-late_minutes", F("leaves_at").asc(nulls_last=True), "pk")
    )


def leaving(case: Case) -> PlanCase | None:
    """Return when a case leaves by the plan in force (two queries)."""
    plan = Plan.objects.only("pk").first()
    return PlanCase.objects.filter(plan=plan, case=case).first() if plan else None


def leaving_by_day(plan: Plan, calendar: LabCalendar, days: list[date]) -> list[tuple[int, int]]:
    """Return of each day how many cases leave by a plan, and how many of them late (one query)."""
    found = {day: [0, 0] for day in days}
    for at, late in PlanCase.objects.filter(plan=plan, leaves_at__isnull=False).values_list(
        "leaves_at", "late_minutes"
    ):
        day = calendar.local_day(at) if at else None
        if day in found:
            found[day][0] += 1
            found[day][1] += late > 0
    return [(all_, late) for all_, late in found.values()]
