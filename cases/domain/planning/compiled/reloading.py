"""Kernels of the loads of a plan that is played again: the same as ``reload``."""

from __future__ import annotations

from cases.domain.planning.compiled.again_state import (
    BATH,
    BEGINS_AT,
    CURES,
    IN_BATH,
    LATEST_START,
    LOAD_CLOSED,
    LOAD_MOVED,
    LOAD_OPENED,
    LOADED_BY,
    LOADER,
    LOADS,
    MEANT,
    NAMED,
    NEW_LOAD,
    OVERFLOWN,
    PIECE_TAKEN,
    PLACED,
    PLANNED_LOAD,
    RUNNING_LOAD,
    RUNS,
    SEAT_MEANT,
    SEAT_TAKEN,
    SEATED,
    SINCE,
    UNTIL,
    WITH_LOAD,
    Given,
    Lab,
    Stood,
)
from cases.domain.planning.compiled.bounds import slack
from cases.domain.planning.compiled.engine import lean
from cases.domain.planning.compiled.lines import (
    leave_hands,
    note,
    occupy,
    room_of,
    take_hands,
    take_piece,
    vacate,
)
from cases.domain.planning.compiled.table import (
    BATHS,
    BATHS_END,
    END,
    FOLLOWERS,
    FOLLOWERS_END,
    FREE,
    GIVES,
    GIVES_END,
    HANDS,
    LASTS,
    LATEST,
    LOAD,
    MAY_DO,
    MAY_DO_END,
    PERSON,
    PINNED,
    PROGRAM,
    START,
    TAKES,
    TAKES_END,
    Table,
)
from cases.domain.planning.reload import TRIES, WAITS
from cases.domain.planning.shop import NEVER

TOGETHER_IN_LOAD = -2
"""In the column ``TOGETHER``: with a load."""


@lean
def put(table: Table, given: Given, lab: Lab, at: int, start: int, end: int, person: int) -> None:
    """Give a stage its place, and it the things that it takes."""
    place = lab.place[at]
    place[START], place[END], place[FREE], place[PERSON] = start, end, end, person
    lab.placed[lab.counts[PLACED]] = at
    lab.counts[PLACED] += 1
    for row in range(table.stage[at, TAKES], table.stage[at, TAKES_END]):
        thing = table.takes[row]
        note(lab, PIECE_TAKEN, thing, take_piece(lab, given.piece_from, thing, start), 0)


@lean
def open_load(
    lab: Lab, bath: int, program: int, start: int, end: int, person: int, named: int, meant: int
) -> int:
    """Open a load and return its number."""
    number = lab.counts[LOADS]
    if number == len(lab.load):
        lab.counts[OVERFLOWN] = 1
        return number - 1
    load = lab.load[number]
    load[BATH], load[CURES], load[SINCE], load[UNTIL] = bath, program, start, end
    load[LOADER], load[NAMED], load[MEANT] = person, named, meant
    load[LATEST_START], load[SEATED] = start + WAITS, 0
    lab.in_bath[bath, lab.bath_count[bath]] = number
    lab.bath_count[bath] += 1
    lab.counts[LOADS] += 1
    return number


@lean
def close_load(lab: Lab, number: int) -> None:
    """Take a load out of its bath."""
    bath = lab.load[number, BATH]
    inside, count = lab.in_bath[bath], lab.bath_count[bath]
    for at in range(count):
        if inside[at] == number:
            inside[at] = inside[count - 1]
            lab.bath_count[bath] -= 1
            return


@lean
def reopen_load(lab: Lab, number: int) -> None:
    """Put a load back into its bath."""
    bath = lab.load[number, BATH]
    lab.in_bath[bath, lab.bath_count[bath]] = number
    lab.bath_count[bath] += 1


@lean
def leave_seat(lab: Lab, at: int, number: int) -> None:
    """Take a stage out of a load."""
    members, count = lab.members[number], lab.load[number, SEATED]
    found = 0
    while members[found] != at:
        found += 1
    for seat in range(found, count - 1):
        members[seat] = members[seat + 1]
    lab.load[number, SEATED] = count - 1
    lab.place[at, LOAD] = -1


@lean
def set_load(table: Table, lab: Lab, number: int, start: int, person: int) -> None:
    """Let a load begin at another minute, with all its stages."""
    load = lab.load[number]
    end = start + table.program[load[CURES], LASTS]
    load[SINCE], load[UNTIL], load[LOADER] = start, end, person
    for seat in range(load[SEATED]):
        place = lab.place[lab.members[number, seat]]
        place[START], place[END], place[FREE], place[PERSON] = start, end, end, person


@lean
def bath_clash(lab: Lab, bath: int, start: int, end: int, but: int) -> int:
    """Return when the load that is in the way ends, or -1."""
    again = -1
    for at in range(lab.bath_count[bath]):
        number = lab.in_bath[bath, at]
        load = lab.load[number]
        if number != but and load[SINCE] < end and load[UNTIL] > start:
            again = max(again, load[UNTIL])
    return again


