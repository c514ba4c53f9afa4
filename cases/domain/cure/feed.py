"""A logger's growing table, a few rows at a time: how it is read, and when each reading was.

The layout is recognised once, from the head of the file, as for a whole record. What a person
said beforehand (unit, order of the date, name of the column) settles what the table leaves open.
"""

from __future__ import annotations

import csv
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from datetime import UTC, datetime, timedelta
from typing import Any, Final
from zoneinfo import ZoneInfo

from cases.domain.cure.cells import split_cells
from cases.domain.cure.heat_columns import HeatColumn, in_celsius, number
from cases.domain.cure.instants import FORMS, tells_zone
from cases.domain.cure.quality import FAHRENHEIT_ABOVE_C
from cases.domain.cure.samples import COLDEST_C
from cases.domain.cure.time_columns import TimeColumn
from cases.domain.cure.trace import recognise
from cases.domain.words import N_
from cases.domain.words import gettext as _

ORDERS: Final[dict[str, str]] = {
    "": N_("as the file says it plainly"),
    "dmy": N_("day before month"),
    "mdy": N_("month before day"),
}
MARKS: Final = ";\t|,"
# A clock may be a little ahead of ours; a whole hour ahead it is in another zone.
AHEAD: Final = timedelta(minutes=5)
OLDEST: Final = timedelta(days=7)
_EPOCH: Final = datetime(1970, 1, 1)  # noqa: DTZ001 - a clock on the wall has no zone


@dataclass(frozen=True, slots=True)
class Layout:
    """How the rows of a logger's file are read: separator, cells a row, columns, unit."""

    mark: str
    width: int
    form: str
    columns: tuple[int, ...]
    column: int
    unit: str

    def as_json(self) -> dict[str, Any]:
        """Return it as it is kept."""
        return asdict(self)

    @classmethod
    def from_json(cls, data: dict[str, Any]) -> Layout:
        """Return it as it was kept."""
        return cls(**{**data, "columns": tuple(data["columns"])})


@dataclass(frozen=True, slots=True)
class Sample:
    """One reading of a bath: when, in UTC, and °C."""

    at: datetime
    celsius: float


@dataclass(frozen=True, slots=True)
class Heard:
    """What some rows gave: samples in order, and the last row that could not be read, in words."""

    samples: tuple[Sample, ...]
    trouble: str = ""


def find_layout(head: str, *, unit: str, order: str = "", column: str = "") -> Layout:
    """Recognise how a file is to be read, from its head.

    Parameters
    ----------
    head
        Whole lines, two readings or more among them.
    unit, order, column
        ``C`` or ``F``, a key of ``ORDERS``, and the name of the temperature's column (empty: the
        only one), as a person said.

    Raises
    ------
    ValueError
        It is no such table, or what a person said does not settle it. The sentence says what to do.
    """
    rows = split_cells(head)
    found = recognise(rows, growing=True)
    first = rows[found.first_row]
    time, heat = _time(found.times, first, order), _heat(found.heats, unit, column)
    line = head.removeprefix("\ufeff").splitlines()[found.first_row]
    mark = next(m for m in MARKS if len(next(csv.reader([line], delimiter=m))) == len(first))
    return Layout(mark, len(first), time.form, time.columns, heat.column, heat.unit)


def _time(times: Sequence[TimeColumn], first: Sequence[str], order: str) -> TimeColumn:
    dated = [one for one in times if FORMS[one.form].dated]
    if not dated:
        raise ValueError(
            _("The file does not say the day of a reading. Have the logger write date and time.")
        )
    right = [one for one in dated if one.form[:3] == order] or dated
    instants = {FORMS[one.form].seconds([first[n] for n in one.columns]) for one in right}
    if len(instants) > 1:
        raise ValueError(
            _("The date can be read in two ways. Say whether the day or the month comes first.")
        )
    return right[0]


