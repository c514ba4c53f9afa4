"""The kernel that plays a plan again, block by block: the same as ``replay``."""

from __future__ import annotations

from cases.domain.planning.compiled.again_stages import earliest_of, place_attended, place_stage
from cases.domain.planning.compiled.again_start import pop, push, set_out
from cases.domain.planning.compiled.again_state import (
    BEGINS,
    HANDS_LEFT,
    HANDS_TAKEN,
    LOAD_CLOSED,
    LOAD_MOVED,
    LOAD_OPENED,
    MATES,
    MEANT,
    NOTED,
    OVERFLOWN,
    PIECE_TAKEN,
    PLACE_TAKEN,
    PLACED,
    QUEUED,
    SEAT_MEANT,
    SEAT_TAKEN,
    UNKNOWN,
    Given,
    Lab,
    Stood,
)
from cases.domain.planning.compiled.arrays import LOAD as IN_LOAD
from cases.domain.planning.compiled.arrays import Flags, Floats, Ints
from cases.domain.planning.compiled.bounds import slack
from cases.domain.planning.compiled.engine import lean
from cases.domain.planning.compiled.lines import (
    fill_place,
    give_piece,
    occupy,
    soonest_free,
    vacate,
)
from cases.domain.planning.compiled.reloading import (
    close_load,
    leave_seat,
    reopen_load,
    set_load,
)
from cases.domain.planning.compiled.table import (
    BATCH,
    END,
    FREE,
    GIVES,
    GIVES_END,
    KIND,
    PERSON,
    PINNED,
    SIGNER,
    SKILL,
    START,
    STATION,
    TAKES,
    TAKES_END,
    TOGETHER,
    Table,
)
from cases.domain.planning.replay import BATCH_WAITS, TRIES
from cases.domain.planning.shop import NEVER


@lean
def undo(table: Table, given: Given, lab: Lab) -> None:
    """Give back all since ``keep``."""
    calendar = table.calendar
    for at in range(lab.counts[NOTED] - 1, -1, -1):
        what, one, two, three = lab.journal[at]
        if what == HANDS_TAKEN:
            vacate(calendar, lab, one, two, three)
        elif what == HANDS_LEFT:
            occupy(calendar, lab, one, two, three)
        elif what == PLACE_TAKEN:
            fill_place(lab, one, two, three, -1)
        elif what == PIECE_TAKEN:
            give_piece(lab, given.piece_from, one, two)
        elif what == LOAD_OPENED:
            close_load(lab, one)
        elif what == LOAD_CLOSED:
            reopen_load(lab, one)
        elif what == SEAT_TAKEN:
            leave_seat(lab, one, two)
        elif what == SEAT_MEANT:
            lab.load[one, MEANT] += 1
        elif what == LOAD_MOVED:
            set_load(table, lab, one, two, three)
    for number in range(lab.counts[PLACED]):
        place = lab.place[lab.placed[number]]
        place[START] = place[END] = place[FREE] = place[PERSON] = place[SIGNER] = -1
        place[TOGETHER] = 0
    lab.counts[NOTED] = lab.counts[PLACED] = 0


@lean
def wished_of(
    table: Table, given: Given, stood: Stood, lab: Lab, at: int, alone: bool, forward_from: int
) -> int:
    """Return the minute from which a stage looks for room."""
    earliest = earliest_of(table, given, lab, at)
    planned = stood.stage[at, BEGINS]
    if planned == UNKNOWN or (alone and planned >= forward_from) or earliest >= NEVER:
        return earliest
    return max(earliest, min(planned, slack(table, lab.place, at)))


@lean
def lacking(given: Given, lab: Lab, numbers: Ints, count: int) -> int:
    """Return a thing that some blocks need and that nobody will give back yet, or -1."""
    for turn in range(count):
        first, last = given.needs_from[numbers[turn]], given.needs_from[numbers[turn] + 1]
        for row in range(first, last):
            thing, needed = given.needs[row, 0], given.needs[row, 1]
            for other in range(count):
                if other == turn:
                    continue
                more = numbers[other]
                for entry in range(given.needs_from[more], given.needs_from[more + 1]):
                    if given.needs[entry, 0] == thing:
                        needed += given.needs[entry, 1]
            if lab.pieces_count[thing] - lab.owed[thing] < needed:
                return thing
    return -1


@lean
def together_from(table: Table, given: Given, lab: Lab, count: int) -> int:
    """Return when there are things enough for the first stages that begin together."""
    start = 0
    for turn in range(count):
        at = lab.heads[turn]
        for row in range(table.stage[at, TAKES], table.stage[at, TAKES_END]):
            thing, needed = table.takes[row], 0
            for other in range(count):
                one = lab.heads[other]
                for entry in range(table.stage[one, TAKES], table.stage[one, TAKES_END]):
                    needed += table.takes[entry] == thing
            start = max(start, soonest_free(lab, given.piece_from, thing, needed))
    return start


@lean
def try_from(
    table: Table,
    given: Given,
    stood: Stood,
    lab: Lab,
    minutes: Floats,
    numbers: Ints,
    count: int,
    start: int,
    keep_until: int,
    forward_from: int,
) -> int:
    """Place blocks from a minute on; return -1, by how much it is too soon, or 0: cannot be."""
    if count > 1:
        went = place_attended(
            table, given, stood, lab, minutes, lab.heads, count, start, keep_until
        )  # fmt: skip
    else:
        went = place_stage(table, given, stood, lab, minutes, lab.heads[0], start, keep_until)
    if not went:
        return 0
    for turn in range(count):
        if lab.place[lab.heads[turn], START] > slack(table, lab.place, lab.heads[turn]):
            return 0
    for turn in range(count):
        number = numbers[turn]
        for row in range(table.blocks_from[number] + 1, table.blocks_from[number + 1]):
            at = table.blocks[row]
            since = wished_of(table, given, stood, lab, at, False, forward_from)
            if not place_stage(table, given, stood, lab, minutes, at, since, keep_until):
                return 0 if table.stage[at, KIND] != IN_LOAD else BATCH_WAITS
            over = lab.place[at, START] - slack(table, lab.place, at)
            if over > 0:
                return over
    return -1


