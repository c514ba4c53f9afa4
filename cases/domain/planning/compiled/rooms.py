"""Kernels about spans: hours of a person, what is taken, and where there is room."""

from __future__ import annotations

from cases.domain.planning.compiled.arrays import Ints
from cases.domain.planning.compiled.engine import lean
from cases.domain.planning.compiled.table import (
    FROM,
    HOURS,
    HOURS_END,
    NOTED,
    UNTIL,
    WORKED,
    WORKED_BEFORE,
    Calendar,
    Taken,
)
from cases.domain.planning.floor import TRIES
from cases.domain.planning.problem import minutes_of_hands
from cases.domain.planning.shop import NEVER

hand_minutes = lean(minutes_of_hands)


@lean
def span_at(calendar: Calendar, person: int, instant: int) -> int:
    """Return the last hours of a person that begin by an instant, or those before his first."""
    low, high = calendar.person[person, HOURS], calendar.person[person, HOURS_END]
    while low < high:
        middle = (low + high) // 2
        if instant < calendar.hours[middle, FROM]:
            high = middle
        else:
            low = middle + 1
    return low - 1


@lean
def finish(calendar: Calendar, person: int, start: int, minutes: int, pausable: bool) -> int:
    """Return when work begun at ``start`` ends, or -1 when it cannot begin there."""
    hours = calendar.hours
    at = span_at(calendar, person, start)
    if at < calendar.person[person, HOURS] or start >= hours[at, UNTIL]:
        return -1
    end = start + minutes
    if end <= hours[at, UNTIL]:
        return end
    if not pausable:
        return -1
    wanted = hours[at, WORKED_BEFORE] + start - hours[at, FROM] + minutes
    last = calendar.person[person, HOURS_END]
    while at < last and hours[at, WORKED] < wanted:
        at += 1
    if at == last:
        return -1
    return hours[at, FROM] + wanted - hours[at, WORKED_BEFORE]


@lean
def next_start(calendar: Calendar, person: int, instant: int) -> int:
    """Return the first minute from ``instant`` on that is worked."""
    at = span_at(calendar, person, instant)
    if at >= calendar.person[person, HOURS] and instant < calendar.hours[at, UNTIL]:
        return instant
    if at + 1 < calendar.person[person, HOURS_END]:
        return calendar.hours[at + 1, FROM]
    return NEVER


@lean
def next_span(calendar: Calendar, person: int, instant: int) -> int:
    """Return the start of the first hours after ``instant``."""
    at = span_at(calendar, person, instant) + 1
    return calendar.hours[at, FROM] if at < calendar.person[person, HOURS_END] else NEVER


@lean
def insert(taken: Taken, row: int, start: int, end: int) -> None:
    """Take a span, in its order."""
    spans = taken.spans[row]
    at = taken.sizes[row]
    while at and (
        spans[at - 1, 0] > start or (spans[at - 1, 0] == start and spans[at - 1, 1] > end)
    ):
        spans[at, 0], spans[at, 1] = spans[at - 1, 0], spans[at - 1, 1]
        at -= 1
    spans[at, 0], spans[at, 1] = start, end
    taken.sizes[row] += 1


@lean
def find(taken: Taken, row: int, start: int, end: int) -> int:
    """Return where a span stands, or -1."""
    for at in range(taken.sizes[row]):
        if taken.spans[row, at, 0] == start and taken.spans[row, at, 1] == end:
            return at
    return -1


@lean
def remove(taken: Taken, row: int, at: int) -> None:
    """Give a span back."""
    spans = taken.spans[row]
    for number in range(at, taken.sizes[row] - 1):
        spans[number, 0], spans[number, 1] = spans[number + 1, 0], spans[number + 1, 1]
    taken.sizes[row] -= 1


@lean
def note(journal: Ints, count: Ints, row: int, start: int, end: int, taken: bool) -> None:
    """Write into the journal what was taken, or else given back."""
    entry = journal[count[NOTED]]
    entry[0], entry[1], entry[2], entry[3] = row, start, end, taken
    count[NOTED] += 1


@lean
def take(taken: Taken, journal: Ints, count: Ints, row: int, start: int, end: int) -> None:
    """Take a person or a station for a while."""
    if end > start:
        insert(taken, row, start, end)
        note(journal, count, row, start, end, True)


@lean
def tidy(taken: Taken, now: int) -> None:
    """Forget what ended before now."""
    for row in range(len(taken.sizes)):
        spans, kept = taken.spans[row], 0
        if taken.sizes[row] and spans[0, 1] <= now:
            for at in range(taken.sizes[row]):
                if spans[at, 1] > now:
                    spans[kept, 0], spans[kept, 1] = spans[at, 0], spans[at, 1]
                    kept += 1
            taken.sizes[row] = kept


@lean
def clash(taken: Taken, row: int, start: int, end: int) -> int:
    """Return the end of what a person does in [start, end) already, or -1."""
    for at in range(taken.sizes[row]):
        if taken.spans[row, at, 0] >= end:
            return -1
        if taken.spans[row, at, 1] > start:
            return taken.spans[row, at, 1]
    return -1


@lean
def first_free(taken: Taken, row: int, start: int, end: int, begun: int) -> int:
    """Return when a place gets free of those taken at ``begun``, or -1 when one is free."""
    there, soonest = 0, NEVER
    for at in range(taken.sizes[row]):
        from_, until = taken.spans[row, at, 0], taken.spans[row, at, 1]
        if from_ >= end:
            break
        if until > start and from_ <= begun < until:
            there += 1
            soonest = min(soonest, until)
    return soonest if there >= taken.places[row] else -1


@lean
def full(taken: Taken, row: int, start: int, end: int) -> int:
    """Return when a place at a full station gets free, or -1 when there is one."""
    if end <= start:
        return -1
    touching = 0
    for at in range(taken.sizes[row]):
        if taken.spans[row, at, 0] >= end:
            break
        if taken.spans[row, at, 1] > start:
            touching += 1
    if touching < taken.places[row]:
        return -1
    again = first_free(taken, row, start, end, start)
    if again >= 0:
        return again
    for at in range(taken.sizes[row]):
        begun = taken.spans[row, at, 0]
        if begun >= end:
            break
        if begun >= start and taken.spans[row, at, 1] > start:
            again = first_free(taken, row, start, end, begun)
            if again >= 0:
                return again
    return -1


@lean
def room(
    calendar: Calendar,
    taken: Taken,
    person: int,
    start: int,
    minutes: int,
    pausable: bool,
    station: int,
    before: int,
) -> tuple[int, int]:
    """Return the first start and end from ``start`` on for a person, by the row of a station.

    (NEVER, NEVER) where there is none that ends before ``before``.
    """
    for _ in range(TRIES):
        start = next_start(calendar, person, start)
        if start + minutes >= before:
            break
        end = finish(calendar, person, start, minutes, pausable)
        if end < 0:
            start = next_span(calendar, person, start)
            continue
        again = clash(taken, person, start, end)
        if again < 0 and station >= 0:
            again = full(taken, station, start, end)
        if again < 0:
            return start, end
        start = again
    return NEVER, NEVER
