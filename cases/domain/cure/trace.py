"""Reading the table of a logger: which columns are what, with every other reading there may be.

Nothing is guessed. What can be read in two ways is offered in both, for a person to choose; what
cannot be read is said in one sentence. Text with separators only: workbooks are not read yet.
"""

from __future__ import annotations

import csv
import io
import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from math import isfinite
from typing import Final, Literal

from cases.domain.cure.instants import FORMS, begins_as_date, instants, newest_first
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

# Three days and a half of one reading a second. Assumed: no cure is longer.
MOST_ROWS: Final = 300_000
_MISSING: Final = {"", "-", "--", "---", "nan", "n/a", "err", "error", "null"}
_NUMBER: Final = re.compile(r"([+-]?\d+(?:[.,]\d+)?(?:[eE][+-]?\d+)?)\s*(?:°|º)?\s*([CFcf])?")
_UNIT: Final = re.compile(
    r"(?:°|º|deg\.?|\bin\b|[(\[/_,\s])\s*([CF])(?:[)\]\s]|$)|\b(celsius|fahrenheit)\b", re.I
)
# What is left of a number behind a comma of its own: decimals, or three digits and a point.
_END: Final = re.compile(r"\d{1,3}|\d{3}\.\d+")
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
    """

    times: tuple[TimeColumn, ...]
    heats: tuple[HeatColumn, ...]
    first_row: int
    earliest_row: int
    questions: tuple[str, ...]


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
    """

    samples: Samples
    started: str
    skipped: int
    from_end: bool = False