@lean
def place_blocks(
    table: Table,
    given: Given,
    stood: Stood,
    lab: Lab,
    minutes: Floats,
    numbers: Ints,
    count: int,
    keep_until: int,
    forward_from: int,
) -> bool:
    """Give some blocks, whose first stages are done together, their places."""
    start = 0
    for turn in range(count):
        first, last = table.blocks_from[numbers[turn]], table.blocks_from[numbers[turn] + 1]
        at = lab.heads[turn] = table.blocks[first]
        alone = last - first == 1
        start = max(start, wished_of(table, given, stood, lab, at, alone, forward_from))
    if count > 1:
        start = max(start, together_from(table, given, lab, count))
    for tried in range(TRIES):
        if start > table.horizon:
            return False
        late = try_from(
            table, given, stood, lab, minutes, numbers, count, start, keep_until, forward_from
        )
        if late < 0:
            return True
        start = max(start, lab.place[lab.heads[0], START]) + max(late, given.grows[tried])
        undo(table, given, lab)
        if not late:
            return False
    return False


@lean
def mates_of(table: Table, given: Given, stood: Stood, lab: Lab, number: int) -> int:
    """Write into ``group`` the blocks done with a block, it first; return how many."""
    head = table.blocks[table.blocks_from[number]]
    lab.group[0] = number
    found, mates = 1, stood.stage[head, MATES]
    if mates < 0:
        return found
    planned = stood.stage[head, BEGINS] if stood.stage[head, BEGINS] != UNKNOWN else 0
    until = max(earliest_of(table, given, lab, head), planned) + BATCH_WAITS
    batch = table.stage[head, BATCH]
    limit = table.limits[batch] if batch >= 0 else len(lab.over)
    for row in range(stood.groups_from[mates], stood.groups_from[mates + 1]):
        at = stood.groups[row]
        if stood.stage[at, MATES] != mates:
            continue
        other = given.block_of[at]
        if (
            other != number
            and not lab.over[other]
            and not lab.open[other]
            and found < limit
            and not table.stage[at, PINNED]
            and table.stage[at, SKILL] == table.stage[head, SKILL]
            and table.stage[at, STATION] == table.stage[head, STATION]
            and earliest_of(table, given, lab, at) <= until
        ):
            lab.group[found] = other
            found += 1
    return found


@lean
def commit(table: Table, given: Given, stood: Stood, lab: Lab, numbers: Ints, count: int) -> None:
    """Let what was placed count, and call what waited for it."""
    for turn in range(count):
        lab.over[numbers[turn]] = True
    placed = lab.counts[PLACED]
    lab.counts[NOTED] = lab.counts[PLACED] = 0
    for turn in range(placed):
        at = lab.placed[turn]
        for row in range(table.stage[at, GIVES], table.stage[at, GIVES_END]):
            thing = table.gives[row, 0]
            give_piece(
                lab, given.piece_from, thing, lab.place[at, END] + table.gives[row, 1]
            )  # fmt: skip
            number = lab.waits_first[thing]
            while number >= 0:
                push(lab, stood.rank[number])
                number = lab.waits_next[number]
            lab.waits_first[thing] = -1
        for row in range(given.feeds_from[at], given.feeds_from[at + 1]):
            number = given.feeds[row]
            lab.open[number] -= 1
            if not lab.open[number] and not lab.over[number]:
                push(lab, stood.rank[number])


@lean
def take_up(
    table: Table,
    given: Given,
    stood: Stood,
    lab: Lab,
    minutes: Floats,
    number: int,
    keep_until: int,
    forward_from: int,
) -> None:
    """Give a block its place, with those that it is done together with if that goes."""
    lab.group[0] = number
    missing = lacking(given, lab, lab.group, 1)
    if missing >= 0:
        lab.waits_next[number] = lab.waits_first[missing]
        lab.waits_first[missing] = number
        return
    count = mates_of(table, given, stood, lab, number)
    if (
        count > 1
        and lacking(given, lab, lab.group, count) < 0
        and place_blocks(
            table, given, stood, lab, minutes, lab.group, count, keep_until, forward_from
        )
    ):
        commit(table, given, stood, lab, lab.group, count)
    elif place_blocks(
        table, given, stood, lab, minutes, lab.group, 1, keep_until, forward_from
    ):  # fmt: skip
        commit(table, given, stood, lab, lab.group, 1)
    else:
        lab.over[number] = True


@lean
def play_again(
    table: Table,
    given: Given,
    stood: Stood,
    lab: Lab,
    minutes: Floats,
    ends: Ints,
    keep_until: int,
    forward_from: int,
    asked: Flags,
) -> bool:
    """Play the plan until everything has a place, or the blocks that are asked for have.

    Returns
    -------
    Whether there was room enough in all arrays; if not, what was written means nothing.
    """
    set_out(table, given, stood, lab, minutes, ends)
    some = len(asked) > 0
    while lab.counts[QUEUED] and not lab.counts[OVERFLOWN]:
        number = stood.order[pop(lab)]
        if lab.over[number]:
            continue
        take_up(table, given, stood, lab, minutes, number, keep_until, forward_from)
        if some:
            left = False
            for block in range(len(asked)):
                if asked[block] and not lab.over[block]:
                    left = True
                    break
            if not left:
                break
    return not lab.counts[OVERFLOWN]
