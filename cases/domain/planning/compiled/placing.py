"""Kernels that give one stage its place, or take back all places since ``begin``."""

from __future__ import annotations

from cases.domain.planning.compiled.arrays import ATTENDED
from cases.domain.planning.compiled.arrays import LOAD as IN_LOAD
from cases.domain.planning.compiled.bounds import kept_from, slack
from cases.domain.planning.compiled.engine import lean
from cases.domain.planning.compiled.rooms import find, full, insert, note, remove, room, take
from cases.domain.planning.compiled.table import (
    BATHS,
    BATHS_END,
    END,
    FITS,
    FITS_END,
    FREE,
    HANDS,
    JOINED,
    JOINS,
    KEPT_BY,
    KEPT_FROM,
    KEPT_UNTIL,
    KIND,
    LASTS,
    LOAD,
    LOAD_BATH,
    LOAD_END,
    LOAD_OURS,
    LOAD_PERSON,
    LOAD_PROGRAM,
    LOAD_START,
    LOADS,
    MAY_DO,
    MAY_DO_END,
    MEMBERS,
    MINUTES,
    NEXT,
    NOTED,
    PAUSABLE,
    PERSON,
    PIN_START,
    PLACED,
    PROGRAM,
    SIGN,
    SIGNED_FROM,
    SIGNED_UNTIL,
    SIGNER,
    SIGNERS,
    SIGNERS_END,
    START,
    STATION,
    STUDENT,
    TOGETHER,
    State,
    Table,
)
from cases.domain.planning.floor import TRIES
from cases.domain.planning.shop import NEVER


@lean
def begin(state: State) -> None:
    """From here on everything can be given back."""
    state.counters[NOTED] = state.counters[PLACED] = 0


@lean
def put(state: State, at: int, start: int, end: int, person: int) -> None:
    """Give a stage its place."""
    own = state.place[at]
    own[START], own[END], own[FREE], own[PERSON] = start, end, end, person
    state.placed[state.counters[PLACED]] = at
    state.counters[PLACED] += 1


@lean
def leave_load(state: State, number: int) -> None:
    """Take one out of a load; a load without members is no more."""
    load = state.load[number]
    load[MEMBERS] -= 1
    if load[MEMBERS]:
        return
    bath, previous = load[LOAD_BATH], -1
    one = state.first_load[bath]
    while one != number:
        previous, one = one, state.load[one, NEXT]
    if previous < 0:
        state.first_load[bath] = load[NEXT]
    else:
        state.load[previous, NEXT] = load[NEXT]
    if state.last_load[bath] == number:
        state.last_load[bath] = previous


@lean
def give_back(state: State) -> None:
    """Undo everything since ``begin``."""
    taken, journal = state.taken, state.journal
    for at in range(state.counters[NOTED] - 1, -1, -1):
        row, start, end = journal[at, 0], journal[at, 1], journal[at, 2]
        if journal[at, 3]:
            remove(taken, row, find(taken, row, start, end))
        else:
            insert(taken, row, start, end)
    for number in range(state.counters[PLACED]):
        own = state.place[state.placed[number]]
        own[START] = own[END] = own[FREE] = own[PERSON] = own[SIGNER] = -1
        own[TOGETHER] = 0
        if own[LOAD] >= 0:
            leave_load(state, own[LOAD])
            own[LOAD] = -1
    begin(state)


@lean
def open_load(state: State, bath: int, program: int, start: int, end: int, person: int) -> int:
    """Open a load, and return its number.

    Raises
    ------
    OverflowError
        When there is no room for its row.
    """
    number = state.counters[LOADS]
    if number == len(state.load):
        raise OverflowError("more loads than rows")
    load = state.load[number]
    load[LOAD_BATH], load[LOAD_PROGRAM], load[LOAD_PERSON] = bath, program, person
    load[LOAD_START], load[LOAD_END] = start, end
    load[LOAD_OURS], load[MEMBERS], load[NEXT] = 1, 0, -1
    if state.last_load[bath] < 0:
        state.first_load[bath] = number
    else:
        state.load[state.last_load[bath], NEXT] = number
    state.last_load[bath] = number
    state.counters[LOADS] += 1
    return number


