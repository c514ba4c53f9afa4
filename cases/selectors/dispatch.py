"""The van: what must go out, what can be packed, what stands in boxes, what is to be fetched.

Fixed query counts, whatever the number of cases.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from typing import Any

from django.db.models import Count, Exists, F, OuterRef, Prefetch, Q, QuerySet

from cases.models import (
    Case,
    CaseEdge,
    CaseStage,
    CheckItem,
    Hold,
    PickUp,
    Practice,
    Question,
    Received,
    Shipment,
    ShipmentCase,
    Thing,
)
from cases.selectors.open_cases import IN_THE_LAB, Row, rows_of

LAST = ("soak", "pack-out", "send")
"""Stages that may be open while a case is packed."""
IN_BOX = "in box {number}"
"""Where a cast is that goes back to the practice."""
MOST = 60
"""Rows a list of the page shows; what is beyond is counted. Judgement."""
SENT_LATELY = timedelta(days=7)
WHAT_TO_DO_WITH_CASTS = 24
"""The question to the practice that says what comes back (``cases.domain.questions``)."""


def ready_to_pack() -> QuerySet[Case]:
    """Return the open cases of which everything before soaking and packing has ended."""
    unfinished = (
        CaseStage.objects.filter(case=OuterRef("pk"))
        .exclude(state__in=["done", "skipped", "dropped"])
        .exclude(key__in=LAST)
    )
    begun = CaseStage.objects.filter(case=OuterRef("pk"), state__in=["done", "skipped"])
    return Case.objects.filter(~Exists(unfinished), Exists(begun), state="open")


@dataclass
class Pile:
    """One list of the page: the rows shown and how many there are in all."""

    rows: list[Row] = field(default_factory=list)
    total: int = 0

    @property
    def more(self) -> int:
        """How many are not shown."""
        return self.total - len(self.rows)


@dataclass
class Van:
    """Everything on the van page at one instant.

    ``late`` should have left, ``today`` leaves before midnight, ``later`` could be packed but
    leaves another day. ``packable`` and ``box_of`` (case key → box number) say how each stands.
    """

    late: Pile
    today: Pile
    later: Pile
    packable: set[int]
    box_of: dict[int, str]
    boxes: list[Shipment]
    sent: list[Shipment]
    practices: list[tuple[Practice, int]]
    """Practices with something to pack, and how many cases."""


def van_today(now: datetime, day_ends: datetime) -> Van:
    """Return the van page's lists (nine queries).

    Parameters
    ----------
    now
    day_ends
        Midnight on the lab's wall after `now`.
    """
    ready = list(
        ready_to_pack()
        .order_by(F("leaves_at").asc(nulls_last=True), "pk")
        .values_list("pk", "leaves_at", "practice")
    )
    due = list(
        Case.objects.filter(state__in=IN_THE_LAB, leaves_at__lt=day_ends)
        .order_by("leaves_at", "pk")
        .values_list("pk", "leaves_at")
    )
    late = [key for key, at in due if at is not None and at < now]
    today = [key for key, at in due if at is not None and at >= now]
    later = [key for key, at, _practice in ready if at is None or at >= day_ends]
    shown = {key for keys in (late, today, later) for key in keys[:MOST]}
    rows = {row.case.pk: row for row in rows_of(shown)}

    def pile(keys: list[int]) -> Pile:
        return Pile([rows[key] for key in keys[:MOST] if key in rows], len(keys))

    boxes = list(_unsent().order_by("ship_on", "pk"))
    waiting: dict[int, int] = {}
    for _key, _at, practice in ready:
        waiting[practice] = waiting.get(practice, 0) + 1
    return Van(
        late=pile(late),
        today=pile(today),
        later=pile(later),
        packable={key for key, _at, _practice in ready},
        box_of={row.case_id: box.number for box in boxes for row in box.contents.all()},
        boxes=boxes,
        sent=list(sent_lately(now)),
        practices=[
            (practice, waiting[practice.pk])
            for practice in Practice.objects.filter(pk__in=waiting).order_by("name")
        ],
    )


def _contents() -> Prefetch[Any]:
    rows = ShipmentCase.objects.select_related("case__design").order_by("pk")
    return Prefetch("contents", queryset=rows)


def _unsent() -> QuerySet[Shipment]:
    """Return the boxes that stand in the lab with something in them."""
    inside = ShipmentCase.objects.filter(shipment=OuterRef("pk"))
    return (
        Shipment.objects.filter(Exists(inside), sent_at__isnull=True)
        .select_related("practice", "packed_by")
        .prefetch_related(_contents())
    )


def sent_lately(now: datetime) -> QuerySet[Shipment]:
    """Return the boxes handed to the carrier within the last week, the latest first."""
    return (
        Shipment.objects.filter(sent_at__gte=now - SENT_LATELY)
        .select_related("practice")
        .annotate(pieces=Count("contents"))
        .order_by("-sent_at", "-pk")[:MOST]
    )


@dataclass
class Packing:
    """A case on the pack page, with what is asked before it goes into the box.

    ``lay_minutes``: how long it has lain in water, None when it never did; ``usual_minutes``
    how long it should; both None where the route has no soaking or a word was said already.
    ``back_words``: what the practice answered about casts, old piece and tray.
    """

    case: Case
    stage: CaseStage | None = None
    checks: list[CheckItem] = field(default_factory=list)
    soak: CaseStage | None = None
    usual_minutes: float | None = None
    lay_minutes: float | None = None
    holds: list[Hold] = field(default_factory=list)
    received: list[Received] = field(default_factory=list)
    casts: list[Thing] = field(default_factory=list)
    back_words: str = ""

    @property
    def soak_short(self) -> bool:
        """Whether somebody must say why it goes before its time in water is over."""
        if self.usual_minutes is None:
            return False
        return self.lay_minutes is None or self.lay_minutes < self.usual_minutes


def packing_of(practice: Practice, now: datetime) -> list[Packing]:
    """Return the cases of a practice that can be packed (eight queries)."""
    cases = list(
        ready_to_pack()
        .filter(practice=practice)
        .select_related("design", "twin")
        .order_by(F("leaves_at").asc(nulls_last=True), "pk")
    )
    found = {case.pk: Packing(case) for case in cases}
    keys = list(found)
    for stage in CaseStage.objects.filter(case__in=keys, key__in=["pack-out", "soak"]):
        if stage.key == "soak":
            found[stage.case_id].soak = stage
        else:
            found[stage.case_id].stage = stage
    checks = CheckItem.objects.filter(case__in=keys, stage__key="pack-out").exclude(state="dropped")
    for item in checks.order_by("case", "position", "pk"):
        found[item.case_id].checks.append(item)
    edges = CaseEdge.objects.filter(case__in=keys, before="soak", after="pack-out")
    waits = {edge.case_id: edge.min_wait for edge in edges}
    for hold in Hold.objects.filter(case__in=keys, released_at__isnull=True):
        if not hold.stages or "pack-out" in hold.stages:
            found[hold.case_id].holds.append(hold)
    for cast in Thing.objects.filter(case__in=keys, kind="cast", state="in-use"):
        found[cast.case_id].casts.append(cast)  # type: ignore[index]
    for row in Received.objects.filter(case__in=keys, state="here"):
        # An impression is used up and a scan is no thing; a cast that came is listed as a cast.
        gone = row.form in {"impression", "scan"}
        if not gone and not (row.form == "cast" and found[row.case_id].casts):
            found[row.case_id].received.append(row)
    answers = Question.objects.filter(
        case__in=keys, number=WHAT_TO_DO_WITH_CASTS, answered_at__isnull=False
    )
    for question in answers:
        words = " ".join(part for part in (question.answer, question.answer_note) if part)
        found[question.case_id].back_words = words
    for packing in found.values():
        _measure_soak(packing, waits.get(packing.case.pk, 0.0), now)
    return list(found.values())


def _measure_soak(packing: Packing, usual: float, now: datetime) -> None:
    soak, after = packing.soak, packing.stage
    if soak is None or soak.state in {"skipped", "dropped"} or soak.words:
        return
    packing.usual_minutes = usual
    if soak.state == "done" and soak.ended_at:
        until = after.started_at if after and after.started_at else now
        packing.lay_minutes = (until - soak.ended_at).total_seconds() / 60


def open_boxes(practice: Practice) -> QuerySet[Shipment]:
    """Return the boxes of a practice that something can still be put into."""
    return _unsent().filter(practice=practice)


def find_box(number: str) -> Shipment | None:
    """Return a box by its number, with practice, people and contents."""
    cases = ShipmentCase.objects.select_related(
        "case__design", "case__twin", "case__practice", "case__prescription__dentist",
        "case__remake_of",
    ).prefetch_related("case__stages", "case__received", "case__things").order_by("pk")  # fmt: skip
    return (
        Shipment.objects.filter(number=number)
        .select_related("practice", "packed_by", "sent_by")
        .prefetch_related(Prefetch("contents", queryset=cases), "papers__file")
        .first()
    )


@dataclass
class Stop:
    """A practice on the van's round, with its boxes and what is to be fetched there."""

    practice: Practice
    boxes: list[Shipment] = field(default_factory=list)
    pick_ups: list[PickUp] = field(default_factory=list)


