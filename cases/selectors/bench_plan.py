"""The bench's list in the order of the plan, and what comes next for the same hands.

Three queries more, whatever the number of cases; without a plan the list stays by what is due.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

from django.db.models import OuterRef, Q, Subquery

from cases.models import Bath, CaseStage, Load, Person, Plan, PlanStage

if TYPE_CHECKING:
    from cases.selectors.bench import Bench, Work

COMING_WITHIN = timedelta(hours=10)
"""What is planned for later hands no interest yet. Judgement: one working day."""
MOST_COMING = 5
NOW = timedelta(minutes=20)
"""What the plan begins within this is to be done now. Judgement."""
BATH_SOON = timedelta(hours=18)
"""A bath that begins later than that hurries nobody. Judgement."""


def _place(work: Work) -> tuple[int, float]:
    """Order what the plan has for this person first, then what nobody has, then the others'."""
    if work.planned is None:
        return (1, 0.0)
    return (0 if work.mine else 2, work.planned.begins_at.timestamp())


@dataclass(frozen=True)
class ToLoad:
    """A load that somebody puts into its bath by the plan: which flasks, from when.

    ``gathered`` is the number of the load that is gathered for this bath, None where none is;
    ``changed`` tells that the plan before said otherwise.
    """

    bath: Bath
    begins_at: datetime
    rows: tuple[PlanStage, ...]
    gathered: int | None

    @property
    def changed(self) -> bool:
        """Whether the plan before said otherwise of a flask of it."""
        return any(row.was_from is not None for row in self.rows)

    def is_now(self, now: datetime) -> bool:
        """Tell whether it is to be done now."""
        return self.begins_at <= now + NOW


def loads_to_put_in(person: Person, now: datetime) -> list[ToLoad]:
    """Return the loads that the plan has for a person soon, the next first (one query)."""
    newest = Plan.objects.order_by("-pk").values("pk")[:1]
    gathered = Load.objects.filter(bath=OuterRef("bath"), state="gathering").order_by("-number")
    rows = (
        PlanStage.objects.filter(plan=newest, person=person, bath__isnull=False)
        .filter(stage__state="planned", begins_at__lt=now + COMING_WITHIN)
        .annotate(gathered=Subquery(gathered.values("number")[:1]))
        .select_related("stage__case__design", "bath")
        .defer("stage__spec", "why")
        .order_by("begins_at", "bath_id", "pk")
    )
    found: dict[tuple[Bath, datetime], list[PlanStage]] = {}
    number: dict[Bath, int | None] = {}
    for row in rows:
        if row.bath is not None:
            found.setdefault((row.bath, row.begins_at), []).append(row)
            number[row.bath] = row.gathered
    return [
        ToLoad(bath, begins, tuple(group), number[bath]) for (bath, begins), group in found.items()
    ]


def for_these_hands(person: Person, now: datetime) -> list[int]:
    """Return the stages that the plan has for a person soon, in its order (one query)."""
    newest = Plan.objects.order_by("-pk").values("pk")[:1]
    rows = PlanStage.objects.filter(plan=newest, person=person, bath=None)
    soon = rows.filter(stage__state="planned", begins_at__lt=now + COMING_WITHIN)
    return list(soon.order_by("begins_at", "pk").values_list("stage_id", flat=True))


def follow_plan(bench: Bench, works: Sequence[Work], person: Person, now: datetime) -> None:
    """Put the lists of a bench into the order of the plan and note what comes after."""
    plan = Plan.objects.only("pk").first()
    if plan is None:
        return
    here = {work.stage.pk: work for work in works}
    soon = Q(person=person, bath=None, stage__state="planned", begins_at__lt=now + COMING_WITHIN)
    rows = (
        PlanStage.objects.filter(plan=plan)
        .filter(Q(stage__in=list(here)) | soon)
        .select_related("stage__case__design", "person", "was_person")
        .defer("stage__spec", "why")
        .order_by("begins_at", "pk")
    )
    for row in rows:
        if row.stage_id in here:
            here[row.stage_id].planned = row
            here[row.stage_id].mine = row.person_id == person.pk
        elif len(bench.coming) < MOST_COMING:
            bench.coming.append(row)
    bench.to_load = loads_to_put_in(person, now)
    bench.given.sort(key=_place)
    bench.free.sort(key=_place)
    first = bench.next
    if first is not None and first.planned is not None:
        bench.bath_at = bath_of(first.planned, now)


def planned_now(person: Person, now: datetime) -> PlanStage | None:
    """Return what the plan has for a person now among what may begin (three queries).

    Nothing while something runs in these hands: what is begun is ended first.
    """
    plan = Plan.objects.only("pk").first()
    if plan is None or CaseStage.objects.filter(worker=person, state="running").exists():
        return None
    return (
        PlanStage.objects.filter(plan=plan, person=person, bath=None, stage__state="planned")
        .filter(stage__ready_at__lte=now, begins_at__lte=now + NOW)
        .filter(Q(stage__assignee=None) | Q(stage__assignee=person))
        .select_related("stage__case__design")
        .defer("stage__spec")
        .order_by("begins_at", "pk")
        .first()
    )


def bath_of(row: PlanStage, now: datetime) -> datetime | None:
    """Return when the case of a row goes into a bath by its plan, where that is soon."""
    return (
        PlanStage.objects.filter(
            plan=row.plan_id,
            stage__case=row.stage.case_id,
            bath__isnull=False,
            begins_at__gt=now,
            begins_at__lt=now + BATH_SOON,
        )
        .values_list("begins_at", flat=True)
        .first()
    )
