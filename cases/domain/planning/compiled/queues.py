"""Kernels about order: events by time, and blocks by preference, ready or waiting for a thing."""

from __future__ import annotations

from math import exp

from cases.domain.planning.compiled.arrays import ATTENDED, Floats, Ints
from cases.domain.planning.compiled.engine import lean
from cases.domain.planning.compiled.heaps import put_in, take_out
from cases.domain.planning.compiled.table import (
    EVENTS,
    FADING,
    FIXED,
    KIND,
    PIN_START,
    PINNED,
    SKILL,
    Preference,
    State,
    Table,
)
from cases.domain.planning.shop import NEVER

NUMBERS = 1 << 20
"""Events are one number each, in the order of (time, kind, number): less than so many blocks,
persons and things, counted from half of it on."""


@lean
def push(state: State, instant: int, kind: int, number: int) -> None:
    """Add an event.

    Raises
    ------
    OverflowError
        When there is no room for it.
    """
    if state.counters[EVENTS] == len(state.events):
        raise OverflowError("more events than rows")
    event = (instant * 4 + kind) * NUMBERS + number + NUMBERS // 2
    put_in(state.events, state.counters[EVENTS], event)
    state.counters[EVENTS] += 1


@lean
def pop(state: State) -> tuple[int, int]:
    """Take the first event out; return its kind and number."""
    state.counters[EVENTS] -= 1
    first = take_out(state.events, state.counters[EVENTS])
    return first // NUMBERS % 4, first % NUMBERS - NUMBERS // 2


@lean
def key_of(wish: Preference, at: int, now: int) -> float:
    """Return the preference of a stage at a minute."""
    if wish.form == FIXED:
        return wish.base[at]
    left = wish.base[at] - now
    if wish.form == FADING:
        return -wish.weight[at] * exp(-max(0.0, left) / wish.spread)
    return left / wish.weight[at] if left > 0 else left * wish.weight[at]


@lean
def enter(state: State, line: int, key: float, number: int) -> None:
    """Put a block into a line, in its order."""
    keys, blocks = state.line_key[line], state.line[line]
    low, high = 0, state.line_count[line]
    while low < high:
        middle = (low + high) // 2
        if key < keys[middle] or (key == keys[middle] and number < blocks[middle]):
            high = middle
        else:
            low = middle + 1
    for at in range(state.line_count[line], low, -1):
        keys[at], blocks[at] = keys[at - 1], blocks[at - 1]
    keys[low], blocks[low] = key, number
    state.line_count[line] += 1


@lean
def leave(state: State, line: int, number: int) -> float:
    """Take a block out of a line; return its key."""
    keys, blocks = state.line_key[line], state.line[line]
    at = 0
    while blocks[at] != number:
        at += 1
    key = keys[at]
    state.line_count[line] -= 1
    for later in range(at, state.line_count[line]):
        keys[later], blocks[later] = keys[later + 1], blocks[later + 1]
    return key


@lean
def sort(keys: Floats, blocks: Ints, count: int) -> None:
    """Put a line in order, by halving gaps: what stood in order before is so nearly."""
    gap = count // 2
    while gap:
        for first in range(gap, count):
            key, block, at = keys[first], blocks[first], first
            while at >= gap and (
                keys[at - gap] > key or (keys[at - gap] == key and blocks[at - gap] > block)
            ):
                keys[at], blocks[at] = keys[at - gap], blocks[at - gap]
                at -= gap
            keys[at], blocks[at] = key, block
        gap //= 2


@lean
def look_up_keys(table: Table, state: State, wish: Preference, now: int) -> None:
    """Put the lines of all skills in order again."""
    for line in range(len(state.line_count) - 1):
        keys, blocks, count = state.line_key[line], state.line[line], state.line_count[line]
        for at in range(count):
            keys[at] = key_of(wish, table.blocks[table.blocks_from[blocks[at]]], now)
        sort(keys, blocks, count)


@lean
def queue_up(table: Table, state: State, wish: Preference, number: int, now: int) -> None:
    """Let a block stand in line for hands, or with those that need none at their start."""
    head = table.blocks[table.blocks_from[number]]
    stage = table.stage[head]
    line = len(state.line_count) - 1
    if stage[KIND] == ATTENDED and not (stage[PINNED] and stage[PIN_START] < NEVER):
        line = stage[SKILL]
    enter(state, line, key_of(wish, head, now), number)


@lean
def wait_for(state: State, thing: int, key: float, number: int) -> None:
    """Let a block wait for a thing, in its order."""
    previous, one = -1, state.waits_first[thing]
    while one >= 0 and (
        state.waits_key[one] < key or (state.waits_key[one] == key and one < number)
    ):
        previous, one = one, state.waits_next[one]
    state.waits_key[number], state.waits_next[number] = key, one
    if previous < 0:
        state.waits_first[thing] = number
    else:
        state.waits_next[previous] = number


@lean
def call(table: Table, state: State, wish: Preference, thing: int, now: int) -> None:
    """Call the first that wait for a thing, as many as are free."""
    free = table.thing_count[thing] - state.held[thing]
    if free < 0:
        # As a slice counts: all but the last so many.
        one = state.waits_first[thing]
        while one >= 0:
            free, one = free + 1, state.waits_next[one]
    while free > 0 and state.waits_first[thing] >= 0:
        one = state.waits_first[thing]
        state.waits_first[thing] = state.waits_next[one]
        queue_up(table, state, wish, one, now)
        free -= 1