@lean
def can_load(table: Table, lab: Lab, person: int, start: int, hands: int) -> bool:
    """Tell whether a person can load a bath at a minute."""
    found, _ = room_of(
        table.calendar, lab, person, start, hands, False
    )  # fmt: skip
    return found == start


@lean
def open_planned(table: Table, stood: Stood, lab: Lab) -> None:
    """Open the planned loads where hour, bath and hands allow it still."""
    for planned in range(len(stood.load)):
        bath, program = stood.load[planned, IN_BATH], stood.load[planned, RUNS]
        start, first_hands = stood.load[planned, BEGINS_AT], stood.load[planned, LOADED_BY]
        first, last = stood.members_from[planned], stood.members_from[planned + 1]
        end, hands = start + table.program[program, LASTS], table.program[program, HANDS]
        members, head, fits = 0, -1, start >= 0
        for row in range(first, last):
            at = stood.members[row]
            if stood.stage[at, WITH_LOAD] == planned:
                members += 1
                head = at if head < 0 else head
                # A piece that cannot wait so long any more needs another load.
                fits = fits and start <= table.stage[at, LATEST]
        if not members:
            continue
        fits = (
            fits
            and members <= table.bath_places[bath]
            and bath_clash(lab, bath, start, end, -1) < 0
        )
        person = -1
        if fits and hands:
            for turn in range(2):
                for row in range(table.stage[head, MAY_DO], table.stage[head, MAY_DO_END]):
                    one = table.may_do[row]
                    if person >= 0 or (one == first_hands) != (turn == 0):
                        continue
                    able = True
                    for other in range(first, last):
                        at = stood.members[other]
                        if stood.stage[at, WITH_LOAD] == planned and not table.may[at, one]:
                            able = False
                    if able and can_load(table, lab, one, start, hands):
                        person = one
            fits = person >= 0
        if not fits:
            continue
        lab.own[planned] = open_load(lab, bath, program, start, end, person, PLANNED_LOAD, members)
        if person >= 0:
            occupy(table.calendar, lab, person, start, start + hands)


@lean
def free_seats(table: Table, lab: Lab, at: int) -> int:
    """Write the loads with a seat for a stage into ``seats``, in order of time; return how many."""
    program, found = table.stage[at, PROGRAM], 0
    for row in range(table.program[program, BATHS], table.program[program, BATHS_END]):
        bath = table.baths_for[row]
        for inside in range(lab.bath_count[bath]):
            number = lab.in_bath[bath, inside]
            load = lab.load[number]
            if (
                load[NAMED] == RUNNING_LOAD
                or load[CURES] != program
                or load[SEATED] >= table.bath_places[bath]
                or not (load[LOADER] < 0 or table.may[at, load[LOADER]])
            ):
                continue
            seat = found
            while seat and (
                lab.load[lab.seats[seat - 1], SINCE] > load[SINCE]
                or (
                    lab.load[lab.seats[seat - 1], SINCE] == load[SINCE]
                    and lab.seats[seat - 1] > number
                )
            ):
                lab.seats[seat] = lab.seats[seat - 1]
                seat -= 1
            lab.seats[seat] = number
            found += 1
    return found


@lean
def waits(table: Table, lab: Lab, number: int, at: int, until: int) -> bool:
    """Let a load begin later if nothing speaks against it; return whether it does."""
    load = lab.load[number]
    program, person = load[CURES], load[LOADER]
    if load[NAMED] == RUNNING_LOAD or until > load[LATEST_START]:
        return False
    for seat in range(load[SEATED]):
        one = lab.members[number, seat]
        for row in range(table.stage[one, FOLLOWERS], table.stage[one, FOLLOWERS_END]):
            if lab.place[table.followers[row], START] >= 0:
                return False
        gives = table.stage[one, GIVES_END] > table.stage[one, GIVES]
        if gives or until > slack(table, lab.place, one) or table.stage[one, PINNED]:
            return False
    if bath_clash(lab, load[BATH], until, until + table.program[program, LASTS], number) >= 0:
        return False
    if person >= 0:
        hands, since = table.program[program, HANDS], load[SINCE]
        vacate(table.calendar, lab, person, since, since + hands)
        head = lab.members[number, 0] if load[SEATED] else at
        later = -1
        for turn in range(2):
            for row in range(table.stage[head, MAY_DO], table.stage[head, MAY_DO_END]):
                one = table.may_do[row]
                if later >= 0 or (one == person) != (turn == 0) or not table.may[at, one]:
                    continue
                able = True
                for seat in range(load[SEATED]):
                    if not table.may[lab.members[number, seat], one]:
                        able = False
                if able and can_load(table, lab, one, until, hands):
                    later = one
        occupy(table.calendar, lab, person, since, since + hands)
        if later < 0:
            return False
        leave_hands(table.calendar, lab, person, since, since + hands)
        take_hands(table.calendar, lab, later, until, until + hands)
        person = later
    note(lab, LOAD_MOVED, number, load[SINCE], load[LOADER])
    set_load(table, lab, number, until, person)
    return True