@lean
def join(state: State, at: int, number: int) -> None:
    """Put a stage into a load."""
    state.load[number, MEMBERS] += 1
    state.place[at, LOAD], state.place[at, JOINED] = number, state.counters[JOINS]
    state.counters[JOINS] += 1


@lean
def sign(table: Table, state: State, at: int) -> bool:
    """Find somebody who countersigns what a student did."""
    own, minutes = state.place[at], table.stage[at, SIGN]
    doer, persons = own[PERSON], table.calendar.person
    if not minutes or doer < 0 or not persons[doer, STUDENT]:
        return True
    start, end, who = NEVER, NEVER, -1
    for number in range(table.stage[at, SIGNERS], table.stage[at, SIGNERS_END]):
        person = table.signers[number]
        if person != doer:
            begun, ended = room(
                table.calendar, state.taken, person, own[END], minutes, False, -1, NEVER
            )
            if (ended, begun, person) < (end, start, who):
                start, end, who = begun, ended, person
    if who < 0 or end >= NEVER:
        return False
    take(state.taken, state.journal, state.counters, who, start, end)
    own[SIGNER], own[SIGNED_FROM], own[SIGNED_UNTIL] = who, start, end
    own[FREE] = end
    return True


@lean
def row_of(table: Table, at: int) -> int:
    """Return the row of a stage's station in what is taken, -1 for none."""
    station = table.stage[at, STATION]
    return station + len(table.calendar.person) if station >= 0 else -1


@lean
def place(table: Table, state: State, at: int, earliest: int, patience: int) -> bool:
    """Give a stage the first place from ``earliest`` on."""
    kind, pin = table.stage[at, KIND], table.stage[at, PIN_START]
    if pin < NEVER:
        earliest = max(earliest, pin)
    if kind == IN_LOAD:
        return place_load(table, state, at, earliest, patience)
    if kind == ATTENDED:
        return place_hands(table, state, at, max(earliest, 0))
    minutes, station = table.stage[at, MINUTES], row_of(table, at)
    start = max(earliest, 0)
    again = start
    while station >= 0 and again >= 0:
        start = again
        again = full(state.taken, station, start, start + minutes)
    put(state, at, start, start + minutes, -1)
    if station >= 0:
        take(state.taken, state.journal, state.counters, station, start, start + minutes)
    return pin == NEVER or start == pin


@lean
def place_hands(table: Table, state: State, at: int, earliest: int) -> bool:
    """Give an attended stage the first place from ``earliest`` on."""
    stage, own, taken = table.stage[at], state.place[at], state.taken
    station = row_of(table, at)
    if own[KEPT_BY] >= 0:
        kept, from_, until = own[KEPT_BY], own[KEPT_FROM], own[KEPT_UNTIL]
        found = find(taken, kept, from_, until)
        if found >= 0:
            remove(taken, kept, found)
            note(state.journal, state.counters, kept, from_, until, False)
    end, start, person = NEVER, NEVER, -1
    not_by = kept_from(table, state.place, at)
    for number in range(stage[FITS], stage[FITS_END]):
        minutes, one = table.fits[number, 0], table.fits[number, 1]
        if one == not_by or earliest + minutes >= end:
            continue
        begun, ended = room(
            table.calendar, taken, one, earliest, minutes, stage[PAUSABLE] != 0, station, end
        )
        if ended < end:
            end, start, person = ended, begun, one
    pin = stage[PIN_START]
    if person < 0 or end >= NEVER or (pin < NEVER and start != pin):
        return False
    put(state, at, start, end, person)
    take(taken, state.journal, state.counters, person, start, end)
    if station >= 0:
        take(taken, state.journal, state.counters, station, start, end)
    return sign(table, state, at)


