"""The lab is played through, event by event: ``decode``, compiled."""

from __future__ import annotations

from typing import cast

import numpy as np

from cases.domain.planning.compiled.arrays import ATTENDED, of_shop
from cases.domain.planning.compiled.arrays import LOAD as IN_LOAD
from cases.domain.planning.compiled.engine import lean
from cases.domain.planning.compiled.placing import begin, join, open_load, put, row_of, sign
from cases.domain.planning.compiled.queues import NUMBERS, call, look_up_keys, pop, push, queue_up
from cases.domain.planning.compiled.rooms import clash, next_start, room, take, tidy
from cases.domain.planning.compiled.starting import announce, hands, start_alone, start_block, waits
from cases.domain.planning.compiled.table import (
    EVENTS,
    FADING,
    FIXED,
    FLAWED,
    GIVEN_UP,
    GIVES,
    GIVES_END,
    JOINED,
    KEPT_BY,
    KEPT_FROM,
    KEPT_UNTIL,
    KIND,
    LEFT,
    LOAD,
    LOAD_OURS,
    LOADS,
    PAUSABLE,
    PIN_PERSON,
    PIN_START,
    PINNED,
    PROGRAM,
    REKEYED,
    RUN_BATH,
    RUN_END,
    RUN_PERSON,
    RUN_START,
    RUNNING,
    SIGNER,
    START,
    TIDIED,
    TOGETHER,
    WEIGHTED_DUE,
    Preference,
    State,
    Table,
    state_of,
    table_of,
)
from cases.domain.planning.decode import FREED, KEYS_STALE, LOOK, LOOKED_AT, READY
from cases.domain.planning.floor import Floor, Load
from cases.domain.planning.keys import Fixed, Formula, WeightedDue
from cases.domain.planning.problem import Case, Person, Problem, Stage
from cases.domain.planning.shop import NEVER, Shop


@lean
def go_on(table: Table, state: State, at: int) -> None:
    """Take over a stage that is running."""
    stage = table.stage[at]
    start, end, person = stage[RUN_START], stage[RUN_END], stage[RUN_PERSON]
    put(state, at, start, end, person)
    if person >= 0 and stage[KIND] == ATTENDED:
        take(state.taken, state.journal, state.counters, person, start, end)
    if row_of(table, at) >= 0:
        take(state.taken, state.journal, state.counters, row_of(table, at), start, end)
    if stage[KIND] == IN_LOAD and stage[RUN_BATH] >= 0:
        load = open_load(state, stage[RUN_BATH], stage[PROGRAM], start, end, person)
        state.load[load, LOAD_OURS] = 0
        join(state, at, load)
    for entry in range(stage[GIVES], stage[GIVES_END]):
        rest = end + table.gives[entry, 1]
        push(state, max(0, rest), FREED, table.gives[entry, 0])


@lean
def reserve(table: Table, state: State, at: int) -> None:
    """Keep the time of a stage that is pinned to a person and a minute."""
    stage, own = table.stage[at], state.place[at]
    person, start = stage[PIN_PERSON], stage[PIN_START]
    if person < 0 or stage[KIND] != ATTENDED or not table.may[at, person]:
        return
    minutes, pausable = hands(table, at, person), stage[PAUSABLE] != 0
    begun, end = room(table.calendar, state.taken, person, start, minutes, pausable, -1, NEVER)
    if begun == start:
        own[KEPT_BY], own[KEPT_FROM], own[KEPT_UNTIL] = person, start, end
        take(state.taken, state.journal, state.counters, person, start, end)


@lean
def set_out(table: Table, state: State) -> None:
    """Take over what runs, keep what is pinned, and announce what can begin."""
    for at in range(len(table.stage)):
        stage = table.stage[at]
        if stage[RUNNING]:
            go_on(table, state, at)
        elif stage[PINNED] and stage[PIN_START] < NEVER:
            reserve(table, state, at)
    for at in range(len(table.stage)):
        if table.stage[at, RUNNING]:
            sign(table, state, at)
    for number in range(len(table.blocks_from) - 1):
        for entry in range(table.blocks_from[number], table.blocks_from[number + 1]):
            if table.stage[table.blocks[entry], FLAWED]:
                state.block[number, GIVEN_UP] = 1
    for number in range(len(table.blocks_from) - 1):
        if not state.block[number, GIVEN_UP]:
            state.counters[LEFT] += 1
            if not waits(table, state, number):
                announce(table, state, number, 0)
    for person in range(len(state.idle)):
        push(state, max(0, next_start(table.calendar, person, 0)), LOOK, person)
    begin(state)


@lean
def free_hands(table: Table, state: State, now: int) -> None:
    """Keep among the idle only who is at work and has nothing to do."""
    for person in range(len(state.idle)):
        if not state.idle[person]:
            continue
        state.until[person] = NEVER
        for at in range(state.taken.sizes[person]):
            if state.taken.spans[person, at, 0] > now:
                state.until[person] = state.taken.spans[person, at, 0]
                break
        until = next_start(table.calendar, person, now)
        if until <= now:
            until = clash(state.taken, person, now, now + 1)
        if until > now:
            state.idle[person] = False
            if until < NEVER:
                push(state, until, LOOK, person)


