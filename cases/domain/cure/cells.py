"""The text of a table as rows of cells: its separator, where the readings begin, stray commas.

A comma that is no separator parts a cell in two. A date is put together again where it is plain
that it was one; numbers never are, for half of one is a number too.
"""

from __future__ import annotations

import csv
import io
import re
from collections import Counter
from collections.abc import Sequence
from itertools import pairwise
from statistics import median
from typing import Final

from cases.domain.cure.instants import FORMS, begins_as_date
from cases.domain.cure.time_columns import Rows, sample
from cases.domain.words import gettext as _

# Three days and a half of one reading a second. Assumed: no cure is longer.
MOST_ROWS: Final = 300_000
# What is left of a number behind a comma of its own: decimals, or three digits and a point.
_END: Final = re.compile(r"\d{1,3}|\d{3}\.\d+")
# A sign or a mark may stand before a number; a letter makes a name of it, as of the probe T1.
_BEGINS: Final = re.compile(r"[^\w\s]?\d")
# A date is parted at two commas at most, and at a third before its time of day.
_MOST_COMMAS: Final = 3
_YEAR: Final = re.compile(r"(?:19|20)\d{2}\b")
_DAY_NAMED: Final = re.compile(r"(?=.*[A-Za-zÄä]{3})(?=.*\d).{4,40}")
_OF_A_CLOCK: Final = re.compile(r"time|zeit|clock|uhr|hour|stunde", re.I)


