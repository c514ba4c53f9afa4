"""The ways in which loggers write when: each a form that either reads all cells or none."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from functools import lru_cache
from itertools import pairwise
from typing import Final

from cases.domain.words import N_
from cases.domain.words import gettext as _

_CLOCK: Final = re.compile(r"(\d{1,2}):(\d{2})(?::(\d{2})(?:[.,](\d+))?)?\s*([AaPp])?\.?[Mm]?\.?")
# With dots only of three parts: two are a number with decimals.
_DOTTED_CLOCK: Final = re.compile(
    r"(\d{1,2})\.(\d{2})\.(\d{2})(?:[.,](\d+))?\s*([AaPp])?\.?[Mm]?\.?"
)
_SPAN: Final = re.compile(r"(?:(\d+)[d.]\s*)?(\d+):(\d{2})(?::(\d{2})(?:[.,]\d+)?)?")
_DOTTED_SPAN: Final = re.compile(r"()(\d+)\.(\d{2})\.(\d{2})(?:,\d+)?")
_THOUSANDS: Final = re.compile(r"\d{1,3}(?:(?:\.\d{3})+(,)|(?:,\d{3})+\.)\d+")
_DATE: Final = re.compile(
    r"(\d{1,4}|[A-Za-zÄä]{3,9})(?:[-./ ]|\. )(\d{1,2}|[A-Za-zÄä]{3,9})[-./ ,]+(\d{1,4})"
)
_ISO: Final = re.compile(r"\d{4}-?\d{2}-?\d{2}[T ]")
_DATE_AND_CLOCK: Final = re.compile(r"(.+?)[,T ]+(\d{1,2}:.*|\d{1,2}\.\d{2}\.\d{2}(?:[.,]\d+)?\D*)")
# Words for a zone that mean one offset everywhere, as CET or EST do not. Source: from memory.
_ZONE: Final = re.compile(r"(?<=[\dMm.])\s*(?:UTC|GMT|Z)", re.I)
# The first three letters, in English and German, as numbers of the calendar.
_MONTHS: Final = {
    name: number
    for number, names in enumerate(
        (
            "jan", "feb", "mar mär mrz mae", "apr", "may mai", "jun", "jul", "aug", "sep",
            "oct okt", "nov", "dec dez",
        ),
        start=1,
    )
    for name in names.split()
}  # fmt: skip
_WEEKDAYS: Final = {
    name: number
    for number, names in enumerate(
        (
            "mon monday mo montag", "tue tues tuesday di dienstag", "wed wednesday mi mittwoch",
            "thu thur thurs thursday do donnerstag", "fri friday fr freitag",
            "sat saturday sa samstag", "sun sunday so sonntag",
        )
    )
    for name in names.split()
}  # fmt: skip
_WEEKDAY: Final = re.compile(rf"({'|'.join(_WEEKDAYS)})\b[.,]*\s*", re.I)
_NAMED: Final = re.compile(
    rf"(?:{_WEEKDAY.pattern})?(?:(?:{'|'.join(_MONTHS)})[a-z]*\.?[-/ ])?\d", re.I
)
DAY_S: Final = 86_400.0
# Units of time that the name of a column may say, also run together: elapsedSec, time_ms.
_UNITS: Final = {
    unit: re.compile(words, re.I)
    for unit, words in {
        "ms": r"milli|(?<![a-z])ms(?![a-z])",
        "s": r"(?<!milli)(?:sec|sek)|(?<![a-z])s(?![a-z])",
        "min": r"(?<![a-z])mins?(?![a-z])|minut",
        "h": r"hour|stunde|std(?![a-z])|(?<![a-z])hr?s?(?![a-z])",
    }.items()
}
# What counts from the beginning without saying its unit may be of any but the rarest.
_COUNTS: Final = re.compile(r"time|elaps|zeit|dauer", re.I)
_EPOCH: Final = datetime(1970, 1, 1, tzinfo=UTC)
# Day 0 of a spreadsheet. Source: common practice of spreadsheets, from memory.
_SHEET: Final = datetime(1899, 12, 30, tzinfo=UTC)


@dataclass(frozen=True, slots=True)
class Form:
    """One way to write an instant.

    Attributes
    ----------
    key, words
        As a choice is kept, and as people read it.
    cells
        How many columns it takes.
    seconds
        Seconds of its cells: from 1970, or elapsed.
    dated, wraps
        Whether a day is told, and whether midnight begins anew.
    unit
        Where the cells are plain numbers that count from the beginning: of this unit. The name of
        the column has to say it, or that it counts and no other unit; empty: any name will do.
    """

    key: str
    words: str
    cells: int
    seconds: Callable[[Sequence[str]], float]
    dated: bool = False
    wraps: bool = False
    unit: str = ""

    def fits_name(self, name: str) -> bool:
        """Whether a column of that name may be of this form."""
        if not self.unit:
            return True
        said = {unit for unit, words in _UNITS.items() if words.search(name)}
        if said:
            return self.unit in said
        return self.unit != "ms" and _COUNTS.search(name) is not None


class Backwards(ValueError):
    """Time runs backwards; the sentence names the reading."""


def begins_as_date(cell: str) -> bool:
    """Tell whether a cell begins with the name of a weekday or a month, and then a figure."""
    return _NAMED.match(cell) is not None


def _without_zone(text: str) -> str:
    text = text.strip()
    match = _ZONE.search(text) if text[-1:].isalpha() else None
    return text[: match.start()] if match and match.end() == len(text) else text


def _clock(text: str) -> float:
    text = text.strip()
    match = _CLOCK.fullmatch(text) or _DOTTED_CLOCK.fullmatch(text)
    if match is None:
        raise ValueError(text)
    hour, minute, second = int(match[1]), int(match[2]), int(match[3] or 0)
    if match[5]:
        if not 1 <= hour <= 12:
            raise ValueError(text)
        hour = hour % 12 + (12 if match[5] in "Pp" else 0)
    if hour > 23 or minute > 59 or second > 59:
        raise ValueError(text)
    return hour * 3600 + minute * 60 + second + float(f"0.{match[4] or 0}")


# A record of a day's seconds says each of its dates some ten thousand times.
@lru_cache(maxsize=256)
def _day(text: str, order: str) -> float:
    text = text.strip()
    weekday = _WEEKDAY.match(text) if text[:1].isalpha() else None
    match = _DATE.fullmatch(text[weekday.end() :] if weekday else text)
    if match is None:
        raise ValueError(text)
    parts = dict(zip(order, match.groups(), strict=True))
    month = parts["m"].lower()[:3]
    # A year of four digits is a year, wherever it stands; of two it is of this century.
    if len(parts["y"]) not in {2, 4} or (len(parts["y"]) == 2 and order == "ymd"):
        raise ValueError(text)
    year = int(parts["y"]) + (2000 if len(parts["y"]) == 2 else 0)
    number = _MONTHS.get(month, 0) if month.isalpha() else int(month)
    day = datetime(year, number, int(parts["d"]), tzinfo=UTC)
    # A weekday that is not the date's says that day and month stand the other way round.
    if weekday and _WEEKDAYS[weekday[1].lower()] != day.weekday():
        raise ValueError(text)
    return (day - _EPOCH).total_seconds()


def _dated(order: str) -> Callable[[Sequence[str]], float]:
    def read(cells: Sequence[str]) -> float:
        if len(cells) == 2:
            return _day(cells[0], order) + _clock(_without_zone(cells[1]))
        match = _DATE_AND_CLOCK.fullmatch(_without_zone(cells[0]))
        if match is None:
            raise ValueError(cells[0])
        return _day(match[1], order) + _clock(match[2])

    return read


def _iso(cells: Sequence[str]) -> float:
    text = cells[0].strip()
    if not _ISO.match(text):
        raise ValueError(text)
    bare = _without_zone(text)
    found = datetime.fromisoformat(bare.replace(",", "."))
    if found.tzinfo and bare != text:
        raise ValueError(text)
    return (found.replace(tzinfo=found.tzinfo or UTC) - _EPOCH).total_seconds()


def _plain(factor: float, low: float, high: float) -> Callable[[Sequence[str]], float]:
    def read(cells: Sequence[str]) -> float:
        text = cells[0].strip()
        # With both marks the first parts the thousands; with one it is a decimal mark.
        if marks := _THOUSANDS.fullmatch(text):
            text = text.replace("." if marks[1] else ",", "")
        value = float(text.replace(",", "."))
        if not low <= value <= high:
            raise ValueError(cells[0])
        return value * factor

    return read


def _sheet(cells: Sequence[str]) -> float:
    return _plain(DAY_S, 30_000, 80_000)(cells) + (_SHEET - _EPOCH).total_seconds()


def _span(first: float, second: float) -> Callable[[Sequence[str]], float]:
    def read(cells: Sequence[str]) -> float:
        text = cells[0].strip()
        match = _SPAN.fullmatch(text) or _DOTTED_SPAN.fullmatch(text)
        if match is None or int(match[3]) > 59 or int(match[4] or 0) > 59:
            raise ValueError(cells[0])
        # With three parts it is h:m:s; with two it is h:m or m:s, which is the form's to say.
        scale = (3600.0, 60.0) if match[4] else (first, second)
        days = int(match[1] or 0) * DAY_S
        return days + int(match[2]) * scale[0] + int(match[3]) * scale[1] + int(match[4] or 0)

    return read


FORMS: Final[dict[str, Form]] = {
    form.key: form
    for form in (
        Form("iso", N_("date and time, year first"), 1, _iso, dated=True),
        Form("ymd", N_("year, month, day"), 1, _dated("ymd"), dated=True),
        Form("dmy", N_("day before month"), 1, _dated("dmy"), dated=True),
        Form("mdy", N_("month before day"), 1, _dated("mdy"), dated=True),
        Form("ymd+", N_("date and time apart, year first"), 2, _dated("ymd"), dated=True),
        Form("dmy+", N_("date and time apart, day before month"), 2, _dated("dmy"), dated=True),
        Form("mdy+", N_("date and time apart, month before day"), 2, _dated("mdy"), dated=True),
        Form("clock", N_("time of day without a date"), 1, lambda c: _clock(c[0]), wraps=True),
        Form("h:m:s", N_("elapsed hours and minutes"), 1, _span(3600, 60)),
        Form("m:s", N_("elapsed minutes and seconds"), 1, _span(60, 1)),
        Form("s", N_("elapsed seconds"), 1, _plain(1, 0, 1e7), unit="s"),
        Form("min", N_("elapsed minutes"), 1, _plain(60, 0, 1e5), unit="min"),
        Form("h", N_("elapsed hours"), 1, _plain(3600, 0, 1e3), unit="h"),
        Form("ms", N_("elapsed milliseconds"), 1, _plain(1e-3, 0, 1e10), unit="ms"),
        Form("unix", N_("seconds since 1970"), 1, _plain(1, 1e9, 4e9), dated=True),
        Form("unix-ms", N_("milliseconds since 1970"), 1, _plain(1e-3, 1e12, 4e12), dated=True),
        Form("sheet", N_("day number of a spreadsheet"), 1, _sheet, dated=True),
    )
}


def tells_zone(form: Form, cells: Sequence[str]) -> bool:
    """Tell whether the seconds of these cells, which are of this form, are of UTC.

    They are where a zone is named or seconds are counted from 1970; else they are what the clock
    on the wall of the logger said.
    """
    if form.key.startswith("unix"):
        return True
    text = cells[-1].strip()
    if not form.dated or form.key == "sheet":
        return False
    if _without_zone(text) != text:
        return True
    return form.key == "iso" and datetime.fromisoformat(text.replace(",", ".")).tzinfo is not None


def newest_first(form: Form, cells: Sequence[Sequence[str]]) -> bool:
    """Tell whether rows run from the newest to the oldest: none is later than the one above it.

    A single step back is none of it, which is a clock that was changed; nor are rows that tell no
    day, since a timer that counts down looks the same.
    """
    if not form.dated or not cells:
        return False
    try:
        if form.seconds(cells[-1]) >= form.seconds(cells[0]):
            return False
        found = [form.seconds(row) for row in cells]
    except (ValueError, OverflowError):
        return False
    return len(set(found)) > 2 and all(later >= earlier for later, earlier in pairwise(found))


def instants(
    form: Form, cells: Sequence[Sequence[str]], *, clock_back: bool = False
) -> tuple[list[float], str]:
    """Return seconds from the first instant, and what the cells say of it.

    Parameters
    ----------
    cells
        One list a row, of as many cells as the form takes.
    clock_back
        Whether one step back of an hour at most is a change of the clock, as a person said.

    Raises
    ------
    ValueError
        A row is not of this form, or time runs backwards. The sentence names the row.
    """
    found: list[float] = []
    shift, may_go_back = 0.0, clock_back
    for n, row in enumerate(cells, start=1):
        try:
            value = form.seconds(row) + shift
        except (ValueError, OverflowError):
            raise ValueError(
                _("Reading %(number)d: “%(cell)s” is no instant of that form.")
                % {"number": n, "cell": " ".join(row)[:40]}
            ) from None
        back = found[-1] - value if found else 0.0
        if form.wraps and back > DAY_S / 2:
            shift, value = shift + DAY_S, value + DAY_S
        elif may_go_back and 0 < back <= 3600:
            # A clock goes back once in a night. More steps back are rows out of order.
            may_go_back = False
            shift, value = shift + 3600, value + 3600
        elif back > 0:
            raise Backwards(_backwards(n, clock_back))
        found.append(value)
    if not found:
        raise ValueError(
            _("There are no readings in the file: export the degrees as plain numbers.")
        )
    started = (_EPOCH + timedelta(seconds=found[0])).isoformat()[:19] if form.dated else ""
    return [value - found[0] for value in found], started


def _backwards(number: int, clock_back: bool) -> str:
    words = (
        _(
            "Time runs backwards at reading %(number)d, and no change of the clock explains it: "
            "put the readings in order, oldest first, and send them again."
        )
        if clock_back
        else _(
            "Time runs backwards at reading %(number)d: unless the clock was put back by an hour "
            "then, put the readings in order, oldest first, and send them again."
        )
    )
    return words % {"number": number}
