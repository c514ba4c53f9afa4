"""Reading the table of a logger: which columns are what, with every other reading there may be.

Nothing is guessed. What can be read in two ways is offered in both, for a person to choose; what
cannot be read is said in one sentence.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from cases.domain.cure.bad_readings import (
    BadReading,
    BadReadings,
    alone,
    few,
    neighbours,
)
from cases.domain.cure.cells import first_row, heading, refuse_parted, refuse_parted_dates
from cases.domain.cure.heat_columns import (
    MISSING,
    HeatColumn,
    Unit,
    find_heats,
    in_celsius,
    number,
    refuse_kelvin,
    refuse_unread,
    refuse_wild,
)
from cases.domain.cure.instants import DAY_S, FORMS, Form, instants, newest_first
from cases.domain.cure.quality import FAHRENHEIT_ABOVE_C, GAP_S, standing_off
from cases.domain.cure.samples import Samples, checked
from cases.domain.cure.time_columns import (
    BadInstant,
    Rows,
    TimeColumn,
    bad_instant,
    find_times,
    refuse_no_course,
    rows_below,
    sample,
)
from cases.domain.words import gettext as _

Way = tuple[str, tuple[int, ...], int, Unit]


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
        Bad readings by the way to read it, where there are any: of a time's form and columns, and
        of a temperature's column and unit.
    """

    times: tuple[TimeColumn, ...]
    heats: tuple[HeatColumn, ...]
    first_row: int
    earliest_row: int
    questions: tuple[str, ...]
    bad: dict[Way, tuple[BadReading, ...]]


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


def recognise(rows: Rows, *, growing: bool = False, typed: bool = False) -> Recognised:
    """Say which columns may be what.

    Parameters
    ----------
    growing
        More rows are to come: ways to read that part only there stay apart.
    typed
        A person typed them, who was asked for the time of day: nothing else is thought of.

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
    if typed:
        times = tuple(time for time in times if FORMS[time.form].wraps)
    left = max((rows_below(body, time.columns) for time in times), default=0)
    some = sample(body[: len(body) - left])
    refuse_parted(header, some)
    told = any(FORMS[time.form].dated for time in times)
    if not told:
        refuse_parted_dates(some)
    unread = None if told else bad_instant(body, names, dated=bool(times))
    taken = {column for time in times for column in time.columns}
    heats = find_heats(some, names, taken if len(taken) < len(names) else set())
    if not times:
        if unread:
            raise ValueError(
                _("Row %(row)d: “%(cell)s” is no instant. Mend the file or leave the row out.")
                % {"row": where[unread.place] + 1, "cell": unread.cell[:40]}
            )
        refuse_no_course(body, names)
        raise ValueError(
            _(
                "No column was found that says when each reading was taken: export date and time, "
                "or plain numbers without a mark between the thousands."
            )
        )
    if not heats:
        refuse_kelvin(names)
        refuse_wild(body[: len(body) - left], where, names, taken)
        refuse_unread(body[: len(body) - left], where, names, taken)
        raise ValueError(
            _("No column was found that is a temperature: export the degrees as plain numbers.")
        )
    earliest = where[-1 - left] if any(time.from_end for time in times) else first
    questions = _questions(times, heats)
    if left:
        questions = (*questions, _of_rows_below(body[-left:]))
    if unread:
        questions = (*questions, _of_bad_instant(unread, where[unread.place] + 1))
    bad = {} if growing else _bad_of(rows, where[: len(where) - left], times, heats)
    questions = (*questions, *dict.fromkeys(one.words for found in bad.values() for one in found))
    return Recognised(times, heats, first, earliest, questions, bad)


def _bad_of(
    rows: Rows, where: Sequence[int], times: Sequence[TimeColumn], heats: Sequence[HeatColumn]
) -> dict[Way, tuple[BadReading, ...]]:
    """Return the bad readings of each way to read the table that has any."""
    found: dict[Way, tuple[BadReading, ...]] = {}
    told: dict[int, list[tuple[int, float]]] = {}
    for heat in heats:
        if heat.column not in told:
            cells = ((n, number(rows[n][heat.column])) for n in where)
            told[heat.column] = [(n, value) for n, value in cells if value is not None]
        read = [(n, in_celsius(value, heat.unit)) for n, value in told[heat.column]]
        for time in times:
            if bad := _bad_readings(rows, read, time, heat):
                found[time.form, time.columns, heat.column, heat.unit] = bad
    return found


def _bad_readings(
    rows: Rows, read: Sequence[tuple[int, float]], time: TimeColumn, heat: HeatColumn
) -> tuple[BadReading, ...]:
    """Name the bad ones among readings, each the place of its row and °C."""
    celsius = [celsius for _n, celsius in read]
    never = alone(celsius)
    form = FORMS[time.form]

    def near(place: int) -> bool:
        beside = (rows[read[n][0]] for n in (place - 1, place, place + 1))
        return _close(form, [[row[column] for column in time.columns] for row in beside])

    jumped = [place for place in standing_off(celsius) if near(place)]
    both = sorted({*never, *jumped})
    bad = both if few(both, len(celsius)) else never
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


def _close(form: Form, cells: Sequence[Sequence[str]]) -> bool:
    """Tell whether instants follow each other too soon for a bath to get anywhere and back."""
    try:
        told = [form.seconds(one) for one in cells]
    except (ValueError, OverflowError):
        return False
    steps = [abs(later - earlier) for earlier, later in pairwise(told)]
    if form.wraps:
        steps = [min(step, DAY_S - step) for step in steps]
    return max(steps) <= GAP_S


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
    leave_out: Sequence[int] = (), as_kept: bool = False,
) -> Reading:  # fmt: skip
    """Read a table as a person confirmed it; from its last row where the newest stands first.

    Rows without any instant below the readings, as of a summary, are left out and counted.

    Parameters
    ----------
    clock_back
        Whether the clock went back by an hour within the record, as a person said.
    leave_out
        Rows of bad readings, from 1, that are left out, as a person said.
    as_kept
        The record was read and kept before: what was not left out then stays in.

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
        if rows[n][heat.column].lower() in MISSING:
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
    if as_kept:
        bad = tuple(one for one in bad if one.row in leave_out)
    else:
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
