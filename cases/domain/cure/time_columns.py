"""Which columns of a logger's table say when: every way to read them, and what stands in the way.

An instant is never guessed: a way to read reads every row, but for a summary below the readings.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import permutations
from typing import Final

from cases.domain.cure.instants import FORMS, Backwards, Form, instants, newest_first
from cases.domain.words import gettext as _

Rows = Sequence[Sequence[str]]

# Columns among which a date and its time of day may stand anywhere; further right only side by
# side. Judgement: loggers write them first, and each pair costs time.
MOST_PAIRED: Final = 12
# Rows of a summary below the readings: average, least, most and the like. Judgement.
MOST_BELOW: Final = 20
_DIGIT: Final = re.compile(r"\d")


@dataclass(frozen=True, slots=True)
class TimeColumn:
    """One way to read when: the form and the columns that it takes, date before time.

    ``from_end``: the newest row stands first, so that the rows are read from the last one on.
    ``lasts_s``: how long the record then is, in seconds, as far as it was read.
    """

    form: str
    columns: tuple[int, ...]
    name: str
    from_end: bool = False
    lasts_s: float = 0.0


@dataclass(frozen=True, slots=True)
class BadInstant:
    """The first row that is no instant where nearly all others are: its place, and what it says."""

    place: int
    cell: str


def rows_below(rows: Rows, columns: Sequence[int]) -> int:
    """Return how many of the last rows are no readings: there is no figure in these columns."""
    for found, row in enumerate(reversed(rows[-MOST_BELOW - 1 :])):
        if any(_DIGIT.search(row[n]) for n in columns):
            return found
    return 0


def sample(rows: Rows) -> Rows:
    """Return some three hundred of the rows, the first and the last among them."""
    return [*rows[:: max(1, len(rows) // 300)], *rows[-1:]]


def find_times(body: Rows, names: Sequence[str], *, growing: bool) -> tuple[TimeColumn, ...]:
    """Return every way to read the instants of all rows; ``growing`` as for ``recognise``."""
    found = []
    # What was read of which columns: a second form that says the very same is no second way.
    known: list[tuple[object, ...]] = []
    dates: set[int] = set()
    for form, columns in _candidates(names):
        # The dots of a date are those of some clocks too.
        if not _is_of(form, columns, body[0]) or (not form.dated and dates & set(columns)):
            continue
        readings = _readings(body, columns)
        if _reads(form, columns, sample(readings)) is None:
            continue
        said = _reads(form, columns, readings)
        told = (columns, form.wraps, said)
        if said is None or (told in known and not growing):
            continue
        known.append(told)
        if form.cells == 2:
            dates.add(columns[0])
        name = " + ".join(names[n] for n in columns)
        found.append(TimeColumn(form.key, columns, name, said.from_end, said.seconds[-1]))
    return tuple(found if growing else _without_halves(found, body))


def _without_halves(found: list[TimeColumn], body: Rows) -> list[TimeColumn]:
    """Leave out ways to read a time of day alone that has its date beside it.

    What begins within the first hour after midnight may as well be elapsed time beside the date
    of its beginning, and stays.
    """
    clocks = {one.columns[1] for one in found if FORMS[one.form].cells == 2}
    late = {column for column in clocks if _hour(body, column) >= 1}
    return [one for one in found if FORMS[one.form].dated or one.columns[0] not in late]


def _hour(body: Rows, column: int) -> float:
    """Return the earlier hour of the first and the last row of a column of times of day."""
    ends = [body[0], body[len(body) - 1 - rows_below(body, (column,))]]
    return min(FORMS["dmy+"].seconds(["01.01.1970", row[column]]) for row in ends) / 3600


def refuse_no_course(body: Rows, names: Sequence[str]) -> None:
    """Say so where a column would be instants if they did not run backwards, or stand still."""
    for form, columns in _candidates(names):
        if not (form.dated or form.wraps) or not _is_of(form, columns, body[0]):
            continue
        try:
            told = instants(form, _cells(_readings(body, columns), columns), clock_back=True)
        except Backwards:
            raise
        except ValueError:
            continue
        if told[0][-1] == told[0][0]:
            raise ValueError(
                _("All readings are of one instant: send the whole record, from cold to the end.")
            )


def bad_instant(body: Rows, names: Sequence[str], *, dated: bool) -> BadInstant | None:
    """Return the first row that keeps a column from being instants, where one row in ten may.

    ``dated``: only forms that tell the day are thought of.
    """
    best: tuple[int, BadInstant] | None = None
    for form, columns in _candidates(names):
        if dated and not form.dated:
            continue
        readings = _readings(body, columns)
        if _unread(form, columns, sample(readings)) is None:
            continue
        bad = _unread(form, columns, readings)
        if bad and (best is None or len(bad) < best[0]):
            said = " ".join(readings[bad[0]][n] for n in columns)
            best = len(bad), BadInstant(bad[0], said)
        if bad and len(bad) == 1:
            break  # none fits better, and each look at a long table takes a second
    return best[1] if best else None


def _candidates(names: Sequence[str]) -> Iterator[tuple[Form, tuple[int, ...]]]:
    width = len(names)
    near = {(column, column + 1) for column in range(width - 1)}
    pairs = sorted(
        near | set(permutations(range(min(width, MOST_PAIRED)), 2)),
        key=lambda pair: (abs(pair[1] - pair[0]), pair[0] > pair[1], pair),
    )
    singles = [(column,) for column in range(width)]
    for form in FORMS.values():
        for columns in pairs if form.cells == 2 else singles:
            if form.fits_name(names[columns[0]]):
                yield form, columns


def _cells(rows: Rows, columns: Sequence[int]) -> list[list[str]]:
    return [[row[n] for n in columns] for row in rows]


def _readings(body: Rows, columns: Sequence[int]) -> Rows:
    below = rows_below(body, columns)
    return body[: len(body) - below] if below else body


def _is_of(form: Form, columns: Sequence[int], row: Sequence[str]) -> bool:
    try:
        form.seconds([row[n] for n in columns])
    except (ValueError, OverflowError):
        return False
    return True


def _unread(form: Form, columns: Sequence[int], rows: Rows) -> list[int] | None:
    """Return which rows are not of this form; None where they are more than one in ten."""
    most, found = max(1, len(rows) // 10), []
    for place, row in enumerate(rows):
        if not _is_of(form, columns, row):
            found.append(place)
            if len(found) > most:
                return None
    return found if len(rows) - len(found) > 1 else None


@dataclass(frozen=True, slots=True)
class _Said:
    """What some columns say of when, read in one form."""

    seconds: list[float]
    started: str
    from_end: bool


def _reads(form: Form, columns: tuple[int, ...], rows: Rows) -> _Said | None:
    """Return what the columns say in this form; None where they are not of it."""
    cells = _cells(rows, columns)
    from_end = newest_first(form, cells)
    if from_end:
        cells.reverse()
    # A clock on the wall may go back by an hour; whether it did, a person says.
    for clock_back in (False, True) if form.dated or form.wraps else (False,):
        try:
            seconds, started = instants(form, cells, clock_back=clock_back)
        except Backwards:
            continue
        except ValueError:
            return None
        if seconds[-1] <= seconds[0]:
            return None
        # Fractions of a second are not the same to the last digit in every form.
        return _Said([round(second, 3) for second in seconds], started, from_end)
    return None