@lean
def first_in_line(table: Table, state: State) -> int:
    """Return the skill whose next in line comes first, of those that somebody idle has, or -1."""
    best, best_key, best_block = -1, 0.0, 0
    pace = table.calendar.pace
    for skill in range(len(state.passed)):
        at = state.passed[skill]
        if at >= LOOKED_AT or at >= state.line_count[skill]:
            continue
        key, block = state.line_key[skill, at], state.line[skill, at]
        if best >= 0 and (key > best_key or (key == best_key and block >= best_block)):
            continue
        for person in range(len(state.idle)):
            if state.idle[person] and pace[person, skill] > 0:
                best, best_key, best_block = skill, key, block
                break
    return best


@lean
def fill(table: Table, state: State, wish: Preference, now: int, patience: int) -> None:
    """Give everything that can start now to somebody."""
    alone = len(state.line_count) - 1
    if state.line_count[alone]:
        start_alone(table, state, wish, alone, now, patience)
    free_hands(table, state, now)
    state.passed[:] = 0
    while True:
        skill = first_in_line(table, state)
        if skill < 0:
            return
        number = state.line[skill, state.passed[skill]]
        if not start_block(table, state, number, skill, now, patience):
            state.passed[skill] += 1


@lean
def play(table: Table, state: State, wish: Preference, patience: int, moving: bool) -> None:
    """Play the lab until everything has a place or nothing moves any more."""
    set_out(table, state)
    count = state.counters
    while count[EVENTS] and count[LEFT]:
        now = state.events[0] // (4 * NUMBERS)
        while count[EVENTS] and state.events[0] // (4 * NUMBERS) == now:
            kind, number = pop(state)
            if kind == READY:
                queue_up(table, state, wish, number, now)
            elif kind == LOOK:
                state.idle[number] = True
            elif kind == FREED:
                thing = -1 - number if number < 0 else number
                if number >= 0:
                    state.held[thing] -= 1
                call(table, state, wish, thing, now)
        if moving and now - count[REKEYED] > KEYS_STALE:
            count[REKEYED] = now
            look_up_keys(table, state, wish, now)
        if now - count[TIDIED] > 60:
            count[TIDIED] = now
            tidy(state.taken, now)
        fill(table, state, wish, now, patience)


def preference(key: Formula) -> Preference:
    """Return a formula by numbers."""
    if isinstance(key, Fixed):
        base = np.array(key.keys, np.float64)
        return Preference(FIXED, base, base, 0.0)
    if isinstance(key, WeightedDue):
        due = np.array(key.due, np.float64)
        return Preference(WEIGHTED_DUE, due, np.array(key.weight, np.float64), 0.0)
    last = np.array(key.last, np.float64)
    return Preference(FADING, last, np.array(key.worth, np.float64), key.spread)


def fits(shop: Shop) -> bool:
    """Return whether a shop is small enough that an event of it is one number."""
    return max(len(shop.stages), len(shop.hours), len(shop.thing_count)) < NUMBERS // 2


def decode(shop: Shop, key: Formula, *, patience: int = 0, moving: bool = False) -> Floor:
    """Return the lab with a place for every stage that can have one: as the reference does."""
    numbers, table = of_shop(shop), table_of(shop)
    wish = preference(key)
    rows = 8 * len(shop.stages) + 256
    while True:
        state = state_of(numbers, rows)
        try:
            play(table, state, wish, patience, moving)
            break
        except OverflowError:
            rows *= 4
    return _floor(shop, state, patience)


def _floor(shop: Shop, state: State, patience: int) -> Floor:
    floor = Floor(shop, patience)
    columns = cast("list[list[int]]", state.place.T.tolist())
    floor.start, floor.end, floor.free, floor.person, floor.load = columns[START : LOAD + 1]
    batches, signers, joined = columns[TOGETHER], columns[SIGNER], columns[JOINED]
    for at, signer in enumerate(signers):
        if signer >= 0:
            floor.signed[at] = (signer, columns[SIGNER + 1][at], columns[SIGNER + 2][at])
    for at, batch in enumerate(batches):
        if batch:
            floor.together[at] = f"{shop.stages[at].batch} {batch}"
    programs = list(shop.programs)
    baths = shop.problem.baths
    for row in cast("list[list[int]]", state.load[: state.counters[LOADS]].tolist()):
        bath, program, start, end, person, ours = row[:6]
        name = f"{baths[bath].key} at {start}" if ours else ""
        floor.loads.append(Load(bath, programs[program], start, end, person, name))
    loaded = [at for at, load in enumerate(floor.load) if load >= 0]
    for at in sorted(loaded, key=joined.__getitem__):
        load = floor.loads[floor.load[at]]
        load.members.append(at)
        floor.together[at] = load.name
        if not load.name:
            load.program = shop.stages[at].program
    for number, load in enumerate(floor.loads):
        if load.members:
            floor.in_bath[load.bath].append(number)
    return floor


def warm_up() -> None:
    """Load the kernels on a lab of one stage."""
    stage = Stage("stage", "case", "attended", 1, "skill")
    person = Person("person", (("skill", 1.0),), ((0, 2),))
    shop = Shop(Problem((Case("case", 1),), (stage,), (person,), horizon=10))
    decode(shop, Fixed([0.0]))