@lean
def bath_clash(state: State, bath: int, start: int, end: int) -> int:
    """Return when the load that is in the way ends, or -1."""
    again, number = -1, state.first_load[bath]
    while number >= 0:
        load = state.load[number]
        if load[LOAD_START] < end and load[LOAD_END] > start:
            again = max(again, load[LOAD_END])
        number = load[NEXT]
    return again


@lean
def loader(table: Table, state: State, at: int, earliest: int, minutes: int) -> tuple[int, int]:
    """Return when and by whom a load can be put in at the soonest, NEVER and -1 if never."""
    best, who = NEVER, -1
    for number in range(table.stage[at, MAY_DO], table.stage[at, MAY_DO_END]):
        if best <= earliest:
            break
        person = table.may_do[number]
        start, _ = room(
            table.calendar, state.taken, person, earliest, minutes, False, -1, best + minutes
        )
        if start < best:
            best, who = start, person
    return best, who


@lean
def new_load(
    table: Table, state: State, at: int, earliest: int, latest: int
) -> tuple[int, int, int]:
    """Return start, bath and person of the first load that can be made; start -1 if none can."""
    program = table.program[table.stage[at, PROGRAM]]
    lasts, hands = program[LASTS], program[HANDS]
    best, best_bath, best_person = -1, -1, -1
    for number in range(program[BATHS], program[BATHS_END]):
        bath, start, person = table.baths_for[number], earliest, -1
        found = False
        for _ in range(TRIES):
            again = bath_clash(state, bath, start, start + lasts)
            if again >= 0:
                start = again
                continue
            if start > latest or (best >= 0 and start >= best) or not hands:
                found = True
                break
            soonest, person = loader(table, state, at, start, hands)
            if soonest == start:
                found = True
                break
            start = soonest
        if found and start <= latest and start < NEVER and (best < 0 or start < best):
            best, best_bath, best_person = start, bath, person
    return best, best_bath, best_person


@lean
def planned_load(table: Table, state: State, at: int, earliest: int, latest: int) -> int:
    """Return the first planned load that a stage can still join, or -1."""
    wanted, joined = table.stage[at, PROGRAM], -1
    program = table.program[wanted]
    for place_ in range(program[BATHS], program[BATHS_END]):
        bath = table.baths_for[place_]
        number = state.first_load[bath]
        while number >= 0:
            load = state.load[number]
            if (
                load[LOAD_PROGRAM] == wanted
                and earliest <= load[LOAD_START] <= latest
                and load[LOAD_OURS]
                and load[MEMBERS] < table.bath_places[bath]
                and (load[LOAD_PERSON] < 0 or table.may[at, load[LOAD_PERSON]])
                and (joined < 0 or load[LOAD_START] < state.load[joined, LOAD_START])
            ):
                joined = number
            number = load[NEXT]
    return joined


@lean
def place_load(table: Table, state: State, at: int, earliest: int, patience: int) -> bool:
    """Put a stage into a load: one that is planned, or a new one."""
    latest, pin = slack(table, state.place, at), table.stage[at, PIN_START]
    waiting = earliest
    if pin < NEVER:
        latest = min(latest, pin)
    else:
        waiting = max(earliest, min(earliest + patience, latest))
    joined = planned_load(table, state, at, earliest, latest)
    if joined < 0 or state.load[joined, LOAD_START] > waiting:
        start, bath, person = new_load(table, state, at, waiting, latest)
        if start < 0:
            start, bath, person = new_load(table, state, at, earliest, latest)
        if start >= 0 and (joined < 0 or start < state.load[joined, LOAD_START]):
            number = table.stage[at, PROGRAM]
            lasts, hands = table.program[number, LASTS], table.program[number, HANDS]
            joined = open_load(state, bath, number, start, start + lasts, person)
            if person >= 0:
                take(state.taken, state.journal, state.counters, person, start, start + hands)
    if joined < 0:
        return False
    load = state.load[joined]
    put(state, at, load[LOAD_START], load[LOAD_END], load[LOAD_PERSON])
    join(state, at, joined)
    return True