@dataclass
class Round:
    """The stops of one route."""

    route: str
    stops: list[Stop]


def van_round(day: date, today: date) -> list[Round]:
    """Return the stops of a day by route, a box that should have left earlier included.

    Three queries. Boxes that have left already on that day are listed as well.
    """
    due = Q(ship_on=day)
    if day >= today:
        due |= Q(ship_on__lt=day, sent_at__isnull=True)
    inside = ShipmentCase.objects.filter(shipment=OuterRef("pk"))
    boxes = (
        Shipment.objects.filter(due, Exists(inside))
        .select_related("practice")
        .annotate(pieces=Count("contents"))
        .order_by("pk")
    )
    wanted = Q(day=day)
    if day >= today:
        wanted |= Q(day__lt=day, done_at__isnull=True)
    stops: dict[int, Stop] = {}
    for box in boxes:
        stops.setdefault(box.practice_id, Stop(box.practice)).boxes.append(box)
    for row in PickUp.objects.filter(wanted).select_related("practice"):
        stops.setdefault(row.practice_id, Stop(row.practice)).pick_ups.append(row)
    routes: dict[str, list[Stop]] = {}
    for stop in sorted(stops.values(), key=lambda one: one.practice.name):
        routes.setdefault(stop.practice.van_route, []).append(stop)
    return [Round(route, routes[route]) for route in sorted(routes, key=lambda r: (not r, r))]


def open_case_keys() -> list[int]:
    """Return the keys of every case in the lab, the first to leave first."""
    found = Case.objects.filter(state__in=IN_THE_LAB)
    order = found.order_by(F("leaves_at").asc(nulls_last=True), "pk")
    return list(order.values_list("pk", flat=True))
