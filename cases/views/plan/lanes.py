"""The lanes of one day: where each bar begins and how long it is, in steps of five minutes."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from math import ceil, floor

from cases.domain.calendar import LabCalendar
from cases.models import Bath, Person, PlanStage

STEP = timedelta(minutes=5)
HOUR = 12
"""Steps of an hour."""
EARLIEST, LATEST = time(6), time(20)
"""What a day without open hours shows."""
MARGIN = timedelta(minutes=30)


@dataclass(frozen=True)
class Window:
    """The part of a day that is drawn, whole hours, in UTC."""

    begins: datetime
    ends: datetime

    @property
    def steps(self) -> int:
        """How many steps it has."""
        return round((self.ends - self.begins) / STEP)

    @property
    def hours(self) -> int:
        """How many hours it has."""
        return self.steps // HOUR

    def place(self, begins: datetime, ends: datetime) -> tuple[int, int] | None:
        """Return the first column of a span, counted from 0, and how many; None outside."""
        # Rounded alike at both ends, so that what follows at once does not seem to overlap.
        start = max(0, round((begins - self.begins) / STEP))
        end = min(self.steps, round((ends - self.begins) / STEP))
        return (start, max(1, end - start)) if start < self.steps and end > 0 else None


@dataclass
class Bar:
    """One bar: what one person does at one time, for one case or several; or one load.

    ``loading``: somebody puts the flasks into their bath. ``span`` is from when to when,
    ``words`` all of it as one sentence.
    """

    rows: list[PlanStage]
    column: int
    width: int
    before: bool = False
    after: bool = False
    loading: bool = False
    span: str = ""
    words: str = ""

    @property
    def first(self) -> PlanStage:
        """The row that the bar is named by."""
        return self.rows[0]

    @property
    def more(self) -> int:
        """How many cases there are beside the first."""
        return len(self.rows) - 1

    @property
    def ends_at(self) -> datetime:
        """When it is over; of a load that is put in, the hands that do so."""
        if self.loading:
            return loaded_at(self.rows)
        return max(row.ends_at for row in self.rows)

    @property
    def changed(self) -> bool:
        """Whether the plan before said otherwise."""
        return any(row.was_from is not None for row in self.rows)


@dataclass
class Lane:
    """One lane with its bars and the bands in which nobody is there."""

    name: str
    second: str = ""
    person: Person | None = None
    bath: Bath | None = None
    bars: list[Bar] = field(default_factory=list)
    closed: list[tuple[int, int]] = field(default_factory=list)


def loaded_at(rows: Iterable[PlanStage]) -> datetime:
    """Return when the flasks of a load are in their bath: its hands take the stage's minutes."""
    return max(row.begins_at + timedelta(minutes=row.stage.minutes) for row in rows)


def window_of(day: date, calendar: LabCalendar, rows: Iterable[PlanStage]) -> Window:
    """Return the hours to draw: those of the lab, and what is planned outside them by hands."""
    open_ = calendar.open_intervals(day)
    begins = open_[0][0] if open_ else calendar.at(day, EARLIEST)
    ends = open_[-1][1] if open_ else calendar.at(day, LATEST)
    for row in rows:
        if row.person_id is not None and row.bath_id is None:
            if calendar.local_day(row.begins_at) == day:
                begins = min(begins, row.begins_at)
            if calendar.local_day(row.ends_at) == day:
                ends = max(ends, row.ends_at)
    hour = timedelta(hours=1)
    midnight = calendar.at(day, time(0))
    return Window(
        midnight + floor((begins - midnight - MARGIN) / hour) * hour,
        midnight + ceil((ends - midnight + MARGIN) / hour) * hour,
    )


def _grouped(rows: Sequence[PlanStage]) -> list[list[PlanStage]]:
    """Put together what is done together: the same name, or the same bath at the same time."""
    found: dict[tuple[object, ...], list[PlanStage]] = {}
    for row in rows:
        name: tuple[object, ...] = (row.pk,)
        if row.bath_id is not None:
            name = (row.bath_id, row.begins_at)
        elif row.together:
            name = (row.together, row.begins_at)
        found.setdefault(name, []).append(row)
    return list(found.values())


def bars(window: Window, rows: Sequence[PlanStage], *, loading: bool = False) -> list[Bar]:
    """Return the bars of a lane, in order.

    Parameters
    ----------
    loading
        The rows are loads, and what is drawn are the hands that put them into their bath.
    """
    found = []
    for group in _grouped(rows):
        bar = Bar(group, 0, 0, loading=loading)
        begins, ends = group[0].begins_at, bar.ends_at
        place = window.place(begins, ends)
        if place is not None:
            bar.column, bar.width = place
            bar.before, bar.after = begins < window.begins, ends > window.ends
            found.append(bar)
    return found


def of_hands(window: Window, rows: Sequence[PlanStage]) -> list[Bar]:
    """Return the bars of what one person does: stages, and loads that are still to be put in."""
    to_load = [row for row in rows if row.bath_id is not None and row.stage.state == "planned"]
    by_hand = [row for row in rows if row.bath_id is None]
    both = bars(window, by_hand) + bars(window, to_load, loading=True)
    return sorted(both, key=lambda bar: (bar.first.begins_at, bar.first.pk))


def bands(window: Window, open_: Iterable[tuple[datetime, datetime]]) -> list[tuple[int, int]]:
    """Return the spans of a window outside some hours, as columns and widths."""
    found, now = [], window.begins
    for begins, ends in open_:
        place = window.place(now, begins) if begins > now else None
        if place is not None:
            found.append(place)
        now = max(now, ends)
    if now < window.ends:
        place = window.place(now, window.ends)
        if place is not None:
            found.append(place)
    return found


def hours(window: Window, calendar: LabCalendar) -> list[tuple[int, str]]:
    """Return the column and the words of each whole hour."""
    found, at = [], window.begins
    while at < window.ends:
        column = round((at - window.begins) / STEP)
        found.append((column, f"{at.astimezone(calendar.zone):%-H}"))
        at += timedelta(hours=1)
    return found