def split_cells(text: str) -> list[list[str]]:
    """Split the text of a file into rows of cells; the separator is found out.

    A row without any text has no cells, and stays: rows are named by their number in the file.

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
    told = [[cell.strip() for cell in row] for row in rows]
    return [row if any(row) else [] for row in told]


def first_row(rows: Rows) -> int:
    """Return where the readings begin, counted from 0.

    Raises
    ------
    ValueError
        There are not two rows of an instant and a temperature.
    """
    # What stands above a table may be a table too, but no reading is of its width.
    some = [n for n, row in enumerate(rows) if row]
    [(usual, _count)] = Counter(len(rows[n]) for n in some).most_common(1) or [(0, 0)]
    starts = (
        n
        for width in (usual, None)
        for n, after in pairwise(some)
        if len(rows[n]) == len(rows[after]) > 1
        and width in {len(rows[n]), None}
        and _figures(rows[n])
        and _figures(rows[after])
    )
    for n in starts:
        return n
    _refuse_instants_alone(rows, [n for n in some if len(rows[n]) == usual > 1])
    raise ValueError(
        _(
            "The file has fewer than two rows with an instant and a temperature: send the whole "
            "record of this cure."
        )
    )


def heading(rows: Rows, first: int) -> Sequence[str]:
    """Return the row that stands next above the first reading; empty where there is none."""
    return next((row for row in reversed(rows[:first]) if row), ())


def _is_figure(cell: str) -> bool:
    return _BEGINS.match(cell) is not None or begins_as_date(cell)


def _figures(row: Sequence[str]) -> bool:
    """Tell whether two cells or more begin like a number."""
    return sum(map(_is_figure, row)) > 1


def _refuse_instants_alone(rows: Rows, usual: Sequence[int]) -> None:
    """Name a row that says when and not how hot, where most that are no heading do so."""
    alone = [n for n in usual if sum(map(_is_figure, rows[n])) == 1]
    if len(alone) < 2 or len(alone) < len(usual) / 3:
        return
    cells = [cell for cell in rows[alone[0]] if not _is_figure(cell)]
    raise ValueError(
        _(
            "Row %(row)d says “%(cell)s” for a temperature, and %(more)d more rows have none: send "
            "the record of a probe that read, its degrees as plain numbers."
        )
        % {"row": alone[0] + 1, "cell": " ".join(cells)[:40], "more": len(alone) - 1}
    )


def refuse_parted(header: Sequence[str], some: Rows) -> None:
    """Refuse numbers that were parted at a comma of their own: half of each would be read."""
    if len(header) >= len(some[0]):
        return
    for column in range(len(some[0]) - 1):
        ends = [row[column + 1] for row in some]
        if not (
            all(row[column].lstrip("+-").isdecimal() for row in some)
            and all(_END.fullmatch(end) for end in ends)
            and len({len(end.partition(".")[0]) for end in ends}) == 1
        ):
            continue
        if len(header) > 1:
            raise ValueError(
                _(
                    "The rows have more cells than their heading, as where a comma inside a "
                    "number parts it: export the record with a decimal point and without a mark "
                    "between the thousands, or with semicolons between the columns."
                )
            )
        if _are_decimals(ends):
            raise ValueError(
                _(
                    "Columns %(one)d and %(two)d look like one number that its own comma parts, "
                    "and no heading says what they are: export the record with a decimal point, "
                    "with semicolons between the columns, or with a heading."
                )
                % {"one": column + 1, "two": column + 2}
            )


def _are_decimals(ends: Sequence[str]) -> bool:
    """Tell whether figures of one length are what stands behind a comma, and no second reading.

    A single figure is never a bath's temperature, a nought never begins one, and decimals jump
    where a bath creeps.
    """
    if len(set(ends)) < 2 or not all(end.isdecimal() for end in ends):
        return False
    if len(ends[0]) == 1 or any(end.startswith("0") for end in ends):
        return True
    full_scale: int = 10 ** len(ends[0])
    steps = [abs(int(later) - int(earlier)) for earlier, later in pairwise(ends)]
    return median(steps) > full_scale / 10


def rejoined(rows: Rows) -> Rows:
    """Return the rows with every date put together again that commas of its own parted.

    As in ``Dec 8, 2026,10:00,74.1``. Where the heading has fewer cells than the readings, also a
    time of day goes back to its date: else each heading would stand over the wrong column.
    """
    try:
        first = first_row(rows)
    except ValueError:
        return rows
    width = len(rows[first])
    header = heading(rows, first)
    over = width - len(header) if len(header) > 1 else _MOST_COMMAS
    some = sample([row for row in rows[first:] if len(row) == width])
    for commas in range(min(over, _MOST_COMMAS, width - 2), 0, -1):
        for column in range(width - commas):
            after = header[column + 1] if column + 1 < len(header) > 1 else None
            if _is_parted(some, column, column + commas, after):
                return [_joined(row, column, column + commas, width) for row in rows]
    return rows


def _joined(row: Sequence[str], first: int, last: int, width: int) -> Sequence[str]:
    if len(row) != width:
        return row
    whole = ", ".join(row[first : last + 1]) if any(row[first : last + 1]) else ""
    return [*row[:first], whole, *row[last + 1 :]]


def _is_parted(some: Rows, first: int, last: int, after: str | None) -> bool:
    """Tell whether these cells are one instant in nearly all rows, and belong in one column."""
    parts = [row[first : last + 1] for row in some]
    parts = [cells for cells in parts if any(ch.isdigit() for cell in cells for ch in cell)]
    fit = sum(_is_one(cells, after) for cells in parts)
    return fit > 1 and fit >= 0.9 * len(parts)


def _is_one(cells: Sequence[str], after: str | None) -> bool:
    *before, last = cells
    if _YEAR.match(last) and _DAY_NAMED.fullmatch(" ".join(before)):
        return _tells_day(", ".join(cells)) or _reads(("dmy", "mdy"), ", ".join(cells))
    # A date and its time of day, which may as well stand apart: the heading decides.
    day = ", ".join(before)
    return (
        after is not None
        and _OF_A_CLOCK.search(after) is None
        and _tells_day(day)
        and _reads(("dmy", "mdy", "ymd"), f"{day}, {last}")
    )


def _tells_day(text: str) -> bool:
    return _reads(("dmy+", "mdy+", "ymd+"), text, "00:00")


def _reads(forms: Sequence[str], *cells: str) -> bool:
    for form in forms:
        try:
            FORMS[form].seconds(cells)
        except (ValueError, OverflowError):
            continue
        return True
    return False


def refuse_parted_dates(rows: Rows) -> None:
    """Say so where a date was parted at a comma of its own, and nobody put it together."""
    for column in range(len(rows[0]) - 1):
        if all(_DAY_NAMED.fullmatch(row[column]) and _YEAR.match(row[column + 1]) for row in rows):
            raise ValueError(
                _(
                    "A comma inside the date parts it: export the record with semicolons between "
                    "the columns, or with dates like 2026-12-08."
                )
            )