def split_cells(text: str) -> list[list[str]]:
    """Split the text of a file into rows of cells; the separator is found out.

    Raises
    ------
    ValueError
        The text is no table, or has too many rows.
    """
    text = text.removeprefix("\ufeff")
    if "\x00" in text or "\ufffd" in text[:1000] or text.startswith(("PK\x03", "%PDF")):
        raise ValueError(_("This is no table of text. Save the logger's record as CSV."))
    # A line may end in a carriage return alone, as the reader takes it too.
    if text.count("\n") + text.count("\r") - text.count("\r\n") > MOST_ROWS:
        raise ValueError(
            _("The file has more than %(most)d rows. Export the hours of this cure only.")
            % {"most": MOST_ROWS}
        )
    lines = [line for line in text.splitlines()[:400] if line.strip()]
    counts = {mark: sorted(line.count(mark) for line in lines) for mark in ";\t|,"}
    # A semicolon or a tab separates even where commas are decimal.
    marks = [m for m in ";\t|," if counts[m] and counts[m][len(counts[m]) // 2] > 0]
    if not marks:
        raise ValueError(
            _(
                "No columns were found: a record has an instant and a temperature, with a "
                "semicolon, a comma or a tab between them."
            )
        )
    try:
        rows = list(csv.reader(io.StringIO(text, newline=""), delimiter=marks[0]))
    except csv.Error:
        raise ValueError(_("This is no table of text. Save the record as CSV.")) from None
    return [[cell.strip() for cell in row] for row in rows if any(cell.strip() for cell in row)]


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
    first = _first_row(rows)
    where = [n for n in range(first, len(rows)) if len(rows[n]) == len(rows[first])]
    body = [rows[n] for n in where]
    header = list(rows[first - 1]) if first else []
    names = [
        header[n] if n < len(header) and header[n] else _("column %(n)d") % {"n": n + 1}
        for n in range(len(rows[first]))
    ]
    times = find_times(body, names, growing=growing)
    left = max((rows_below(body, time.columns) for time in times), default=0)
    some = sample(body[: len(body) - left])
    _refuse_parted(header, some)
    told = any(FORMS[time.form].dated for time in times)
    bad = None if told else bad_instant(body, names, dated=bool(times))
    taken = {column for time in times for column in time.columns}
    heats = _heats(some, names, taken if len(taken) < len(names) else set())
    if not times:
        if bad:
            raise ValueError(
                _("Row %(row)d: “%(cell)s” is no instant. Mend the file or leave the row out.")
                % {"row": where[bad.place] + 1, "cell": bad.cell[:40]}
            )
        refuse_backwards(body, names)
        raise ValueError(
            _(
                "No column was found that says when each reading was taken: export date and time, "
                "or plain numbers without a mark between the thousands."
            )
        )
    if not heats:
        raise ValueError(
            _("No column was found that is a temperature: export the degrees as plain numbers.")
        )
    earliest = where[-1 - left] if any(time.from_end for time in times) else first
    questions = _questions(times, heats)
    if left:
        questions = (*questions, _of_rows_below(body[-left:]))
    if bad:
        questions = (*questions, _of_bad_instant(bad, where[bad.place] + 1))
    return Recognised(times, heats, first, earliest, questions)


def _first_row(rows: Rows) -> int:
    # What stands above a table may be a table too, but no reading is of its width.
    [(usual, _count)] = Counter(map(len, rows)).most_common(1) or [(0, 0)]
    starts = (
        n
        for width in (usual, None)
        for n in range(len(rows) - 1)
        if len(rows[n]) == len(rows[n + 1]) > 1
        and width in {len(rows[n]), None}
        and _figures(rows[n])
        and _figures(rows[n + 1])
    )
    for n in starts:
        return n
    raise ValueError(_("The file has fewer than two rows with an instant and a temperature."))


def _figures(row: Sequence[str]) -> bool:
    """Tell whether two cells or more begin like a number."""
    return sum(any(ch.isdigit() for ch in cell[:2]) or begins_as_date(cell) for cell in row) > 1


def _refuse_parted(header: Sequence[str], some: Rows) -> None:
    """Refuse numbers that were parted at a comma of their own: half of each would be read."""
    if len(header) < 2 or len(header) >= len(some[0]):
        return
    for column in range(len(some[0]) - 1):
        ends = [row[column + 1] for row in some]
        if (
            all(row[column].lstrip("+-").isdecimal() for row in some)
            and all(_END.fullmatch(end) for end in ends)
            and len({len(end.partition(".")[0]) for end in ends}) == 1
        ):
            raise ValueError(
                _(
                    "The rows have more cells than their heading, as where a comma inside a "
                    "number parts it: export the record with a decimal point and without a mark "
                    "between the thousands, or with semicolons between the columns."
                )
            )


def _heats(some: Rows, names: Sequence[str], taken: set[int]) -> tuple[HeatColumn, ...]:
    found = []
    for column, name in enumerate(names):
        cells = [row[column] for row in some if row[column].lower() not in _MISSING]
        values = [number(cell) for cell in cells]
        read = [value for value in values if value is not None]
        if column in taken or _OTHER.search(name) or len(read) < max(2, 0.9 * len(cells)):
            continue
        if not -60 <= min(read) <= max(read) <= 400:
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
    rows: Rows, first_row: int, time: TimeColumn, heat: HeatColumn, *, clock_back: bool = False
) -> Reading:
    """Read a table as a person confirmed it; from its last row where the newest stands first.

    Rows without any instant below the readings, as of a summary, are left out and counted.

    Parameters
    ----------
    clock_back
        Whether the clock went back by an hour within the record, as a person said.

    Raises
    ------
    ValueError
        A cell is no temperature or no instant, or what is read is no record. The sentence
        names the row.
    """
    width = len(rows[first_row])
    where = [n for n in range(first_row, len(rows)) if len(rows[n]) == width]
    below = rows_below([rows[n] for n in where], time.columns)
    where = where[: len(where) - below]
    cells, celsius, skipped = [], [], len(rows) - first_row - len(where)
    for n in where:
        row = rows[n]
        if row[heat.column].lower() in _MISSING:
            skipped += 1
            continue
        value = number(row[heat.column])
        if value is None:
            raise ValueError(
                _("Row %(row)d: “%(cell)s” is no temperature. Mend the file or leave the row out.")
                % {"row": n + 1, "cell": row[heat.column][:40]}
            )
        celsius.append((value - 32) / 1.8 if heat.unit == "F" else value)
        cells.append([row[column] for column in time.columns])
    form = FORMS[time.form]
    from_end = newest_first(form, cells)
    if from_end:
        cells.reverse()
        celsius.reverse()
    seconds, started = instants(form, cells, clock_back=clock_back)
    samples = checked(list(zip(seconds, celsius, strict=True)))
    return Reading(samples, started, skipped, from_end)
