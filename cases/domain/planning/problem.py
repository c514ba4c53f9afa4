"""What is to be planned, whole, and what a plan of it is.

All times are whole minutes after one instant that the caller knows. Calendars come as spans of
such minutes, so a night on which the clocks change is as long as it is. Spans are [start, end).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from math import ceil
from typing import Literal

Span = tuple[int, int]
Kind = Literal["attended", "unattended", "load", "external"]
Until = Literal["", "rest", "practice", "supplier", "laboratory", "repairer"]


@dataclass(frozen=True)
class After:
    """A stage comes after ``stage``: ``least`` minutes after its end, at ``most`` so many."""

    stage: str
    least: int = 0
    most: int | None = None


@dataclass(frozen=True)
class Running:
    """What goes on or is frozen: it stays as it is. ``end`` is when it is expected to end.

    A load in the bath names ``bath``; who belongs to the same load has the same bath and start.
    """

    start: int
    end: int
    person: str = ""
    bath: str = ""


@dataclass(frozen=True)
class Pin:
    """A choice that a manager made: who, when, or both; of a load in which bath and when.

    Pieces that are pinned to one bath, minute and program are one load, and no others go into it.
    """

    person: str = ""
    start: int | None = None
    bath: str = ""


@dataclass(frozen=True)
class Stage:
    """One stage still to do.

    Attributes
    ----------
    minutes
        Of hands at pace 1 for attended stages, of the clock for the others. A load lasts as
        long as its program.
    pausable
        Whether the hands may leave it over a break or a night and go on afterwards.
    sign, sign_skill
        Minutes of a countersign that a student's work needs before anything follows; 0: none.
        Who signs must have the skill ``sign_skill``, if one is named.
    batch, setup
        Stages of the same ``batch`` may be done together; they share the ``setup`` minutes.
    not_before, latest
        When it may start at the earliest and must have started at the latest, whatever it
        comes after: waits that run already, holds with an expected end.
    other_than, not_by
        The stage before this one whose doer does not do it, and who did where that is over: a
        second pair of eyes, where somebody else can (``somebody_else``).
    until
        What ``not_before`` waits for, where it is known: "rest", setting or cooling that runs
        already, or who has to act first. It is said as a reason; nothing is planned by it.
    """

    key: str
    case: str
    kind: Kind
    minutes: int
    skill: str = ""
    station: str = ""
    after: tuple[After, ...] = ()
    pausable: bool = True
    sign: int = 0
    sign_skill: str = ""
    batch: str = ""
    setup: int = 0
    program: str = ""
    not_before: int = 0
    latest: int | None = None
    running: Running | None = None
    pin: Pin | None = None
    other_than: str = ""
    not_by: str = ""
    until: Until = ""


@dataclass(frozen=True)
class Case:
    """One open case. It leaves with the first van after its last stage (at once, if no vans are
    known), and is late by what that is past ``due``: when it must leave, so the transit days of
    its practice are in ``due`` already. ``unrushed`` is the weight that it would have if it were no
    rush: a remake keeps its own."""

    key: str
    due: int
    weight: float = 1.0
    release: int = 0
    vans: tuple[int, ...] = ()
    unrushed: float = 1.0


@dataclass(frozen=True)
class Person:
    """Hands. ``skills`` are pairs of a skill and the pace: 1.2 takes a fifth longer.

    Who does not work at a ``bench`` only signs what students did. Who ``stays`` works the
    ``overtime`` too; of others it is only named as what would save a late case.
    """

    key: str
    skills: tuple[tuple[str, float], ...]
    hours: tuple[Span, ...]
    overtime: tuple[Span, ...] = ()
    stays: bool = False
    student: bool = False
    may_sign: bool = False
    bench: bool = True

    @property
    def working(self) -> tuple[Span, ...]:
        """The spans of work, in order and joined where they touch."""
        joined: list[Span] = []
        for start, end in sorted(self.hours + (self.overtime if self.stays else ())):
            if joined and start <= joined[-1][1]:
                joined[-1] = (joined[-1][0], max(end, joined[-1][1]))
            else:
                joined.append((start, end))
        return tuple(joined)


@dataclass(frozen=True)
class Station:
    """A place of work, ``count`` times."""

    key: str
    count: int = 1


@dataclass(frozen=True)
class Thing:
    """A flask, a clamp, the one working cast of a case: what is held over several stages."""

    key: str
    count: int = 1


@dataclass(frozen=True)
class Held:
    """A ``thing`` is held from the start of ``first`` until ``rest`` minutes after ``last``.

    An empty ``first`` means that it is held already.
    """

    thing: str
    first: str
    last: str
    rest: int = 0


@dataclass(frozen=True)
class Program:
    """A way of curing: ``minutes`` in the bath, after ``hands`` minutes of one person who loads."""

    key: str
    minutes: int
    hands: int = 0


@dataclass(frozen=True)
class Bath:
    """A bath with its places and what it can run."""

    key: str
    places: int
    programs: tuple[str, ...]


@dataclass(frozen=True)
class Planned:
    """A stage in a plan. ``together`` names the batch or load; ``signer`` countersigns."""

    stage: str
    start: int
    end: int
    person: str = ""
    bath: str = ""
    together: str = ""
    signer: str = ""
    signed_from: int = 0
    signed_until: int = 0


@dataclass(frozen=True)
class Leaves:
    """When a case leaves, and by how many minutes it is late."""

    case: str
    at: int
    late: int


@dataclass(frozen=True)
class Plan:
    """Who does what when. ``unplanned`` says in words why a stage has no place.

    Attributes
    ----------
    lateness
        Weighted minutes by which ship dates are missed.
    moves
        Stages of the next two days that another person does than in the last plan.
    flow
        Minutes from release to leaving, summed.
    """

    planned: tuple[Planned, ...]
    leaves: tuple[Leaves, ...]
    unplanned: tuple[tuple[str, str], ...] = ()
    lateness: float = 0.0
    moves: int = 0
    flow: int = 0


@dataclass(frozen=True)
class Problem:
    """Everything that a plan depends on.

    ``pairs`` are cases that leave together, ``batch_limits`` how many of a batch at once,
    ``last`` the last published plan, ``keep_until`` the minute until which moving people
    against it counts.
    """

    cases: tuple[Case, ...]
    stages: tuple[Stage, ...]
    persons: tuple[Person, ...] = ()
    stations: tuple[Station, ...] = ()
    things: tuple[Thing, ...] = ()
    held: tuple[Held, ...] = ()
    programs: tuple[Program, ...] = ()
    baths: tuple[Bath, ...] = ()
    pairs: tuple[tuple[str, str], ...] = ()
    batch_limits: tuple[tuple[str, int], ...] = ()
    last: tuple[Planned, ...] = ()
    keep_until: int = 2 * 24 * 60
    horizon: int = 400 * 24 * 60


def somebody_else(
    stage: Stage, persons: Iterable[Person], longest: Mapping[str, int]
) -> tuple[str, ...]:
    """Return who can give a second pair of eyes to a stage: no student, with skill and hours.

    Who did what the stage looks at does it all the same where this is nobody else.

    Parameters
    ----------
    longest
        Of each person the minutes of the longest piece of work without a break.
    """
    found = []
    for one in persons:
        pace = dict(one.skills).get(stage.skill)
        if pace is None or one.student:
            continue
        needed = 1 if stage.pausable else minutes_of_hands(stage.minutes, pace)
        if longest.get(one.key, 0) >= needed:
            found.append(one.key)
    return tuple(found)


def may_sign(person: Person, stage: Stage) -> bool:
    """Return whether a person may countersign a stage that somebody else did."""
    return person.may_sign and stage.sign_skill in {"", *dict(person.skills)}


def minutes_of_hands(minutes: float, pace: float) -> int:
    """Return the minutes that hands of some pace need, rounded up, at least one."""
    return max(1, ceil(minutes * pace - 1e-9))


def van_after(case: Case, done: int) -> int | None:
    """Return when a case that is done leaves, or None when no van is known after that."""
    if not case.vans:
        return done
    return next((van for van in case.vans if van >= done), None)
