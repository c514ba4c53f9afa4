"""When each step of a program falls due, and what hands have to do then."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Final, Literal

from cases.domain.calendar import LabCalendar, NeverOpen
from cases.domain.cure.program import Program, say_celsius
from cases.domain.words import gettext as _

Kind = Literal["heat", "raise", "boil", "take-out", "to-water", "may-open"]


@dataclass(frozen=True, slots=True)
class Step:
    """Something that falls due in the course of a load.

    Attributes
    ----------
    kind
        ``heat`` begins; ``raise`` or ``boil`` leads to the program's next stage; ``take-out`` ends
        the time in the bath; ``to-water`` and ``may-open`` belong to the cooling.
    stage
        Number of the program's stage that it leads to, from 0; 0 for the others.
    minute
        Minutes after the heating began.
    words
        What to do, in words.
    """

    kind: Kind
    stage: int
    minute: float
    words: str


LONGEST_DELAY: Final = timedelta(hours=24)
"""A flask that waits longer for its heat has waited too long under the clamp. Judgement."""
NEAREST_GRID: Final = timedelta(minutes=15)
"""So close are the starts that are looked at where none will do. Judgement."""
AFTER_IT: Final = frozenset({"take-out", "to-water"})
BY_HAND: Final = frozenset({"heat", "raise", "boil"})
"""What hands do at any bath, and what a bath with a clock of its own does without them."""
_MOST_SHIFTS: Final = 20


def attended_start(
    program: Program, now: datetime, calendar: LabCalendar, *, starts_itself: bool
) -> datetime | None:
    """Return the first start from which somebody is in the lab for each step of a program.

    Parameters
    ----------
    starts_itself
        The bath has a clock of its own: nobody need be there while it heats.

    Returns
    -------
    datetime or None
        In UTC; ``now`` where that will do, None where no start within `LONGEST_DELAY` does.
    """
    minutes = [step.minute for step in steps(program) if step.kind in _hands(starts_itself)]
    # Whoever puts the flasks in now is there now, whatever the hours say.
    begins = now = now.astimezone(UTC)
    for _shift in range(_MOST_SHIFTS):
        try:
            late = [
                calendar.next_open(at) - at
                for at in (begins + timedelta(minutes=minute) for minute in minutes)
                if at > now and not calendar.is_open(at)
            ]
        except NeverOpen:
            return None
        if not late:
            return begins
        begins += late[0]
        if begins - now > LONGEST_DELAY:
            return None
    return None


def nearest_start(
    program: Program, now: datetime, calendar: LabCalendar, *, starts_itself: bool
) -> tuple[datetime, tuple[Step, ...]] | None:
    """Return the start that misses the least where none has somebody there for each step.

    What counts first is that the flasks do not stay in the bath after its end, then how many steps
    nobody is there for, then how long these are left, then how soon it is.

    Returns
    -------
    tuple or None
        When, in UTC, on a grid of `NEAREST_GRID` from ``now``, and the steps that have nobody;
        None where nobody is ever in the lab.
    """
    wanted = [step for step in steps(program) if step.kind in _hands(starts_itself)]
    now = now.astimezone(UTC)
    # From the second start on at whole quarters: those are what people enter.
    whole = now - timedelta(
        minutes=now.minute % 15, seconds=now.second, microseconds=now.microsecond
    )
    count = LONGEST_DELAY // NEAREST_GRID
    starts = [now, *(whole + n * NEAREST_GRID for n in range(1, count + 1))]

    def missed(begins: datetime) -> tuple[Step, ...]:
        moments = [(step, begins + timedelta(minutes=step.minute)) for step in wanted]
        # Whoever puts the flasks in now is there now.
        return tuple(step for step, at in moments if at > now and not calendar.is_open(at))

    def cost(begins: datetime) -> tuple[float, int, float, datetime]:
        left = [
            (step, (calendar.next_open(at) - at).total_seconds())
            for step in missed(begins)
            for at in [begins + timedelta(minutes=step.minute)]
        ]
        stays = sum(seconds for step, seconds in left if step.kind == "take-out")
        return stays, len(left), sum(seconds for _step, seconds in left), begins

    try:
        begins = min(starts, key=cost)
    except NeverOpen:
        return None
    return begins, missed(begins)


def _hands(starts_itself: bool) -> frozenset[str]:
    return AFTER_IT if starts_itself else AFTER_IT | BY_HAND


def steps(program: Program) -> tuple[Step, ...]:
    """Return the steps of a program in order, from the heating to the opening of the flasks."""
    found = [Step("heat", 0, 0.0, _("start the heating"))]
    minute = 0.0
    for n, hold in enumerate(program.stages):
        if n:
            kind: Kind = "boil" if hold.boil else "raise"
            found.append(Step(kind, n, minute, _to(hold.celsius, hold.boil)))
        minute += hold.ramp_minutes + hold.minutes
    found.append(Step("take-out", 0, minute, _("take the flasks out and let them cool")))
    if program.bench_cool_minutes and program.water_cool_minutes:
        found.append(
            Step("to-water", 0, minute + program.bench_cool_minutes, _("put them into tap water"))
        )
    found.append(
        Step("may-open", 0, minute + program.cooling_minutes, _("the flasks may be opened"))
    )
    return tuple(found)


@dataclass(frozen=True, slots=True)
class Due:
    """A step of one load: when it falls due, or fell, and whether it is done."""

    step: Step
    at: datetime
    done: bool


def course_of(
    program: Program, begins: datetime, now: datetime, *, started: bool, left: datetime | None
) -> tuple[Due, ...]:
    """Return the steps of a load with their instants.

    The cooling is counted from when the flasks left the bath. While they should have left it and
    have not, it is counted from now: a flask that came out late is not cool any sooner.

    Parameters
    ----------
    begins
        The heating; of a load that has not started, when it would.
    left
        When the flasks left the bath; None while they are in it, or are not yet.
    """
    found = []
    due = begins + timedelta(minutes=program.bath_minutes)
    out = left or max(due, now if started else due)
    for step in steps(program):
        if step.kind in BY_HAND:
            at = begins + timedelta(minutes=step.minute)
            found.append(Due(step, at, started and at <= now))
        elif step.kind == "take-out":
            found.append(Due(step, left or due, left is not None))
        else:
            at = out + timedelta(minutes=step.minute - program.bath_minutes)
            found.append(Due(step, at, left is not None and at <= now))
    return tuple(found)


def _to(celsius: float, boil: bool) -> str:
    if boil:
        return _("bring the bath to the boil")
    return _("raise the bath to %(celsius)s °C") % {"celsius": say_celsius(celsius)}
