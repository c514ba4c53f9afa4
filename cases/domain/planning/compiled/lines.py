"""Kernels of what is taken of hands, of stations and of things, with rooms in any order.

The same as ``timeline``: hands are kept in *worked* minutes, a station by the steps at which it
fills and empties, a thing by since when each free piece is free.
"""

from __future__ import annotations

from cases.domain.planning.compiled.again_state import (
    HANDS_LEFT,
    HANDS_TAKEN,
    NOTED,
    OVERFLOWN,
    PLACE_TAKEN,
    Lab,
)
from cases.domain.planning.compiled.arrays import Ints
from cases.domain.planning.compiled.engine import lean
from cases.domain.planning.compiled.rooms import span_at
from cases.domain.planning.compiled.table import (
    FROM,
    HOURS,
    HOURS_END,
    UNTIL,
    WORKED,
    WORKED_BEFORE,
    Calendar,
)
from cases.domain.planning.shop import NEVER


# ── hands ────────────────────────────────────────────────────────────────────
@lean
def worked_at(calendar: Calendar, person: int, instant: int) -> int:
    """Return how many minutes are worked before an instant."""
    at = span_at(calendar, person, instant)
    if at < calendar.person[person, HOURS]:
        return 0
    hours = calendar.hours
    return hours[at, WORKED_BEFORE] + min(instant, hours[at, UNTIL]) - hours[at, FROM]


@lean
def works_at(calendar: Calendar, person: int, instant: int) -> bool:
    """Return whether a person is at work."""
    at = span_at(calendar, person, instant)
    return at >= calendar.person[person, HOURS] and instant < calendar.hours[at, UNTIL]


@lean
def after(entries: Ints, count: int, column: int, value: int) -> int:
    """Return how many of the first entries are at most a value (``bisect_right``)."""
    low, high = 0, count
    while low < high:
        middle = (low + high) // 2
        if value < entries[middle, column]:
            high = middle
        else:
            low = middle + 1
    return low


@lean
def room_of(
    calendar: Calendar, lab: Lab, person: int, instant: int, minutes: int, pausable: bool
) -> tuple[int, int]:
    """Return start and end of the first room from an instant on, (NEVER, NEVER) if none."""
    first, last = calendar.person[person, HOURS], calendar.person[person, HOURS_END]
    if first == last:
        return NEVER, NEVER
    hours, own, count = calendar.hours, lab.hands[person], lab.hands_count[person]
    now, total = worked_at(calendar, person, instant), hours[last - 1, WORKED]
    next_ = after(own, count, 0, now)
    if next_ and own[next_ - 1, 1] > now:
        now = own[next_ - 1, 1]
    while True:
        while next_ < count and own[next_, 0] < now + minutes:
            now = own[next_, 1]
            next_ += 1
        if now + minutes > total:
            return NEVER, NEVER
        at = first + after(hours[first:last], last - first, WORKED_BEFORE, now) - 1
        if pausable or now + minutes <= hours[at, WORKED]:
            break
        if at + 1 == last:
            return NEVER, NEVER
        now = hours[at + 1, WORKED_BEFORE]
        while next_ < count and own[next_, 0] <= now:
            now = max(now, own[next_, 1])
            next_ += 1
    start = hours[at, FROM] + now - hours[at, WORKED_BEFORE]
    wanted = now + minutes
    while hours[at, WORKED] < wanted:
        at += 1
    return start, hours[at, FROM] + wanted - hours[at, WORKED_BEFORE]


@lean
def insert_span(entries: Ints, count: int, at: int, start: int, end: int) -> None:
    """Put a span at a place, and move up what stands from there on."""
    for number in range(count, at, -1):
        entries[number, 0], entries[number, 1] = entries[number - 1, 0], entries[number - 1, 1]
    entries[at, 0], entries[at, 1] = start, end


@lean
def remove_span(entries: Ints, count: int, at: int) -> None:
    """Take a span away, and move down what stands after it."""
    for number in range(at, count - 1):
        entries[number, 0], entries[number, 1] = entries[number + 1, 0], entries[number + 1, 1]


@lean
def occupy(calendar: Calendar, lab: Lab, person: int, start: int, end: int) -> None:
    """Take what a person works of [start, end), which must be free."""
    begun, ended = worked_at(calendar, person, start), worked_at(calendar, person, end)
    if ended <= begun:
        return
    own, count = lab.hands[person], lab.hands_count[person]
    at = after(own, count, 0, begun - 1)
    left = at > 0 and own[at - 1, 1] >= begun
    right = at < count and own[at, 0] <= ended
    if left and right:
        own[at - 1, 1] = own[at, 1]
        remove_span(own, count, at)
        lab.hands_count[person] -= 1
    elif left:
        own[at - 1, 1] = ended
    elif right:
        own[at, 0] = begun
    elif count < len(own):
        insert_span(own, count, at, begun, ended)
        lab.hands_count[person] += 1
    else:
        lab.counts[OVERFLOWN] = 1


