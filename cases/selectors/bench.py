"""What a person at the bench has to do: in hand, given, free to take, waiting, held.

Fixed query counts, whatever the number of cases.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from typing import Any

from django.db.models import F, Q, QuerySet, Value
from django.db.models.functions import Coalesce, Least

from cases.models import (
    CaseEdge,
    CaseStage,
    Countersign,
    Event,
    Hold,
    Lab,
    Person,
    PlanStage,
    WorkSpan,
)
from cases.selectors.bench_plan import ToLoad, follow_plan, for_these_hands

MOST_OWN, MOST_FREE, MOST_WAITING, MOST_POUR = 40, 40, 12, 6
"""Rows a list of the bench shows; a case beyond them is taken by its number. Judgement."""

NO_DUE = datetime(9999, 1, 1, tzinfo=UTC)
UNDO_SHOWN = timedelta(seconds=10)
NOT_OPEN = ("packed", "sent", "cancelled")
EVERYWHERE = ("any", "")
"""Stations of stages that may be done at any place."""


@dataclass
class Work:
    """One stage in a list of the bench.

    ``hold`` stops it; ``in_hands_of`` has the case's cast now; ``after`` is the stage whose wait
    runs until ``stage.ready_at``; ``began_at`` when the present hands took it up; ``planned`` its
    row in the plan, which has it for these hands where ``mine``.
    """

    stage: CaseStage
    hold: Hold | None = None
    in_hands_of: CaseStage | None = None
    after: CaseStage | None = None
    began_at: datetime | None = None
    forgotten: bool = False
    planned: PlanStage | None = None
    mine: bool = False


@dataclass
class Bench:
    """Everything on the bench page of one person at one instant.

    ``coming`` is what the plan has for the same hands next, ``to_load`` the loads that they put
    into their baths, ``bath_at`` when the case to do now goes into a bath by the plan, where that
    is soon.
    """

    in_hand: list[Work] = field(default_factory=list)
    given: list[Work] = field(default_factory=list)
    free: list[Work] = field(default_factory=list)
    waiting: list[Work] = field(default_factory=list)
    held: list[Work] = field(default_factory=list)
    away: list[Work] = field(default_factory=list)
    to_sign: list[Countersign] = field(default_factory=list)
    to_check: list[WorkSpan] = field(default_factory=list)
    after_lock: list[WorkSpan] = field(default_factory=list)
    pour: list[CaseStage] = field(default_factory=list)
    coming: list[PlanStage] = field(default_factory=list)
    to_load: list[ToLoad] = field(default_factory=list)
    bath_at: datetime | None = None
    more_free: bool = False

    @property
    def next(self) -> Work | None:
        """The one thing to do next: what runs, what was put down, what the plan has for these
        hands first, what is given, what is free."""
        running = [work for work in self.in_hand if work.stage.state == "running"]
        first = [*self.given[:1], *self.free[:1]]
        by_plan = sorted(
            (work for work in first if work.mine and work.planned),
            key=lambda work: work.planned.begins_at if work.planned else NO_DUE,
        )
        for group in (running, self.in_hand, by_plan, first):
            if group:
                return group[0]
        return None

    @property
    def running(self) -> int:
        """How many stages run in the person's hands and share the minutes."""
        return sum(work.stage.state == "running" for work in self.in_hand)

    @property
    def batches(self) -> list[tuple[CaseStage, int]]:
        """Stages that several ready cases share, with how many: may be done together."""
        counts: dict[str, list[CaseStage]] = {}
        for work in (*self.given, *self.free):
            if work.stage.spec.get("batch"):
                counts.setdefault(work.stage.key, []).append(work.stage)
        return [(stages[0], len(stages)) for stages in counts.values() if len(stages) > 1]


def in_order(stages: QuerySet[CaseStage]) -> QuerySet[CaseStage]:
    """Order by what is due first: the latest start, or when the box leaves."""
    due = Least(
        Coalesce(F("latest_at"), Value(NO_DUE)), Coalesce(F("case__leaves_at"), Value(NO_DUE))
    )
    return stages.alias(due=due).order_by("due", "case_id", "position")


def _first(stages: QuerySet[CaseStage], most: int) -> list[CaseStage]:
    """Return what is due first, in one query that sorts keys and reads only the rows it shows."""
    keys = in_order(stages).values("pk")[:most]
    return list(in_order(_open_stages().filter(pk__in=keys)))


