"""The promised day: the last ship day that still reaches the practice in time.

Two sides meet here. From the appointment back: the practice wants the piece one of its working
days before the appointment, or by the day it named; the route says on which weekdays a box
leaves and how long it travels. From now forward: the stages still to do, worked by **one pair of
hands** within open hours, with setting, cooling and curing on the clock. When the two do not
meet, the first ship day that does is named and a person must choose.

What the forward sum leaves out: other cases in the house, flasks and baths that are taken, and
stages that may not rest overnight. It says what is possible for this case alone, not what is
planned.

One working day of reserve at the practice: common practice, no published source.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta

from cases.domain.calendar import LabCalendar, say_day
from cases.domain.words import N_
from cases.domain.words import gettext as _

NOT_BEFORE_LEAVING = frozenset({"soak"})
"""Keys of stages whose wait may go on in the bag: they do not move the ship day."""

SEARCH_DAYS = 400  # days looked back or ahead for a ship day. Judgement.
MONDAY_TO_FRIDAY = frozenset(range(5))  # weekday numbers, Monday 0


@dataclass(frozen=True)
class ShipRoute:
    """How boxes travel to one practice.

    Attributes
    ----------
    ship_weekdays : frozenset[int]
        Weekdays on which a box leaves, Monday 0.
    transit_days : int
        Travelling days until it arrives; 0 arrives the same day.
    cut_off : time
        Wall time at the laboratory by which the box must be ready.
    travel_weekdays : frozenset[int]
        Weekdays on which the carrier moves and delivers.
    travel_closed : frozenset[date]
        Days on which the carrier does not move besides.
    practice_weekdays : frozenset[int]
        Weekdays on which the practice is open.
    practice_closed : frozenset[date]
        Days on which the practice is closed besides.
    """

    ship_weekdays: frozenset[int] = MONDAY_TO_FRIDAY
    transit_days: int = 1
    cut_off: time = time(15)
    travel_weekdays: frozenset[int] = MONDAY_TO_FRIDAY
    travel_closed: frozenset[date] = frozenset()
    practice_weekdays: frozenset[int] = MONDAY_TO_FRIDAY
    practice_closed: frozenset[date] = frozenset()

    def __post_init__(self) -> None:
        days = self.ship_weekdays | self.travel_weekdays | self.practice_weekdays
        if not days <= set(range(7)):
            raise ValueError("Weekdays count from 0 for Monday to 6 for Sunday.")
        if self.transit_days < 0:
            raise ValueError("Days on the way cannot be negative.")

    def practice_open(self, day: date) -> bool:
        """Say whether somebody at the practice can take a box in on this day."""
        return day.weekday() in self.practice_weekdays and day not in self.practice_closed

    def arrives(self, ship_day: date) -> date | None:
        """Return the day a box that leaves on `ship_day` is taken in; None when never."""
        left = self.transit_days
        for ahead in range(SEARCH_DAYS + 1):
            day = ship_day + timedelta(days=ahead)
            moving = day.weekday() in self.travel_weekdays and day not in self.travel_closed
            if ahead and left and moving:
                left -= 1
            # A box that arrives the day it leaves is carried by the laboratory itself.
            if not left and (moving or not self.transit_days) and self.practice_open(day):
                return day
        return None


@dataclass(frozen=True)
class Before:
    """A stage that comes before another, with the least wait between the two in minutes."""

    key: str
    wait_minutes: float = 0


@dataclass(frozen=True)
class Step:
    """A stage still to do: attended minutes of one pair of hands, and what comes before it.

    Predecessors that are not among the steps count as done; where a wait after one of them is
    still running, ``not_before`` says until when.
    """

    key: str
    minutes: float
    after: tuple[Before, ...] = ()
    not_before: datetime | None = None


@dataclass(frozen=True)
class Proposal:
    """What the desk is told.

    Attributes
    ----------
    day : date | None
        The ship day to promise; None when it does not fit or no day was asked for.
    fits : bool
        True when the work can be done for `day`.
    first_day_that_fits : date | None
        The first ship day the work can be ready for; None when there is none in sight.
    reasons : tuple[str, ...]
        Whole sentences, the binding one first.
    """

    day: date | None
    fits: bool
    first_day_that_fits: date | None
    reasons: tuple[str, ...]


def must_arrive_by(
    route: ShipRoute, *, appointment_on: date | None, needed_on: date | None
) -> date | None:
    """Return the last day to arrive: the day the practice named, else one of its working days
    before the appointment; None when neither is given, or no such day is in sight.
    """
    if needed_on is not None:
        return needed_on
    if appointment_on is None:
        return None
    for back in range(1, SEARCH_DAYS + 1):
        day = appointment_on - timedelta(days=back)
        if route.practice_open(day):
            return day
    return None


def latest_ship_day(
    route: ShipRoute,
    calendar: LabCalendar,
    *,
    appointment_on: date | None = None,
    needed_on: date | None = None,
) -> date | None:
    """Return the last ship day that reaches the practice in time; None when there is none."""
    last = must_arrive_by(route, appointment_on=appointment_on, needed_on=needed_on)
    if last is None:
        return None
    for back in range(SEARCH_DAYS + 1):
        day = last - timedelta(days=back)
        if _ships(day, route, calendar):
            arrival = route.arrives(day)
            if arrival is not None and arrival <= last:
                return day
    return None


def first_ship_day(route: ShipRoute, calendar: LabCalendar, ready_at: datetime) -> date | None:
    """Return the first ship day whose cut-off is not before `ready_at`; None when never."""
    today = calendar.local_day(ready_at)
    for ahead in range(SEARCH_DAYS + 1):
        day = today + timedelta(days=ahead)
        if _ships(day, route, calendar) and ready_at <= calendar.at(day, route.cut_off):
            return day
    return None


def first_appointment(route: ShipRoute, ship_day: date) -> date | None:
    """Return the first day of an appointment that a box of `ship_day` is in time for; None when
    there is none in sight.
    """
    arrival = route.arrives(ship_day)
    if arrival is None:
        return None
    later = (arrival + timedelta(days=ahead) for ahead in range(1, SEARCH_DAYS + 1))
    return next((day for day in later if route.practice_open(day)), None)


def earliest_finish(steps: Sequence[Step], calendar: LabCalendar, now: datetime) -> datetime:
    """Return the instant at which the last step is done (waits after it are not counted).

    One pair of hands takes the step that is ready first (on a tie: the one listed first).
    Attended minutes pass within open hours, waits on the clock. No steps: `now`.

    Raises
    ------
    ValueError
        When a key is given twice, minutes are negative, or the steps run in a circle.
    NeverOpen
        When the laboratory has no open hours.
    """
    _refuse_impossible(steps)
    here = {step.key for step in steps}
    hands_free = now.astimezone(UTC)
    done: dict[str, datetime] = {}
    waiting = list(steps)
    while waiting:
        ready = [
            (_ready_at(step, done, here, now), place)
            for place, step in enumerate(waiting)
            if all(before.key in done for before in step.after if before.key in here)
        ]
        if not ready:
            keys = ", ".join(step.key for step in waiting)
            raise ValueError(f"These stages wait for each other in a circle: {keys}.")
        ready_at, place = min(ready)
        step = waiting.pop(place)
        if not step.minutes:  # nobody's hands are needed
            done[step.key] = ready_at
            continue
        hands_free = calendar.add_open_minutes(max(ready_at, hands_free), step.minutes)
        done[step.key] = hands_free
    return max(done.values(), default=now.astimezone(UTC))


def propose(
    steps: Sequence[Step],
    route: ShipRoute,
    calendar: LabCalendar,
    *,
    now: datetime,
    appointment_on: date | None = None,
    needed_on: date | None = None,
) -> Proposal:
    """Propose the ship day to promise, or say why it does not fit and which day does.

    Raises
    ------
    ValueError, NeverOpen
        As `earliest_finish`.
    """
    finish = earliest_finish(steps, calendar, now)
    first = first_ship_day(route, calendar, finish)
    wanted = latest_ship_day(route, calendar, appointment_on=appointment_on, needed_on=needed_on)
    if first is None:
        return Proposal(None, False, None, (_(_NO_SHIP_DAY),))
    ready = _("The work can be ready on %(finish)s at the earliest") % {
        "finish": say_day(calendar.local_day(finish))
    }
    if appointment_on is None and needed_on is None:
        reason = _("Neither an appointment nor a day when it is needed is given. Ask the practice.")
        return Proposal(
            None,
            False,
            first,
            (
                reason,
                _("%(ready)s, to leave on %(first)s.") % {"ready": ready, "first": say_day(first)},
            ),
        )
    target = _target_words(route, appointment_on=appointment_on, needed_on=needed_on)
    if wanted is None:
        reason = _("No ship day reaches the practice by %(target)s.") % {"target": target}
        return Proposal(
            None,
            False,
            first,
            (
                reason,
                _("%(ready)s, to leave on %(first)s.") % {"ready": ready, "first": say_day(first)},
            ),
        )
    if first > wanted:
        late = _("It would have to leave on %(wanted)s to be there by %(target)s.") % {
            "wanted": say_day(wanted),
            "target": target,
        }
        arrival = route.arrives(first)
        if arrival:
            choose = _(
                "The first ship day that fits is %(first)s and is at the practice on %(arrival)s. "
                "Choose."
            ) % {"first": say_day(first), "arrival": say_day(arrival)}
        else:
            choose = _("The first ship day that fits is %(first)s. Choose.") % {
                "first": say_day(first)
            }
        return Proposal(None, False, first, (f"{ready}.", late, choose))
    reason = _("%(wanted)s is the last ship day that reaches the practice by %(target)s.") % {
        "wanted": say_day(wanted),
        "target": target,
    }
    return Proposal(wanted, True, first, (reason, f"{ready}."))


_NO_SHIP_DAY = N_(
    "No ship day is in sight. Enter the weekdays on which boxes leave for this practice."
)


def _ships(day: date, route: ShipRoute, calendar: LabCalendar) -> bool:
    return day.weekday() in route.ship_weekdays and not calendar.is_closed(day)


def _refuse_impossible(steps: Sequence[Step]) -> None:
    if len({step.key for step in steps}) != len(steps):
        raise ValueError("A stage is listed twice. List each stage once.")
    if any(step.minutes < 0 or any(b.wait_minutes < 0 for b in step.after) for step in steps):
        raise ValueError("Minutes and waits of a stage cannot be negative.")


def _ready_at(step: Step, done: dict[str, datetime], here: set[str], now: datetime) -> datetime:
    """Return when the step may begin: not before now, nor before the waits ahead of it end."""
    earliest = (now if step.not_before is None else max(now, step.not_before)).astimezone(UTC)
    waits = (
        done[before.key] + timedelta(minutes=before.wait_minutes)
        for before in step.after
        if before.key in here
    )
    return max((earliest, *waits))


def _target_words(route: ShipRoute, *, appointment_on: date | None, needed_on: date | None) -> str:
    if needed_on is not None:
        return _("%(needed_on)s, the day the practice named") % {"needed_on": say_day(needed_on)}
    last = must_arrive_by(route, appointment_on=appointment_on, needed_on=None)
    day = say_day(last) if last else _("a working day")
    return _("%(day)s, one working day before the appointment") % {"day": day}