@lean
def vacate(calendar: Calendar, lab: Lab, person: int, start: int, end: int) -> None:
    """Give back what was taken of [start, end)."""
    begun, ended = worked_at(calendar, person, start), worked_at(calendar, person, end)
    if ended <= begun:
        return
    own, count = lab.hands[person], lab.hands_count[person]
    at = after(own, count, 0, begun) - 1
    first, last = own[at, 0], own[at, 1]
    if first < begun and last > ended:
        if count == len(own):
            lab.counts[OVERFLOWN] = 1
            return
        own[at, 1] = begun
        insert_span(own, count, at + 1, ended, last)
        lab.hands_count[person] += 1
    elif first < begun:
        own[at, 1] = begun
    elif last > ended:
        own[at, 0] = ended
    else:
        remove_span(own, count, at)
        lab.hands_count[person] -= 1


# ── stations ─────────────────────────────────────────────────────────────────
@lean
def full_until(lab: Lab, places: Ints, station: int, start: int, end: int) -> int:
    """Return when a place of a station gets free again in [start, end), -1 when there is one."""
    if end <= start:
        return -1
    own, count, most = lab.steps[station], lab.steps_count[station], places[station]
    at = after(own, count, 0, start) - 1
    while at < count and own[at, 0] < end:
        if own[at, 1] >= most:
            while at < count and own[at, 1] >= most:
                at += 1
            return own[at, 0] if at < count else NEVER
        at += 1
    return -1


@lean
def step_at(lab: Lab, station: int, instant: int) -> int:
    """Return the step at an instant, a new one if there is none."""
    own, count = lab.steps[station], lab.steps_count[station]
    at = after(own, count, 0, instant - 1)
    if at == count or own[at, 0] != instant:
        insert_span(own, count, at, instant, own[at - 1, 1])
        lab.steps_count[station] += 1
    return at


@lean
def fill_place(lab: Lab, station: int, start: int, end: int, by: int) -> None:
    """Take a place of a station in [start, end), or with ``by`` -1 give it back."""
    if end <= start:
        return
    own, count = lab.steps[station], lab.steps_count[station]
    if count + 2 > len(own):
        # Steps at which nothing changes are left over from what was undone.
        kept = 1
        for at in range(1, count):
            if own[at, 1] != own[kept - 1, 1]:
                own[kept, 0], own[kept, 1] = own[at, 0], own[at, 1]
                kept += 1
        lab.steps_count[station] = kept
        if kept + 2 > len(own):
            lab.counts[OVERFLOWN] = 1
            return
    first = step_at(lab, station, start)
    for at in range(first, step_at(lab, station, end)):
        own[at, 1] += by


# ── things ───────────────────────────────────────────────────────────────────
@lean
def soonest_free(lab: Lab, piece_from: Ints, thing: int, pieces: int) -> int:
    """Return when so many pieces are free, NEVER when too many are held without an end."""
    at = lab.owed[thing] + pieces - 1
    return lab.pieces[piece_from[thing] + at] if at < lab.pieces_count[thing] else NEVER


@lean
def take_piece(lab: Lab, piece_from: Ints, thing: int, start: int) -> int:
    """Take the piece that got free last before ``start``; return since when it was."""
    first, count = piece_from[thing], lab.pieces_count[thing]
    at = count - 1
    while at > 0 and lab.pieces[first + at] > start:
        at -= 1
    if lab.pieces[first + at] > start:
        at = count - 1
    since = lab.pieces[first + at]
    for number in range(first + at, first + count - 1):
        lab.pieces[number] = lab.pieces[number + 1]
    lab.pieces_count[thing] -= 1
    return since


@lean
def give_piece(lab: Lab, piece_from: Ints, thing: int, instant: int) -> None:
    """A piece is free from an instant on."""
    at = piece_from[thing] + lab.pieces_count[thing]
    if at >= piece_from[thing + 1]:
        lab.counts[OVERFLOWN] = 1
        return
    while at > piece_from[thing] and lab.pieces[at - 1] > instant:
        lab.pieces[at] = lab.pieces[at - 1]
        at -= 1
    lab.pieces[at] = instant
    lab.pieces_count[thing] += 1


# ── with a way back ──────────────────────────────────────────────────────────
@lean
def note(lab: Lab, what: int, one: int, two: int, three: int) -> None:
    """Write into the journal what was done."""
    at = lab.counts[NOTED]
    if at == len(lab.journal):
        lab.counts[OVERFLOWN] = 1
        return
    entry = lab.journal[at]
    entry[0], entry[1], entry[2], entry[3] = what, one, two, three
    lab.counts[NOTED] = at + 1


@lean
def take_hands(calendar: Calendar, lab: Lab, person: int, start: int, end: int) -> None:
    """Take a person in [start, end)."""
    occupy(calendar, lab, person, start, end)
    note(lab, HANDS_TAKEN, person, start, end)


@lean
def leave_hands(calendar: Calendar, lab: Lab, person: int, start: int, end: int) -> None:
    """Give a person back for [start, end)."""
    vacate(calendar, lab, person, start, end)
    note(lab, HANDS_LEFT, person, start, end)


@lean
def take_place(lab: Lab, station: int, start: int, end: int) -> None:
    """Take a place of a station in [start, end); -1 is no station."""
    if station >= 0:
        fill_place(lab, station, start, end, 1)
        note(lab, PLACE_TAKEN, station, start, end)