def _open_stages() -> QuerySet[CaseStage]:
    # Said as "not closed": told "open", SQLite walks through every stage of every open case
    # instead of finding the few stages by their own indexes.
    return CaseStage.objects.exclude(case__state__in=NOT_OPEN).select_related(
        "case", "case__design", "worker", "assignee"
    )


def bench_of(
    person: Person, now: datetime, *, station: str = "", everywhere: bool = False
) -> Bench:
    """Return the lists of the bench for ``person``.

    Parameters
    ----------
    station
        Key of the station where the tablet stands; work that others may do elsewhere is left
        out then, unless ``everywhere``.
    """
    skills = [*person.skills.values_list("skill__key", flat=True), ""]
    own = in_order(_open_stages().filter(pk__in=_own(person)))
    may_take = _open_stages().filter(
        state="planned", ready_at__isnull=False, assignee__isnull=True, skill__in=skills
    )
    put_down = _open_stages().filter(
        pk__in=CaseStage.objects.order_by()
        .filter(state="paused", assignee__isnull=True, skill__in=skills)
        .values("pk")
    )
    here = may_take
    if station and not everywhere:
        here = may_take.filter(station__in=(station, *EVERYWHERE))
    free = _first(here.filter(ready_at__lte=now), MOST_FREE + 1)
    # The plan goes by more than what is due first: what it has for these hands is always shown.
    by_plan = list(may_take.filter(ready_at__lte=now, pk__in=for_these_hands(person, now)))
    waiting = list(here.filter(ready_at__gt=now).order_by("ready_at", "pk")[:MOST_WAITING])
    bench = Bench(more_free=len(free) > MOST_FREE)
    everything = _unique(
        [*own[:MOST_OWN], *in_order(put_down)[:MOST_OWN], *by_plan, *free, *waiting]
    )
    works = _with_obstacles(everything, now)
    _sort_in(bench, works, person, now)
    follow_plan(bench, works, person, now)
    _mark_forgotten(bench.in_hand, person, now)
    bench.to_sign = list(_to_sign(person))
    _to_check(bench, person)
    bench.pour = list(
        _open_stages()
        .filter(key="pour", state="planned", latest_at__isnull=False)
        .order_by("latest_at", "pk")[:MOST_POUR]
    )
    return bench


def _own(person: Person) -> QuerySet[CaseStage, Any]:
    """Return the keys of what ``person`` has in hand or was given.

    Asked for by themselves, each by its index: in one condition with the state of the case,
    SQLite walks through every case that there ever was.
    """
    stages = CaseStage.objects.order_by()
    in_hand = stages.filter(worker=person, state__in=("running", "countersign", "away"))
    given = stages.filter(
        Q(state="paused") | Q(ready_at__isnull=False),
        assignee=person,
        state__in=("paused", "planned"),
    )
    return in_hand.values("pk").union(given.values("pk"))


def _to_check(bench: Bench, person: Person) -> None:
    """List the spans that the program ended; those of a locking tablet have a page of their own."""
    spans = (
        WorkSpan.objects.filter(person=person, to_check=True, ended_at__isnull=False)
        .select_related("run__stage__case__design")
        .order_by("pk")[:MOST_OWN]
    )
    for span in spans:
        (bench.after_lock if span.ended_how == "lock" else bench.to_check).append(span)


def _unique(stages: Iterable[CaseStage]) -> list[CaseStage]:
    return list({stage.pk: stage for stage in stages}.values())


def _with_obstacles(stages: Sequence[CaseStage], now: datetime) -> list[Work]:
    """Find holds, casts in other hands and running waits for all stages at once."""
    cases = {stage.case_id for stage in stages}
    holds: dict[int, list[Hold]] = {}
    for hold in Hold.objects.filter(case__in=cases, released_at__isnull=True):
        holds.setdefault(hold.case_id, []).append(hold)
    hands = {
        row.case_id: row
        for row in CaseStage.objects.filter(case__in=cases, state="running").select_related(
            "worker"
        )
        if row.spec.get("needs_cast")
    }
    after = running_waits(stages, now)
    found = []
    for stage in stages:
        stops = (h for h in holds.get(stage.case_id, ()) if not h.stages or stage.key in h.stages)
        other = hands.get(stage.case_id) if stage.spec.get("needs_cast") else None
        if other is not None and (other.pk == stage.pk or stage.state == "running"):
            other = None
        found.append(Work(stage, next(stops, None), other, after.get(stage.pk)))
    return found


