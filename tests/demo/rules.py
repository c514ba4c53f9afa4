"""The rules of the bench, asked anew of what the demo left behind.

Nothing here knows how the demo was made: ``collect`` reads events and rows into plain values,
and each rule returns what breaks it, in words.
"""

from __future__ import annotations

import itertools
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from cases.models import (
    Absence,
    CaseEdge,
    CaseStage,
    ClosedDay,
    Event,
    Lab,
    Occupied,
    Person,
    PersonSkill,
    Shift,
    WorkSpan,
)


@dataclass(frozen=True)
class Happening:
    """One event of a case."""

    at: datetime
    case: int
    kind: str
    key: str
    facts: dict[str, Any]


@dataclass(frozen=True)
class Hands:
    """One person's hands on one stage, from then to then."""

    person: int
    case: int
    key: str
    skill: str
    needs_cast: bool
    began: datetime
    ended: datetime


@dataclass(frozen=True)
class Taken:
    """A thing of the shop in the hands of a case."""

    thing: int
    case: int
    since: datetime
    until: datetime


@dataclass
class Facts:
    """Everything the rules need. ``edges`` by case: (before, after, least wait in minutes)."""

    happenings: list[Happening]
    hands: list[Hands]
    taken: list[Taken]
    edges: dict[int, list[tuple[str, str, float]]]
    skills: dict[int, frozenset[str]]
    desk: frozenset[int]
    shifts: dict[tuple[int, int], list[tuple[time, time]]]
    away: dict[int, list[tuple[date, date]]]
    closed: frozenset[date]
    zone: ZoneInfo
    names: dict[int, str] = field(default_factory=dict)


def collect(now: datetime) -> Facts:
    """Read the whole lab; what still goes on ends ``now``."""
    edges = defaultdict(list)
    for edge in CaseEdge.objects.all():
        least = edge.min_wait if edge.least_wait is None else edge.least_wait
        edges[edge.case_id].append((edge.before, edge.after, least))
    shifts = defaultdict(list)
    for shift in Shift.objects.all():
        shifts[shift.person_id, shift.weekday].append((shift.begins, shift.ends))
    away = defaultdict(list)
    for absence in Absence.objects.all():
        away[absence.person_id].append((absence.first_on, absence.last_on))
    skills = defaultdict(set)
    for person, key in PersonSkill.objects.values_list("person_id", "skill__key"):
        skills[person].add(key)
    return Facts(
        happenings=[
            Happening(row.received_at, row.case_id, row.kind, row.subject, row.facts)
            for row in Event.objects.exclude(case=None).order_by("pk")
        ],
        hands=list(_hands(now)),
        taken=[
            Taken(row.thing_id, row.case_id, row.since, row.freed_at or now)
            for row in Occupied.objects.all()
        ],
        edges=dict(edges),
        skills={person: frozenset(keys) for person, keys in skills.items()},
        desk=frozenset(Person.objects.filter(is_desk=True).values_list("pk", flat=True)),
        shifts=dict(shifts),
        away=dict(away),
        closed=frozenset(ClosedDay.objects.values_list("day", flat=True)),
        zone=ZoneInfo(Lab.objects.get().zone),
        names=dict(Person.objects.values_list("pk", "name")),
    )


def _hands(now: datetime) -> Iterator[Hands]:
    stages = CaseStage.objects.in_bulk()
    rows = WorkSpan.objects.select_related("run").order_by("began_at", "pk")
    for span in rows:
        stage = stages[span.run.stage_id]
        yield Hands(
            span.person_id,
            stage.case_id,
            stage.key,
            stage.skill,
            stage.spec["needs_cast"],
            span.began_at,
            span.ended_at or now,
        )


