"""Kernels that start blocks: alone, by one of the free hands, or together with others."""

from __future__ import annotations

from cases.domain.planning.compiled.bounds import kept_from, lower, slack
from cases.domain.planning.compiled.engine import lean
from cases.domain.planning.compiled.placing import (
    begin,
    give_back,
    place,
    put,
    row_of,
    sign,
)
from cases.domain.planning.compiled.queues import key_of, leave, push, wait_for
from cases.domain.planning.compiled.rooms import clash, finish, full, hand_minutes, next_span, take
from cases.domain.planning.compiled.table import (
    BATCH,
    BATCHES,
    BEFORE,
    BEFORE_END,
    BLOCK,
    EARLIER,
    END,
    FOLLOWERS,
    FOLLOWERS_END,
    GIVEN_UP,
    GIVES,
    GIVES_END,
    LAST_BY,
    LEFT,
    MINUTES,
    PAUSABLE,
    PINNED,
    PLACED,
    SEEN,
    SETUP,
    SKILL,
    SKILLS,
    STAMP,
    START,
    STATION,
    TAKES,
    TAKES_END,
    TOGETHER,
    TRIED,
    Preference,
    State,
    Table,
)
from cases.domain.planning.decode import BATCH_LOOKED_AT, FREED, LOOK, READY, TICK, TRIES
from cases.domain.planning.shop import NEVER


@lean
def head_of(table: Table, number: int) -> int:
    """Return the first stage of a block."""
    return table.blocks[table.blocks_from[number]]


@lean
def tick(state: State, instant: int) -> None:
    """Look again at an instant."""
    if instant >= NEVER:
        return
    if instant < len(state.ticked):
        if state.ticked[instant]:
            return
        state.ticked[instant] = True
    push(state, instant, TICK, 0)


@lean
def waits(table: Table, state: State, number: int) -> bool:
    """Tell whether a block comes after something that has no place yet."""
    for at in range(table.blocks_from[number], table.blocks_from[number + 1]):
        stage = table.stage[table.blocks[at]]
        for entry in range(stage[BEFORE], stage[BEFORE_END]):
            earlier = table.before[entry, EARLIER]
            other = table.stage[earlier, BLOCK]
            if other >= 0 and other != number and state.place[earlier, END] < 0:
                return True
    return False


@lean
def announce(table: Table, state: State, number: int, now: int) -> None:
    """Tell when the first stage of a block may start."""
    push(state, lower(table, state.place, head_of(table, number), now), READY, number)


@lean
def later(table: Table, state: State, number: int, now: int, by: int) -> None:
    """Try a block again later, or give it up."""
    own = state.block[number]
    own[TRIED] += 1
    instant = now + max(by, table.waits[min(own[TRIED], len(table.waits) - 1)])
    for at in range(table.blocks_from[number], table.blocks_from[number + 1]):
        stage = table.stage[table.blocks[at]]
        for entry in range(stage[TAKES], stage[TAKES_END]):
            thing = table.takes[entry]
            if state.waits_first[thing] >= 0:
                push(state, now + 1, FREED, -1 - thing)
    if own[TRIED] > TRIES or instant > table.horizon:
        own[GIVEN_UP] = 1
        state.counters[LEFT] -= 1
    else:
        push(state, instant, READY, number)


@lean
def forget(table: Table, state: State, number: int, entries: int) -> None:
    """Take the first ``entries`` needs of a block out of what is needed, -1 for all."""
    for at in range(table.blocks_from[number], table.blocks_from[number + 1]):
        stage = table.stage[table.blocks[at]]
        for entry in range(stage[TAKES], stage[TAKES_END]):
            if entries == 0:
                return
            state.needed[table.takes[entry]] -= 1
            entries -= 1


@lean
def need(table: Table, state: State, number: int) -> int:
    """Add what a block needs to what is needed; return a thing that is lacking, or -1.

    Where one is lacking, nothing is added.
    """
    entries = 0
    for at in range(table.blocks_from[number], table.blocks_from[number + 1]):
        stage = table.stage[table.blocks[at]]
        for entry in range(stage[TAKES], stage[TAKES_END]):
            thing = table.takes[entry]
            state.needed[thing] += 1
            entries += 1
            if state.held[thing] + state.needed[thing] > table.thing_count[thing]:
                forget(table, state, number, entries)
                return thing
    return -1