def _heat(heats: Sequence[HeatColumn], unit: str, column: str) -> HeatColumn:
    named = [one for one in heats if not column or one.name.strip().lower() == column.lower()]
    names = ", ".join(dict.fromkeys(one.name for one in heats))
    if not named:
        raise ValueError(
            _("No column of temperatures is called “%(column)s”. There is: %(names)s.")
            % {"column": column, "names": names}
        )
    if len({one.column for one in named}) > 1:
        raise ValueError(_("Which column is the bath? Name one of: %(names)s.") % {"names": names})
    right = [one for one in named if one.unit == unit]
    if not right:
        raise ValueError(
            _("The file says °%(there)s, but this feed was set to °%(here)s. Set it anew.")
            % {"there": named[0].unit, "here": unit}
        )
    return right[0]


def hear(
    text: str,
    layout: Layout,
    wall: ZoneInfo,
    now: datetime,
    after: datetime | None = None,
    *,
    begins: bool = False,
) -> Heard:
    """Read whole lines of a file.

    Parameters
    ----------
    wall
        Zone of the logger's clock, where a row names none.
    now
        Readings from after it, or from long before, are not taken.
    after
        The last reading so far: it tells the hour that comes twice when the clock goes back.
    begins
        Whether the file begins here: what stands above the first reading is its heading.

    Returns
    -------
    Heard
        A row that cannot be read is left out; the last of them is the trouble.
    """
    found: list[Sample] = []
    trouble = ""
    lines = [line for line in text.splitlines() if line.strip()]
    for cells in csv.reader(lines, delimiter=layout.mark):
        row = [cell.strip() for cell in cells]
        last = found[-1].at if found else after
        try:
            sample = _sample(row, layout, wall, last)
            check(sample, now)
        except (ValueError, OverflowError, IndexError, csv.Error) as error:
            trouble = _("“%(row)s”: %(why)s") % {"row": " ".join(row)[:60], "why": error}
            continue
        if begins and not found:
            trouble = ""
        found.append(sample)
    return Heard(tuple(found), trouble)


def _sample(
    row: Sequence[str], layout: Layout, wall: ZoneInfo, last: datetime | None
) -> Sample:  # fmt: skip
    value = number(row[layout.column]) if len(row) == layout.width else None
    if value is None:
        raise ValueError(_("this is no reading"))
    cells = [row[n] for n in layout.columns]
    form = FORMS[layout.form]
    try:
        seconds = form.seconds(cells)
    except (ValueError, OverflowError):
        raise ValueError(_("this is no instant of that form")) from None
    universal = tells_zone(form, cells)
    at = datetime.fromtimestamp(seconds, UTC) if universal else on_the_wall(seconds, wall, last)
    return Sample(at, in_celsius(value, layout.unit))


def on_the_wall(seconds: float, wall: ZoneInfo, last: datetime | None) -> datetime:
    """Return the instant of a clock on the wall, in UTC.

    In the night in which the clock goes back an hour comes twice: the first time is meant unless
    a reading was later already.
    """
    bare = _EPOCH + timedelta(seconds=seconds)
    first = bare.replace(tzinfo=wall, fold=0).astimezone(UTC)
    second = bare.replace(tzinfo=wall, fold=1).astimezone(UTC)
    return second if last is not None and second > first and first < last else first


def check(sample: Sample, now: datetime) -> None:
    """Refuse a reading that can be none.

    Raises
    ------
    ValueError
        It is from the future or too old, or no temperature of a bath. The sentence says which.
    """
    if sample.at > now + AHEAD:
        minutes = round((sample.at - now).total_seconds() / 60)
        raise ValueError(
            _("the logger's clock is %(n)d min ahead. Set its clock and its zone.") % {"n": minutes}
        )
    if sample.at < now - OLDEST:
        raise ValueError(_("it is more than a week old. Upload it as the record of its load."))
    if not COLDEST_C <= sample.celsius <= FAHRENHEIT_ABOVE_C:
        raise ValueError(
            _("%(celsius)s °C is no water bath. Were these °F, or is the probe broken?")
            % {"celsius": f"{sample.celsius:.0f}"}
        )
