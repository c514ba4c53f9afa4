"""When the laboratory is open: hours per weekday, closed days, and sums in open minutes.

Opening hours are wall time in the laboratory's zone; every sum is done in UTC, so a night on
which the clocks change is neither an hour too long nor too short. Holidays come in as plain
dates: which days those are is the laboratory's business.

Intervals are ``[start, end)``. Instants in and out are aware; those that come out are in UTC.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

from cases.domain.words import N_
from cases.domain.words import gettext as _

Hours = tuple[tuple[time, time], ...]  # opening spans of one day; an end of 00:00 is midnight
Interval = tuple[datetime, datetime]  # UTC, [start, end)

SEARCH_DAYS = 400  # days looked ahead for an open one before giving up. Judgement.


class NeverOpen(ValueError):
    """The calendar has no open hour within `SEARCH_DAYS`."""


@dataclass(frozen=True)
class LabCalendar:
    """Opening hours of one laboratory.

    Attributes
    ----------
    zone : ZoneInfo
        The zone in which the hours are meant.
    week : tuple of 7 Hours
        Monday first. A day without spans is closed.
    closed_days : frozenset[date]
        Holidays and other days on which nobody works.

    Raises
    ------
    ValueError
        When the week has not seven days, or the spans of a day overlap or run backwards.
    """

    zone: ZoneInfo
    week: tuple[Hours, ...]
    closed_days: frozenset[date] = frozenset()

    def __post_init__(self) -> None:
        if len(self.week) != 7:
            raise ValueError("A week has seven days, Monday first. Give hours for each.")
        for hours in self.week:
            # 00:00 as an end is the midnight that closes the day.
            spans = [(_minute(start), _minute(end) or 24 * 60) for start, end in hours]
            backwards = any(start >= end for start, end in spans)
            if backwards or any(early[1] > late[0] for early, late in pairwise(spans)):
                raise ValueError(
                    "Opening hours of a day must follow each other without overlap, and each "
                    "must end after it begins."
                )

    def is_closed(self, day: date) -> bool:
        """Say whether nobody works on this day."""
        return day in self.closed_days or not self.week[day.weekday()]

    def local_day(self, instant: datetime) -> date:
        """Return the day on the laboratory's wall at this instant."""
        _need_zone(instant)
        return instant.astimezone(self.zone).date()

    def at(self, day: date, wall: time) -> datetime:
        """Return the instant, in UTC, at which the wall clock first shows this time that day.

        A time that the clocks jump over counts as that much later.
        """
        return datetime.combine(day, wall, tzinfo=self.zone).astimezone(UTC)

    def open_intervals(self, day: date) -> tuple[Interval, ...]:
        """Return the open spans of a day in UTC, in order; none on a closed day."""
        if self.is_closed(day):
            return ()
        spans = []
        for start, end in self.week[day.weekday()]:
            opens, closes = self.at(day, start), self._closing(day, end)
            if opens < closes:  # a span that the clocks jump over altogether is gone
                spans.append((opens, closes))
        return tuple(spans)

    def is_open(self, instant: datetime) -> bool:
        """Say whether somebody works at this instant."""
        return any(
            start <= instant < end for start, end in self.open_intervals(self.local_day(instant))
        )

    def next_open(self, instant: datetime) -> datetime:
        """Return the instant itself when open then, else the next opening.

        Raises
        ------
        NeverOpen
            When there is none within `SEARCH_DAYS`.
        """
        for start, end in self._intervals_from(instant):
            if instant < end:
                return max(start, instant.astimezone(UTC))
        raise NeverOpen(_(_NEVER_OPEN))

    def add_open_minutes(self, start: datetime, minutes: float) -> datetime:
        """Return the instant at which so many open minutes after `start` have been worked.

        Work that fills a day exactly ends at closing, not at the next opening. No minutes:
        `start` itself, open or not.

        Raises
        ------
        ValueError
            For negative minutes or a naive `start`.
        NeverOpen
            When the open hours run out within `SEARCH_DAYS`.
        """
        _need_zone(start)
        if minutes < 0:
            raise ValueError("Minutes of work cannot be negative.")
        left = timedelta(minutes=minutes)
        if not left:
            return start.astimezone(UTC)
        for opens, closes in self._intervals_from(start):
            begin = max(opens, start.astimezone(UTC))
            if begin + left <= closes:
                return begin + left
            if begin < closes:
                left -= closes - begin
        raise NeverOpen(_(_NEVER_OPEN))

    def open_minutes_between(self, start: datetime, end: datetime) -> float:
        """Return the open minutes from `start` to `end`, 0 when `end` is not later."""
        total = timedelta(0)
        day, last = self.local_day(start), self.local_day(end)
        while day <= last:
            for opens, closes in self.open_intervals(day):
                total += max(min(closes, end) - max(opens, start), timedelta(0))
            day += timedelta(days=1)
        return total.total_seconds() / 60

    def _closing(self, day: date, end: time) -> datetime:
        """Return the closing instant: the *later* of two when the wall shows the time twice."""
        if end == time(0):
            return self.at(day + timedelta(days=1), end)
        later = datetime.combine(day, end, tzinfo=self.zone).replace(fold=1).astimezone(UTC)
        exists = later.astimezone(self.zone).time() == end
        return later if exists else self.at(day, end)

    def _intervals_from(self, instant: datetime) -> Iterator[Interval]:
        day = self.local_day(instant)
        for ahead in range(SEARCH_DAYS + 1):
            yield from self.open_intervals(day + timedelta(days=ahead))


_NEVER_OPEN = N_(
    "The laboratory has no open hours ahead. Enter its opening hours, or take out closed days."
)


_WEEKDAYS = (
    N_("Monday"), N_("Tuesday"), N_("Wednesday"), N_("Thursday"), N_("Friday"), N_("Saturday"),
    N_("Sunday"),
)  # fmt: skip
_MONTHS = (
    N_("January"), N_("February"), N_("March"), N_("April"), N_("May"), N_("June"), N_("July"),
    N_("August"), N_("September"), N_("October"), N_("November"), N_("December"),
)  # fmt: skip


FAR = timedelta(days=300)
"""A day so far off has its year beside it: without one the nearest of its name is meant.
Judgement."""


def say_day(day: date) -> str:
    """Write a day as people say it: "Tuesday 3 March"."""
    return _("%(weekday)s %(day)d %(month)s") % {
        "weekday": _(_WEEKDAYS[day.weekday()]),
        "day": day.day,
        "month": _(_MONTHS[day.month - 1]),
    }


def is_far(day: date, today: date) -> bool:
    """Tell whether a day is so far from ``today`` that its year is said with it."""
    return abs(day - today) >= FAR


def say_day_from(day: date, today: date) -> str:
    """Write a day as people say it, with its year where it is far from ``today``."""
    if not is_far(day, today):
        return say_day(day)
    return _("%(day)s %(year)d") % {"day": say_day(day), "year": day.year}


def _minute(wall: time) -> int:
    return wall.hour * 60 + wall.minute


def _need_zone(instant: datetime) -> None:
    if instant.tzinfo is None:
        raise ValueError("An instant without a zone says nothing. Give it in UTC.")