@lean
def new_load(table: Table, lab: Lab, at: int, earliest: int, latest: int) -> tuple[int, int, int]:
    """Return start, bath and person of the first load that could be made; start NEVER if none."""
    program = table.stage[at, PROGRAM]
    lasts, hands = table.program[program, LASTS], table.program[program, HANDS]
    best, best_bath, best_person = NEVER, -1, -1
    for row in range(table.program[program, BATHS], table.program[program, BATHS_END]):
        bath = table.baths_for[row]
        start, person = earliest, -1
        for _ in range(TRIES):
            if hands:
                soonest, person = NEVER, -1
                asked = start
                for who in range(table.stage[at, MAY_DO], table.stage[at, MAY_DO_END]):
                    one = table.may_do[who]
                    begun, _end = room_of(table.calendar, lab, one, asked, hands, False)
                    if person < 0 or begun < soonest or (begun == soonest and one < person):
                        soonest, person = begun, one
                start = soonest
            if start > latest or start >= NEVER:
                break
            again = bath_clash(lab, bath, start, start + lasts, -1)
            if again < 0:
                if start < best:
                    best, best_bath, best_person = start, bath, person
                break
            start = again
    return best, best_bath, best_person


@lean
def give_up(table: Table, lab: Lab, number: int) -> None:
    """Give up a load into which nobody goes any more."""
    load = lab.load[number]
    close_load(lab, number)
    note(lab, LOAD_CLOSED, number, 0, 0)
    if load[LOADER] >= 0:
        hands = table.program[load[CURES], HANDS]
        leave_hands(table.calendar, lab, load[LOADER], load[SINCE], load[SINCE] + hands)


@lean
def join(table: Table, given: Given, lab: Lab, at: int, number: int, own: int) -> None:
    """Give a stage a seat in a load."""
    load = lab.load[number]
    lab.members[number, load[SEATED]] = at
    load[SEATED] += 1
    note(lab, SEAT_TAKEN, at, number, 0)
    lab.place[at, LOAD] = number
    put(table, given, lab, at, load[SINCE], load[UNTIL], load[LOADER])
    if own >= 0 and lab.load[own, MEANT] > 0:
        lab.load[own, MEANT] -= 1
        note(lab, SEAT_MEANT, own, 0, 0)
        if not lab.load[own, MEANT] and not lab.load[own, SEATED]:
            give_up(table, lab, own)


@lean
def has_seat(lab: Lab, number: int, count: int) -> bool:
    """Tell whether a load is among the first ``seats``."""
    found = False
    for seat in range(count):
        found = found or lab.seats[seat] == number
    return found


@lean
def place_in_load(
    table: Table, given: Given, stood: Stood, lab: Lab, at: int, earliest: int, latest: int
) -> bool:
    """Put a stage into a load that begins in [earliest, latest]; tell whether one was found."""
    planned = stood.stage[at, WITH_LOAD]
    own = lab.own[planned] if planned >= 0 else -1
    count = free_seats(table, lab, at)
    if own >= 0 and has_seat(lab, own, count):
        start = lab.load[own, SINCE]
        if earliest <= start <= latest:
            join(table, given, lab, at, own, own)
            return True
        if start < earliest <= latest and waits(table, lab, own, at, earliest):
            join(table, given, lab, at, own, own)
            return True
    found = -1
    for seat in range(count):
        if found < 0 and earliest <= lab.load[lab.seats[seat], SINCE] <= latest:
            found = lab.seats[seat]
    begun, bath, person = new_load(table, lab, at, earliest, latest)
    there = lab.load[found, SINCE] if found >= 0 else NEVER
    soonest = min(there, begun)
    waited = -1
    if earliest < soonest:
        for seat in range(count):
            number = lab.seats[seat]
            if lab.load[number, SINCE] < earliest and waits(table, lab, number, at, earliest):
                waited = number
                break
    if waited < 0 and soonest == NEVER:
        return False
    if waited >= 0:
        found = waited
    elif begun == soonest and (found < 0 or soonest < there):
        program = table.stage[at, PROGRAM]
        end = begun + table.program[program, LASTS]
        found = open_load(lab, bath, program, begun, end, person, NEW_LOAD, 0)
        note(lab, LOAD_OPENED, found, 0, 0)
        if person >= 0:
            take_hands(
                table.calendar, lab, person, begun, begun + table.program[program, HANDS]
            )  # fmt: skip
    join(table, given, lab, at, found, own)
    return True