@lean
def follow(table: Table, state: State, number: int, now: int, patience: int) -> int:
    """Give the rest of a block its place; return -1, or by how much it is too late."""
    for entry in range(table.blocks_from[number], table.blocks_from[number + 1]):
        at = table.blocks[entry]
        if state.place[at, START] >= 0:
            continue
        if not place(table, state, at, lower(table, state.place, at, now), patience):
            return 0
        over = state.place[at, START] - slack(table, state.place, at)
        if over > 0:
            return over
    return -1


@lean
def commit(table: Table, state: State, count: int, now: int) -> None:
    """Make what was placed count: the first ``count`` blocks of the group are started."""
    done = state.counters[PLACED]
    begin(state)
    for number in range(done):
        at = state.placed[number]
        stage = table.stage[at]
        for entry in range(stage[TAKES], stage[TAKES_END]):
            state.held[table.takes[entry]] += 1
        for entry in range(stage[GIVES], stage[GIVES_END]):
            rest = state.place[at, END] + table.gives[entry, 1]
            push(state, rest, FREED, table.gives[entry, 0])
    state.counters[LEFT] -= count
    state.counters[STAMP] += 1
    stamp = state.counters[STAMP]
    for number in range(count):
        state.block[state.group[number], SEEN] = stamp
    for number in range(done):
        stage = table.stage[state.placed[number]]
        for entry in range(stage[FOLLOWERS], stage[FOLLOWERS_END]):
            other = table.stage[table.followers[entry], BLOCK]
            if other < 0 or state.block[other, SEEN] == stamp:
                continue
            state.block[other, SEEN] = stamp
            if not waits(table, state, other) and not state.block[other, GIVEN_UP]:
                announce(table, state, other, now)


@lean
def may(table: Table, state: State, at: int, person: int) -> bool:
    """Tell whether a person may do a stage, by skill, pin and second pair of eyes."""
    return table.may[at, person] and person != kept_from(table, state.place, at)


@lean
def hands(table: Table, at: int, person: int) -> int:
    """Return the minutes that a person needs for a stage alone."""
    pace = table.calendar.pace[person, table.stage[at, SKILL]]
    return hand_minutes(table.stage[at, MINUTES], pace)


@lean
def companions(table: Table, state: State, number: int, skill: int) -> int:
    """Find the blocks whose first stages may be done together with that of a block.

    They are put into ``others``, and what they need to what is needed. Returns how many.
    """
    head = head_of(table, number)
    batch, station = table.stage[head, BATCH], table.stage[head, STATION]
    if batch < 0 or table.stage[head, PINNED]:
        return 0
    room, found = table.limits[batch] - 1, 0
    for at in range(min(BATCH_LOOKED_AT, state.line_count[skill])):
        if found >= room:
            break
        other = state.line[skill, at]
        stage = table.stage[head_of(table, other)]
        if (
            other != number
            and stage[BATCH] == batch
            and stage[STATION] == station
            and not stage[PINNED]
            and need(table, state, other) < 0
        ):
            state.others[found] = other
            found += 1
    return found


