"""The last plan as the compiled replay reads it, and the lab that it fills, in arrays."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from cases.domain.planning.compiled.arrays import Flags, Ints, Numbers, end_to_end, ints
from cases.domain.planning.compiled.table import KEPT_UNTIL, TOGETHER, Table
from cases.domain.planning.replay import GROWS, TRIES
from cases.domain.planning.shop import NEVER, Shop
from cases.domain.planning.standing import Standing

UNKNOWN = -NEVER
"""The planned start of a stage that the plan does not know."""

# Columns of what the plan says of a stage; of a load in it.
BEGINS, BY, SIGNED_BY, SIGNED_AT, WITH_LOAD, MATES = range(6)
IN_BATH, RUNS, BEGINS_AT, LOADED_BY = range(4)

# Columns of a load on the floor.
BATH, CURES, SINCE, UNTIL, LOADER, NAMED, MEANT, LATEST_START, SEATED = range(9)
RUNNING_LOAD, PLANNED_LOAD, NEW_LOAD = range(3)

# Counters of the whole lab.
PLACED, NOTED, LOADS, BATCHES, QUEUED, OVERFLOWN = range(6)

# What the journal says, to be undone.
HANDS_TAKEN, HANDS_LEFT, PLACE_TAKEN, PIECE_TAKEN, LOAD_OPENED, LOAD_CLOSED = range(6)
SEAT_TAKEN, SEAT_MEANT, LOAD_MOVED = range(6, 9)


class Given(NamedTuple):
    """What a replay needs of a shop besides its table."""

    line: Ints
    """The stages in an order in which each comes after what it waits for."""
    usual: Ints
    """Minutes of each stage, as the order reckons with them."""
    feeds_from: Ints
    feeds: Ints
    waits_for: Ints
    needs_from: Ints
    needs: Ints
    """Two columns: a thing, and how many of it."""
    block_of: Ints
    over: Flags
    """Of blocks with a flaw, that get no place."""
    grows: Ints
    """Minutes from one try to the next."""
    station_count: Ints
    held_now: Ints
    piece_from: Ints
    """Of each thing, where its pieces stand among all."""


class Stood(NamedTuple):
    """What the last plan says: ``Standing`` in arrays."""

    stage: Ints
    load: Ints
    members_from: Ints
    members: Ints
    groups_from: Ints
    groups: Ints
    rank: Ints
    order: Ints


class Lab(NamedTuple):
    """All that is taken, and the places that stages got."""

    place: Ints
    placed: Ints
    hands: Ints
    hands_count: Ints
    steps: Ints
    steps_count: Ints
    pieces: Ints
    pieces_count: Ints
    owed: Ints
    load: Ints
    members: Ints
    in_bath: Ints
    bath_count: Ints
    own: Ints
    """Of each planned load, its number on the floor, -1 where it could not be opened."""
    journal: Ints
    heap: Ints
    waits_first: Ints
    waits_next: Ints
    open: Ints
    over: Flags
    seats: Ints
    group: Ints
    heads: Ints
    may: Ints
    counts: Ints


def given_of(shop: Shop, numbers: Numbers) -> Given:
    """Return what a replay needs of a shop besides its table."""
    feeds_from, feeds = end_to_end(shop.feeds)
    needs = [tuple(own.items()) for own in shop.needs]
    needs_from, flat = end_to_end([[entry for pair in own for entry in pair] for own in needs])
    gives = np.bincount(numbers.gives, minlength=len(numbers.thing_count))
    free = np.maximum(0, numbers.thing_count - numbers.held_now)
    piece_from = np.zeros(len(free) + 1, np.int64)
    np.cumsum(free + gives + 1, out=piece_from[1:])
    return Given(
        line=ints(shop.line),
        usual=ints(shop.minutes),
        feeds_from=feeds_from,
        feeds=feeds,
        waits_for=ints(shop.waits_for),
        needs_from=needs_from // 2,
        needs=flat.reshape(-1, 2),
        block_of=numbers.block_of,
        over=np.array(
            [any(numbers.flawed[at] for at in block) for block in shop.blocks], np.bool_
        ),
        grows=np.array([int(GROWS**tried) for tried in range(TRIES)], np.int64),
        station_count=numbers.station_count,
        held_now=numbers.held_now,
        piece_from=piece_from,
    )  # fmt: skip


def stood_of(standing: Standing, names: dict[str, int]) -> Stood:
    """Return a standing in arrays.

    Parameters
    ----------
    names
        The numbers of programs.
    """
    count = len(standing.start)
    stage = np.empty((count, 6), np.int64)
    stage[:, BEGINS] = [UNKNOWN if one is None else one for one in standing.start]
    stage[:, BY] = standing.person
    stage[:, SIGNED_BY] = standing.signer
    stage[:, SIGNED_AT] = standing.signed_from
    stage[:, WITH_LOAD] = standing.load
    stage[:, MATES] = -1
    groups: dict[tuple[int, ...], int] = {}
    for at, mates in standing.mates.items():
        stage[at, MATES] = groups.setdefault(tuple(mates), len(groups))
    groups_from, flat = end_to_end(list(groups))
    members_from, members = end_to_end([one.members for one in standing.loads])
    load = np.array(
        [(one.bath, names[one.program], one.start, one.person) for one in standing.loads],
        np.int64,
    ).reshape(-1, 4)
    return Stood(
        stage, load, members_from, members, groups_from, flat,
        np.array(standing.rank, np.int64), np.array(standing.order, np.int64),
    )  # fmt: skip


def lab_of(table: Table, given: Given, planned: int, room: int = 1) -> Lab:
    """Return the empty lab.

    Parameters
    ----------
    planned
        How many loads the last plan has.
    room
        How many times as much is to have room as is usually enough.
    """
    stages, blocks = len(table.stage), len(table.blocks_from) - 1
    persons, baths = len(table.calendar.person), len(table.bath_places)
    stations, things = len(given.station_count), len(table.thing_count)
    loads = (3 * stages + 64) * room + planned
    place = np.full((stages, KEPT_UNTIL + 1), -1, np.int64)
    place[:, TOGETHER] = 0
    wide = max(1, int(table.bath_places.max(initial=1)))
    # Never all used: what is not touched takes no memory.
    return Lab(
        place=place,
        placed=np.empty(stages + 1, np.int64),
        hands=np.empty((persons, (3 * stages + 16) * room, 2), np.int64),
        hands_count=np.zeros(persons, np.int64),
        steps=np.empty((stations, (4 * stages + 16) * room, 2), np.int64),
        steps_count=np.zeros(stations, np.int64),
        pieces=np.zeros(given.piece_from[-1], np.int64),
        pieces_count=np.zeros(things, np.int64),
        owed=np.zeros(things, np.int64),
        load=np.empty((loads, SEATED + 1), np.int64),
        members=np.empty((loads, wide), np.int64),
        in_bath=np.empty((baths, loads), np.int64),
        bath_count=np.zeros(baths, np.int64),
        own=np.full(planned, -1, np.int64),
        journal=np.empty(((16 * stages + 1024) * room, 4), np.int64),
        heap=np.empty(blocks + 1, np.int64),
        waits_first=np.full(things, -1, np.int64),
        waits_next=np.full(blocks, -1, np.int64),
        open=given.waits_for.copy(),
        over=given.over.copy(),
        seats=np.empty(loads, np.int64),
        group=np.empty(blocks + 1, np.int64),
        heads=np.empty(blocks + 1, np.int64),
        may=np.empty(persons, np.int64),
        counts=np.zeros(6, np.int64),
    )