def out_of_order(facts: Facts) -> list[str]:
    """Return the stages that began before what comes before them had ended and set."""
    broken = []
    released: dict[tuple[int, str], datetime] = {}
    running: set[tuple[int, str]] = set()
    for event in facts.happenings:
        here = (event.case, event.key)
        if event.kind == "stage.started":
            running.add(here)
            broken += _early(facts, event, released)
        elif event.kind == "stage.finished":
            if here not in running:
                broken += _early(facts, event, released)
            running.discard(here)
            if event.facts["state"] == "done":
                released[here] = event.at
        elif event.kind in ("stage.skipped", "stage.came-back", "stage.countersigned"):
            released[here] = event.at
        elif event.kind == "case.sent-back":
            for key in event.facts["reopened"]:
                released.pop((event.case, key), None)
                running.discard((event.case, key))
        elif event.kind == "stage.not-signed":
            released.pop(here, None)
    return broken


def _early(
    facts: Facts, event: Happening, released: dict[tuple[int, str], datetime]
) -> Iterator[str]:
    for before, after, least in facts.edges.get(event.case, ()):
        if after != event.key:
            continue
        ended = released.get((event.case, before))
        if ended is None:
            yield f"case {event.case}: {after} began at {event.at} before {before} had ended"
        elif event.at < ended + timedelta(minutes=least) and before != "soak":
            yield f"case {event.case}: {after} began {event.at - ended} after {before}"


def cast_in_two_hands(facts: Facts) -> list[str]:
    """Return where two stages had the one cast of a case at the same time."""
    broken = []
    by_case = defaultdict(list)
    for hands in facts.hands:
        if hands.needs_cast:
            by_case[hands.case].append(hands)
    for case, rows in by_case.items():
        rows.sort(key=lambda one: one.began)
        for one, other in itertools.pairwise(rows):
            if other.began < one.ended:
                broken.append(f"case {case}: {one.key} and {other.key} had the cast at once")
    return broken


def thing_taken_twice(facts: Facts) -> list[str]:
    """Return the things that two cases had at the same time."""
    broken = []
    by_thing = defaultdict(list)
    for row in facts.taken:
        by_thing[row.thing].append(row)
    for thing, rows in by_thing.items():
        rows.sort(key=lambda one: one.since)
        for one, other in itertools.pairwise(rows):
            if other.since < one.until:
                broken.append(f"thing {thing}: cases {one.case} and {other.case} had it at once")
    return broken


def without_skill(facts: Facts) -> list[str]:
    """Return who worked at something that they cannot do."""
    return [
        f"{facts.names[hands.person]} did {hands.key} without {hands.skill}"
        for hands in facts.hands
        if hands.skill
        and hands.skill not in facts.skills.get(hands.person, frozenset())
        and not (hands.skill == "desk" and hands.person in facts.desk)
    ]


def out_of_shift(facts: Facts) -> list[str]:
    """Return who worked at lunch, at night, on a closed day or while away."""
    return [
        f"{facts.names[hands.person]} did {hands.key} from {hands.began} to {hands.ended}"
        for hands in facts.hands
        if not _on_shift(facts, hands)
    ]


def _on_shift(facts: Facts, hands: Hands) -> bool:
    began, ended = hands.began.astimezone(facts.zone), hands.ended.astimezone(facts.zone)
    day = began.date()
    if day in facts.closed or ended.date() != day:
        return False
    if any(first <= day <= last for first, last in facts.away.get(hands.person, ())):
        return False
    spans = facts.shifts.get((hands.person, day.weekday()), ())
    return any(begins <= began.time() and ended.time() <= ends for begins, ends in spans)


def in_two_places(facts: Facts) -> list[str]:
    """Return who had two different things in hand at once; one stage for several cases is one."""
    broken = []
    by_person = defaultdict(list)
    for hands in facts.hands:
        by_person[hands.person].append(hands)
    for person, rows in by_person.items():
        rows.sort(key=lambda one: one.began)
        for one, other in itertools.pairwise(rows):
            together = one.key == other.key and one.began == other.began
            # The desk packs a box and hands it over in one movement each.
            if other.began < one.ended and not together and other.key not in ("pack-out", "send"):
                broken.append(f"{facts.names[person]}: {one.key} and {other.key} at once")
    return broken


RULES = (
    out_of_order, cast_in_two_hands, thing_taken_twice, without_skill, out_of_shift,
    in_two_places,
)  # fmt: skip