@lean
def begin_group(
    table: Table, state: State, count: int, person: int, now: int, patience: int
) -> tuple[bool, int]:
    """Start the blocks of the group together; return whether it went, or when to look again."""
    first = head_of(table, state.group[0])
    setup, own, pausable = 0, 0, True
    for number in range(count):
        stage = table.stage[head_of(table, state.group[number])]
        setup = max(setup, stage[SETUP]) if number else stage[SETUP]
        own += stage[MINUTES] - stage[SETUP]
        pausable = pausable and stage[PAUSABLE] != 0
    minutes = hand_minutes(setup + own, table.calendar.pace[person, table.stage[first, SKILL]])
    end = finish(table.calendar, person, now, minutes, pausable)
    if end < 0:
        return False, next_span(table.calendar, person, now)
    station = row_of(table, first)
    again = clash(state.taken, person, now, end)
    if station >= 0:
        again = max(again, full(state.taken, station, now, end))
    if again >= 0:
        return False, again
    take(state.taken, state.journal, state.counters, person, now, end)
    if station >= 0:
        take(state.taken, state.journal, state.counters, station, now, end)
    name = 0
    if count > 1:
        state.counters[BATCHES] += 1
        name = state.counters[BATCHES]
    for number in range(count):
        at = head_of(table, state.group[number])
        put(state, at, now, end, person)
        state.place[at, TOGETHER] = name
        if now > slack(table, state.place, at) or not sign(table, state, at):
            give_back(state)
            return False, -1
    for number in range(count):
        over = follow(table, state, state.group[number], now, patience)
        if over >= 0:
            give_back(state)
            return False, -1 - over
    commit(table, state, count, now)
    push(state, end, LOOK, person)
    return True, 0


@lean
def with_room(table: Table, state: State, head: int, skill: int, now: int) -> int:
    """Find who of the idle may do a stage and has time for it before something else.

    They are put into ``fit``, who did it last and then the quickest first. Returns how many.
    """
    last, found = table.stage[head, LAST_BY], 0
    for person in range(len(state.idle)):
        if not state.idle[person] or table.calendar.pace[person, skill] <= 0:
            continue
        if not may(table, state, head, person):
            continue
        minutes = hands(table, head, person)
        if now + minutes > state.until[person]:
            tick(state, state.until[person])
            continue
        skills, at = table.calendar.person[person, SKILLS], found
        while at and state.fit[at - 1] != last:
            other = state.fit[at - 1]
            others = hands(table, head, other)
            if person != last and (others, table.calendar.person[other, SKILLS]) <= (
                minutes, skills,
            ):  # fmt: skip
                break
            state.fit[at] = other
            at -= 1
        state.fit[at] = person
        found += 1
    return found


@lean
def start_block(
    table: Table, state: State, number: int, skill: int, now: int, patience: int
) -> bool:
    """Start a block with one of the free hands; else say what becomes of it."""
    fit = with_room(table, state, head_of(table, number), skill, now)
    if not fit:
        return False
    missing = need(table, state, number)
    if missing >= 0:
        wait_for(state, missing, leave(state, skill, number), number)
        return True
    others = companions(table, state, number, skill)
    forget(table, state, number, -1)
    for at in range(others):
        forget(table, state, state.others[at], -1)
    soonest, over = NEVER, -1
    for one in range(fit):
        person, together = state.fit[one], 1
        for at in range(others):
            if may(table, state, head_of(table, state.others[at]), person):
                state.group[together] = state.others[at]
                together += 1
        state.group[0] = number
        went, again = begin_group(table, state, together, person, now, patience)
        if not went and together > 1:
            together = 1
            went, again = begin_group(table, state, 1, person, now, patience)
        if went:
            for at in range(together):
                leave(state, skill, state.group[at])
            state.idle[person] = False
            return True
        if again < 0:
            over = max(over, -1 - again)
            break
        soonest = min(soonest, again)
    if over >= 0:
        leave(state, skill, number)
        later(table, state, number, now, over)
        return True
    tick(state, max(soonest, now + 1))
    return False


@lean
def start_alone(
    table: Table, state: State, wish: Preference, line: int, now: int, patience: int
) -> None:
    """Start what needs no hands at its start, or has its minute pinned."""
    count = state.line_count[line]
    state.line_count[line] = 0
    for at in range(count):
        number = state.line[line, at]
        missing = need(table, state, number)
        if missing >= 0:
            key = key_of(wish, head_of(table, number), now)
            wait_for(state, missing, key, number)
            continue
        forget(table, state, number, -1)
        over = follow(table, state, number, now, patience)
        if over < 0:
            state.group[0] = number
            commit(table, state, 1, now)
        else:
            give_back(state)
            later(table, state, number, now, over)