def running_waits(stages: Sequence[CaseStage], now: datetime) -> dict[int, CaseStage]:
    """Return, by stage, the earlier stage whose wait it is that still runs."""
    wait = [stage for stage in stages if stage.ready_at and stage.ready_at > now]
    cases = {stage.case_id for stage in wait}
    edges: dict[tuple[int, str], list[CaseEdge]] = {}
    for edge in CaseEdge.objects.filter(case__in=cases, min_wait__gt=0):
        edges.setdefault((edge.case_id, edge.after), []).append(edge)
    ended = {
        (row.case_id, row.key): row
        for row in CaseStage.objects.filter(case__in=cases, state="done", ended_at__isnull=False)
    }
    found: dict[int, CaseStage] = {}
    for stage in wait:
        before = [
            (row.ended_at + timedelta(minutes=edge.min_wait), row)
            for edge in edges.get((stage.case_id, stage.key), ())
            if (row := ended.get((stage.case_id, edge.before))) is not None and row.ended_at
        ]
        if before:
            found[stage.pk] = max(before, key=lambda pair: pair[0])[1]
    return found


def _sort_in(bench: Bench, works: list[Work], person: Person, now: datetime) -> None:
    for work in works:
        stage = work.stage
        if stage.state in {"away", "countersign"}:
            bench.away.append(work)
        elif work.hold is not None:
            bench.held.append(work)
        elif stage.state in {"running", "paused"} and stage.assignee_id == person.pk:
            bench.in_hand.append(work)
        elif work.in_hands_of is not None or (stage.ready_at and stage.ready_at > now):
            bench.waiting.append(work)
        elif stage.assignee_id == person.pk:
            bench.given.append(work)
        else:
            bench.free.append(work)
    bench.in_hand.sort(key=lambda work: work.stage.state != "running")
    bench.waiting.sort(key=lambda work: work.stage.ready_at or now)


def _mark_forgotten(in_hand: list[Work], person: Person, now: datetime) -> None:
    """Mark running stages that went on for suspiciously long (at least twice the estimate)."""
    began = dict(
        WorkSpan.objects.filter(person=person, ended_at__isnull=True).values_list(
            "run__stage_id", "began_at"
        )
    )
    nudge = Lab.objects.values_list("nudge_after_minutes", flat=True).first() or 0
    for work in in_hand:
        work.began_at = began.get(work.stage.pk)
        longest = timedelta(minutes=max(nudge, 2 * work.stage.minutes))
        if work.began_at is not None and nudge:
            work.forgotten = now - work.began_at >= longest


def _to_sign(person: Person) -> QuerySet[Countersign]:
    """Return the countersigns that ``person`` may give and did not ask for."""
    mine = person.skills.filter(may_countersign=True).values("skill__key")
    return (
        Countersign.objects.filter(signed_at__isnull=True, stage__skill__in=mine)
        .exclude(asked_by=person)
        .select_related("stage__case__design", "asked_by")
        .order_by("asked_at", "pk")[:MOST_WAITING]
    )


@dataclass(frozen=True)
class Undoable:
    """What can be taken back: a start or finish, of one stage or of a batch."""

    event: Event
    stages: list[CaseStage]


def undoable(person: Person, now: datetime) -> Undoable | None:
    """Return the start or finish that ``person`` made in the last ten seconds."""
    last = (
        Event.objects.filter(by=person, received_at__gt=now - UNDO_SHOWN)
        .filter(kind__startswith="stage.")
        .order_by("-pk")
        .first()
    )
    if last is None or last.kind not in {"stage.started", "stage.finished"}:
        return None
    together = Event.objects.filter(submission=last.submission_id, kind=last.kind)
    stages = CaseStage.objects.filter(
        case__in=together.values("case"), key=last.subject
    ).select_related("case")
    found = list(stages.order_by("case_id"))
    return Undoable(last, found) if found else None


def ready_batch(person: Person, key: str, now: datetime) -> list[Work]:
    """Return the stages ``key`` that ``person`` could begin or has running, due ones first."""
    skills = [*person.skills.values_list("skill__key", flat=True), ""]
    stages = in_order(
        _open_stages()
        .filter(key=key)
        .filter(
            Q(state="running", worker=person)
            | Q(state="planned", ready_at__lte=now, skill__in=skills)
            & (Q(assignee=person) | Q(assignee__isnull=True))
        )
    )
    works = _with_obstacles(list(stages[:MOST_FREE]), now)
    return [work for work in works if work.hold is None and work.in_hands_of is None]
