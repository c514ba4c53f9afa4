"""The manager's day: what came, what left, what stands still and why, what was done again.

Fixed query counts; every list is bounded and says how many there are in all.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any

from django.db.models import Count, Exists, OuterRef, Prefetch, Q, QuerySet

from cases.models import (
    Case,
    CheckItem,
    CheckPhoto,
    Concession,
    Countersign,
    Hold,
    Occupied,
    Person,
    SendBack,
    StageRun,
    Thing,
    WorkSpan,
)

MOST = 12
"""Rows of a list on the page; the rest is counted and led to. Judgement."""
MOST_NAMED = 5
LOOK_BACK = timedelta(days=30)
"""How far back rework and remakes are counted. Judgement."""
SHOP_THINGS = ("flask", "articulator", "clamp")


@dataclass(frozen=True)
class Figures:
    """Cases that came and left today and this week, and those in the house."""

    came_today: int
    came_week: int
    left_today: int
    left_week: int
    here: int
    packed: int


@dataclass
class HeldFor:
    """Open holds with one reason and one whom they wait for; ``first`` are the oldest."""

    reason: str
    waits_for: str
    cases: int
    first: list[Hold] = field(default_factory=list)


@dataclass(frozen=True)
class Again:
    """How often one stage was done again, and why cases were sent back to it."""

    stage: str
    runs: int
    reasons: tuple[tuple[str, int], ...]


@dataclass
class Stock:
    """One kind of thing: how many there are, which are free, which are taken longest."""

    kind: str
    total: int = 0
    free: list[str] = field(default_factory=list)
    longest: list[Occupied] = field(default_factory=list)


@dataclass(frozen=True)
class Some:
    """The first rows of a list and how many there are in all."""

    rows: list[Any]
    total: int

    @property
    def more(self) -> int:
        """How many are not shown."""
        return self.total - len(self.rows)


def some(rows: QuerySet[Any], most: int = MOST) -> Some:
    """Return the first rows of a query and their number (two queries)."""
    return Some(list(rows[:most]), rows.order_by().count())


def figures(*, day_began: datetime, week_began: datetime) -> Figures:
    """Count what came and left (one query)."""
    here = Q(state__in=("open", "packed"))
    sent = Q(state="sent")
    found = Case.objects.aggregate(
        came_today=Count("pk", filter=Q(logged_at__gte=day_began)),
        came_week=Count("pk", filter=Q(logged_at__gte=week_began)),
        left_today=Count("pk", filter=sent & Q(closed_at__gte=day_began)),
        left_week=Count("pk", filter=sent & Q(closed_at__gte=week_began)),
        here=Count("pk", filter=here),
        packed=Count("pk", filter=Q(state="packed")),
    )
    return Figures(**found)


def held() -> list[HeldFor]:
    """Return what stands still, by reason and whom it waits for, the most cases first."""
    open_holds = Hold.objects.filter(released_at__isnull=True, case__state__in=("open", "packed"))
    groups = {
        (row["reason"], row["waits_for"]): HeldFor(row["reason"], row["waits_for"], row["n"])
        for row in open_holds.order_by()
        .values("reason", "waits_for")
        .annotate(n=Count("case", distinct=True))
    }
    oldest = open_holds.select_related("case__practice", "case__design").order_by("opened_at", "pk")
    for hold in oldest[: MOST_NAMED * MOST]:
        group = groups[(hold.reason, hold.waits_for)]
        if len(group.first) < MOST_NAMED and hold.case_id not in {
            one.case_id for one in group.first
        }:
            group.first.append(hold)
    return sorted(groups.values(), key=lambda group: (-group.cases, group.reason))


def rework(since: datetime) -> list[Again]:
    """Return the stages that were done again since then, the most often first (two queries)."""
    runs = StageRun.objects.filter(attempt__gt=1, begun_at__gte=since).order_by()
    counted = runs.values("stage__key", "stage__name").annotate(n=Count("pk"))
    reasons: dict[str, list[tuple[str, int]]] = {}
    back = SendBack.objects.filter(at__gte=since).order_by().values("to_stage", "reason")
    for row in back.annotate(n=Count("pk")):
        reasons.setdefault(row["to_stage"], []).append((row["reason"], row["n"]))
    found = [
        Again(
            row["stage__name"],
            row["n"],
            tuple(sorted(reasons.get(row["stage__key"], ()), key=lambda pair: -pair[1])),
        )
        for row in counted
    ]
    return sorted(found, key=lambda again: (-again.runs, again.stage))[:MOST]


def stock() -> list[Stock]:
    """Return flasks, articulators and clamps: free ones, and those taken longest."""
    taken = Occupied.objects.filter(thing=OuterRef("pk"), freed_at__isnull=True)
    kinds = {kind: Stock(kind) for kind in SHOP_THINGS}
    things = Thing.objects.filter(case__isnull=True, state="in-use", kind__in=SHOP_THINGS)
    for thing in things.annotate(taken=Exists(taken)):
        kinds[thing.kind].total += 1
        if not thing.taken:
            kinds[thing.kind].free.append(thing.label)
    busy = Occupied.objects.filter(freed_at__isnull=True, thing__kind__in=SHOP_THINGS)
    for row in busy.select_related("thing", "case__design").order_by("since", "pk"):
        longest = kinds[row.thing.kind].longest
        if len(longest) < MOST_NAMED:
            longest.append(row)
    return [kind for kind in kinds.values() if kind.total]


def concessions(since: datetime) -> QuerySet[Concession]:
    """Return the failed checks that were accepted since then, the latest first."""
    return (
        Concession.objects.filter(at__gte=since)
        .select_related("item__stage", "item__case__design", "by")
        .order_by("-at", "-pk")
    )


def remakes(since: datetime) -> QuerySet[Case]:
    """Return the cases made again that were logged since then, the latest first."""
    return (
        Case.objects.filter(remake_of__isnull=False, logged_at__gte=since)
        .select_related("remake_of", "practice", "design")
        .order_by("-logged_at", "-pk")
    )


def minutes_to_confirm() -> QuerySet[WorkSpan]:
    """Return the stretches of work that the program ended and nobody has confirmed."""
    return (
        WorkSpan.objects.filter(to_check=True, ended_at__isnull=False)
        .select_related("person", "run__stage__case__design")
        .order_by("began_at", "pk")
    )


def to_countersign(person: Person) -> QuerySet[Countersign]:
    """Return the countersigns that ``person`` may give: a manager all, others by their skill.

    Nobody signs what they asked for themselves.
    """
    rows = Countersign.objects.filter(signed_at__isnull=True).exclude(asked_by=person)
    if person.is_student:
        return rows.none()
    if not person.is_manager:
        skills = person.skills.filter(may_countersign=True).values("skill__key")
        rows = rows.filter(stage__skill__in=skills)
    return rows.select_related("stage__case__design", "stage__case__practice", "asked_by").order_by(
        "asked_at", "pk"
    )


def with_checks(countersigns: QuerySet[Countersign]) -> QuerySet[Countersign]:
    """Fetch with each countersign what was entered for its checks, and the photographs."""
    checks = CheckItem.objects.exclude(state="dropped").prefetch_related(
        Prefetch("photos", queryset=CheckPhoto.objects.select_related("file"))
    )
    return countersigns.prefetch_related(Prefetch("stage__checks", queryset=checks))
