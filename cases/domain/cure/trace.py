"""Reading the table of a logger: which columns are what, with every other reading there may be.

Nothing is guessed. What can be read in two ways is offered in both, for a person to choose; what
cannot be read is said in one sentence.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from math import isfinite
from typing import Final, Literal

from cases.domain.cure.bad_readings import BadReading, BadReadings, alone, neighbours
from cases.domain.cure.cells import first_row, heading, refuse_parted, refuse_parted_dates
from cases.domain.cure.instants import FORMS, instants, newest_first
from cases.domain.cure.quality import FAHRENHEIT_ABOVE_C
from cases.domain.cure.samples import Samples, checked
from cases.domain.cure.time_columns import (
    BadInstant,
    Rows,
    TimeColumn,
    bad_instant,
    find_times,
    refuse_backwards,
    rows_below,
    sample,
)
from cases.domain.words import gettext as _

Unit = Literal["C", "F"]

_MISSING: Final = {"", "-", "--", "---", "nan", "n/a", "err", "error", "null"}
_NUMBER: Final = re.compile(r"([+-]?\d+(?:[.,]\d+)?(?:[eE][+-]?\d+)?)\s*(?:°|º)?\s*([CFcf])?")
_UNIT: Final = re.compile(
    r"(?:°|º|deg\.?|\bin\b|[(\[/_,\s])\s*([CF])(?:[)\]\s]|$)|\b(celsius|fahrenheit)\b", re.I
)
# What a column of temperatures lies between, of either unit. Judgement.
_LEAST, _MOST = -60.0, 400.0
_OTHER: Final = re.compile(r"%|\brh\b|humid|volt|batt|\bno\.?$|^#|index|record|row|sample", re.I)


@dataclass(frozen=True, slots=True)
class HeatColumn:
    """One way to read how hot: a column and its unit; ``stated``: the file says this unit."""

    column: int
    unit: Unit
    stated: bool
    name: str


@dataclass(frozen=True, slots=True)
class Recognised:
    """What a table may be.

    Attributes
    ----------
    times, heats
        Every way to read it, likeliest first.
    first_row
        Where the readings begin, counted from 0.
    earliest_row
        Where the earliest of them stands: there, or at the end of the table.
    questions
        What a person has to settle; also with none they confirm what was recognised.
    bad
        Bad readings of a column in a unit, where it has any.
    """

    times: tuple[TimeColumn, ...]
    heats: tuple[HeatColumn, ...]
    first_row: int
    earliest_row: int
    questions: tuple[str, ...]
    bad: dict[tuple[int, Unit], tuple[BadReading, ...]]


@dataclass(frozen=True, slots=True)
class Reading:
    """A table read as a person confirmed it.

    Attributes
    ----------
    samples
        Seconds from the first reading, and °C.
    started
        What the file says of the first instant, as 2026-12-09T22:00:00; empty where it says none.
    skipped
        Rows without a reading, which leave a gap.
    from_end
        The newest row stood first: they were read from the last one on.
    left_out
        Bad readings that are not among the samples, as a person said.
    """

    samples: Samples
    started: str
    skipped: int
    from_end: bool = False
    left_out: tuple[BadReading, ...] = ()


def number(cell: str) -> float | None:
    """Read a number with a decimal point or comma, and maybe its degree; None for anything else."""
    match = _NUMBER.fullmatch(cell.strip())
    found = float(match[1].replace(",", ".")) if match else None
    return found if found is not None and isfinite(found) else None


def recognise(rows: Rows, *, growing: bool = False) -> Recognised:
    """Say which columns may be what.

    Parameters
    ----------
    growing
        More rows are to come: ways to read that part only there stay apart.

    Raises
    ------
    ValueError
        No column is an instant, or none a temperature. The sentence says which.
    """
    first = first_row(rows)
    where = [n for n in range(first, len(rows)) if len(rows[n]) == len(rows[first])]
    body = [rows[n] for n in where]
    header = heading(rows, first)
    names = [
        header[n] if n < len(header) and header[n] else _("column %(n)d") % {"n": n + 1}
        for n in range(len(rows[first]))
    ]
    times = find_times(body, names, growing=growing)
    left = max((rows_below(body, time.columns) for time in times), default=0)
    some = sample(body[: len(body) - left])
    refuse_parted(header, some)
    told = any(FORMS[time.form].dated for time in times)
    if not told:
        refuse_parted_dates(some)
    unread = None if told else bad_instant(body, names, dated=bool(times))
    taken = {column for time in times for column in time.columns}
    heats = _heats(some, names, taken if len(taken) < len(names) else set())
    if not times:
        if unread:
            raise ValueError(
                _("Row %(row)d: “%(cell)s” is no instant. Mend the file or leave the row out.")
                % {"row": where[unread.place] + 1, "cell": unread.cell[:40]}
            )
        refuse_backwards(body, names)
        raise ValueError(
            _(
                "No column was found that says when each reading was taken: export date and time, "
                "or plain numbers without a mark between the thousands."
            )
        )
    if not heats:
        _refuse_wild(body[: len(body) - left], where, names, taken)
        raise ValueError(
            _("No column was found that is a temperature: export the degrees as plain numbers.")
        )
    earliest = where[-1 - left] if any(time.from_end for time in times) else first
    questions = _questions(times, heats)
    if left:
        questions = (*questions, _of_rows_below(body[-left:]))
    if unread:
        questions = (*questions, _of_bad_instant(unread, where[unread.place] + 1))
    bad = {} if growing else _bad_of(rows, where[: len(where) - left], times[0], heats)
    questions = (*questions, *dict.fromkeys(one.words for found in bad.values() for one in found))
    return Recognised(times, heats, first, earliest, questions, bad)


def _heats(some: Rows, names: Sequence[str], taken: set[int]) -> tuple[HeatColumn, ...]:
    found = []
    for column, name in enumerate(names):
        cells = [row[column] for row in some if row[column].lower() not in _MISSING]
        values = [number(cell) for cell in cells]
        read = [value for value in values if value is not None]
        if column in taken or _OTHER.search(name) or len(read) < max(2, 0.9 * len(cells)):
            continue
        # A single reading that is none says nothing of the unit, nor of what the column is.
        bad = set(alone(read) or alone([in_celsius(value, "F") for value in read]))
        read = [value for place, value in enumerate(read) if place not in bad]
        if not all(_LEAST <= value <= _MOST for value in read):
            continue
        match = _UNIT.search(name) or _NUMBER.fullmatch(cells[0])
        written = (
            (match[1] or match[2] or "")[:1].upper()
            if match and match.re is _UNIT
            else ((match[2] or "").upper() if match else "")
        )
        # What no water bath reaches is asked about, whatever the file says.
        hot = max(read) > FAHRENHEIT_ABOVE_C
        likely: tuple[Unit, ...] = ("F", "C") if hot else ("C", "F")
        units = [u for u in likely if not written or u == written or (hot and u == "F")]
        found += [HeatColumn(column, unit, unit == written, name) for unit in units]
    return tuple(found)


def _refuse_wild(body: Rows, where: Sequence[int], names: Sequence[str], taken: set[int]) -> None:
    """Name a cell that keeps a column from being temperatures, where nearly all others are."""
    for column, name in enumerate(names):
        told = [number(row[column]) for row in body]
        wild = [n for n, value in enumerate(told) if value and not _LEAST <= value <= _MOST]
        few = len(wild) <= len(body) // 10
        if column in taken or _OTHER.search(name) or not (wild and few):
            continue
        if sum(value is not None for value in told) >= 0.9 * len(told):
            raise ValueError(
                _(
                    "Row %(row)d: “%(cell)s” is a temperature that no bath has. Take such rows out "
                    "of the file, or send the record of a sound probe."
                )
                % {"row": where[wild[0]] + 1, "cell": body[wild[0]][column][:40]}
            )


def in_celsius(value: float, unit: str) -> float:
    """Return a temperature in °C; ``unit`` is C or F, as `Unit` has them."""
    return (value - 32) / 1.8 if unit == "F" else value


def _bad_of(
    rows: Rows, where: Sequence[int], time: TimeColumn, heats: Sequence[HeatColumn]
) -> dict[tuple[int, Unit], tuple[BadReading, ...]]:
    """Return the bad readings of each column and unit that has any."""
    found: dict[tuple[int, Unit], tuple[BadReading, ...]] = {}
    told: dict[int, list[tuple[int, float]]] = {}
    for heat in heats:
        if heat.column not in told:
            cells = ((n, number(rows[n][heat.column])) for n in where)
            told[heat.column] = [(n, value) for n, value in cells if value is not None]
        read = [(n, in_celsius(value, heat.unit)) for n, value in told[heat.column]]
        if bad := _bad_readings(rows, read, time, heat):
            found[heat.column, heat.unit] = bad
    return found


def _bad_readings(
    rows: Rows, read: Sequence[tuple[int, float]], time: TimeColumn, heat: HeatColumn
) -> tuple[BadReading, ...]:
    """Name the bad ones among readings, each the place of its row and °C."""
    bad = alone([celsius for _n, celsius in read])
    if not bad:
        return ()
    sound = [place for place in range(len(read)) if place not in bad]

    def cell(place: int | None) -> str:
        return "" if place is None else rows[read[place][0]][heat.column]

    found = []
    for place in bad:
        before, after = neighbours(place, sound)
        at = " ".join(rows[read[place][0]][n] for n in time.columns)
        found.append(BadReading(read[place][0] + 1, at, cell(place), cell(before), cell(after)))
    return tuple(found)


def _questions(times: Sequence[TimeColumn], heats: Sequence[HeatColumn]) -> tuple[str, ...]:
    found = []
    if len({heat.column for heat in heats}) > 1:
        names = ", ".join(dict.fromkeys(heat.name for heat in heats))
        found.append(_("Which column is the bath: %(names)s?") % {"names": names})
    stated = {heat.column for heat in heats if heat.stated}
    if any(heat.column not in stated for heat in heats):
        found.append(_("The file does not say whether the degrees are Celsius or Fahrenheit."))
    hot = dict.fromkeys(heat.name for heat in heats if heat.column in stated and not heat.stated)
    if hot:
        found.append(
            _(
                "The file says °C for %(names)s, but goes above %(most)d, which no water bath "
                "does: are these degrees Fahrenheit?"
            )
            % {"names": ", ".join(hot), "most": FAHRENHEIT_ABOVE_C}
        )
    if any(time.from_end for time in times):
        found.append(
            _(
                "The newest row stands first, so the rows are read from the last to the first: is "
                "that right?"
            )
        )
    if len(times) > 1:
        ways = ", ".join(f"{time.name} ({FORMS[time.form].words})" for time in times)
        found.append(_("The instants can be read in more than one way: %(ways)s.") % {"ways": ways})
    return tuple(found)


def _of_rows_below(below: Rows) -> str:
    said = ", ".join(f"“{' '.join(filter(None, row))[:40]}”" for row in below[:3])
    return _(
        "Below the readings stand rows without an instant (%(rows)s), which are left out: is that "
        "right?"
    ) % {"rows": said if len(below) <= 3 else f"{said}, …"}


def _of_bad_instant(bad: BadInstant, row: int) -> str:
    return _(
        "Row %(row)d: “%(cell)s” is no instant, so the date of the file is not read: mend that row "
        "and send the file again, or say the day yourself."
    ) % {"row": row, "cell": bad.cell[:40]}


def read(
    rows: Rows, first_row: int, time: TimeColumn, heat: HeatColumn, *, clock_back: bool = False,
    leave_out: Sequence[int] = (),
) -> Reading:  # fmt: skip
    """Read a table as a person confirmed it; from its last row where the newest stands first.

    Rows without any instant below the readings, as of a summary, are left out and counted.

    Parameters
    ----------
    clock_back
        Whether the clock went back by an hour within the record, as a person said.
    leave_out
        Rows of bad readings, from 1, that are left out, as a person said.

    Raises
    ------
    BadReadings
        There are bad readings that nobody said to leave out.
    ValueError
        A cell is no temperature or no instant, a row that is to be left out is no bad reading, or
        what is read is no record. The sentence names the row.
    """
    width = len(rows[first_row])
    where = [n for n in range(first_row, len(rows)) if len(rows[n]) == width]
    below = rows_below([rows[n] for n in where], time.columns)
    where = where[: len(where) - below]
    told, skipped = [], sum(map(bool, rows[first_row:])) - len(where)
    for n in where:
        if rows[n][heat.column].lower() in _MISSING:
            skipped += 1
            continue
        value = number(rows[n][heat.column])
        if value is None:
            raise ValueError(
                _("Row %(row)d: “%(cell)s” is no temperature. Mend the file or leave the row out.")
                % {"row": n + 1, "cell": rows[n][heat.column][:40]}
            )
        told.append((n, in_celsius(value, heat.unit)))
    bad = _bad_readings(rows, told, time, heat)
    _refuse_others(leave_out, bad)
    told = [(n, celsius) for n, celsius in told if n + 1 not in leave_out]
    cells = [[rows[n][column] for column in time.columns] for n, _celsius in told]
    celsius = [celsius for _n, celsius in told]
    form = FORMS[time.form]
    from_end = newest_first(form, cells)
    if from_end:
        cells.reverse()
        celsius.reverse()
    seconds, started = instants(form, cells, clock_back=clock_back)
    samples = checked(list(zip(seconds, celsius, strict=True)))
    return Reading(samples, started, skipped, from_end, bad)


def _refuse_others(leave_out: Sequence[int], bad: Sequence[BadReading]) -> None:
    """Refuse to leave out what is no bad reading, and to read what is one."""
    for row in sorted(set(leave_out) - {one.row for one in bad}):
        raise ValueError(
            _("Row %(row)d is no bad reading, so it is not left out. Read the file again.")
            % {"row": row}
        )
    if {one.row for one in bad} - set(leave_out):
        raise BadReadings(bad)
