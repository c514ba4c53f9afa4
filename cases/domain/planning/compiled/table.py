"""A shop as kernels read it, and the state of the lab that the compiled decoder writes.

Few wide arrays instead of many narrow ones: a kernel is handed each array as nine words, and
what it reads of one stage lies together. ``X`` and ``X_END`` are columns that say from where to
where the entries of a row stand in another array.
"""

from __future__ import annotations

from typing import Any, NamedTuple
from weakref import WeakKeyDictionary

import numpy as np
from numpy.typing import NDArray

from cases.domain.planning.compiled.arrays import Flags, Floats, Ints, Numbers, of_shop
from cases.domain.planning.decode import AGAIN_FIRST, AGAIN_GROWS, AGAIN_MOST
from cases.domain.planning.shop import NEVER, Shop

# Columns of a stage.
(
    KIND, MINUTES, SETUP, SIGN, SKILL, STATION, BATCH, PROGRAM, PAUSABLE, RELEASE, LATEST,
    FLAWED, LAST_BY, OTHER_THAN, PINNED, PIN_PERSON, PIN_START, RUNNING, RUN_START, RUN_END,
    RUN_PERSON, RUN_BATH, BLOCK, BEFORE, BEFORE_END, FOLLOWERS, FOLLOWERS_END, TAKES, TAKES_END,
    GIVES, GIVES_END, FITS, FITS_END, MAY_DO, MAY_DO_END, SIGNERS, SIGNERS_END,
) = range(37)  # fmt: skip

# Columns of what a stage comes after; of hours; of a person; of a program; of a load.
EARLIER, LEAST, MOST = range(3)
FROM, UNTIL, WORKED_BEFORE, WORKED = range(4)
HOURS, HOURS_END, SKILLS, STUDENT = range(4)
LASTS, HANDS, BATHS, BATHS_END = range(4)
LOAD_BATH, LOAD_PROGRAM, LOAD_START, LOAD_END, LOAD_PERSON, LOAD_OURS, MEMBERS, NEXT = range(8)

# Columns of the place of a stage; of the state of a block.
(
    START, END, FREE, PERSON, LOAD, TOGETHER, SIGNER, SIGNED_FROM, SIGNED_UNTIL, KEPT_BY,
    KEPT_FROM, KEPT_UNTIL, JOINED,
) = range(13)  # fmt: skip
TRIED, GIVEN_UP, SEEN = range(3)

# Counters of the whole lab.
PLACED, NOTED, LOADS, JOINS, BATCHES, LEFT, EVENTS, REKEYED, TIDIED, STAMP = range(10)

FIXED, WEIGHTED_DUE, FADING = range(3)


class Calendar(NamedTuple):
    """Who is at work when, and how quick."""

    hours: Ints
    person: Ints
    pace: Floats


class Preference(NamedTuple):
    """A formula of ``keys`` by numbers."""

    form: int
    base: Floats
    weight: Floats
    spread: float


class Table(NamedTuple):
    """What does not change while a plan is made."""

    stage: Ints
    before: Ints
    followers: Ints
    takes: Ints
    gives: Ints
    fits: Ints
    may_do: Ints
    signers: Ints
    may: Flags
    eyes: Flags
    blocks: Ints
    blocks_from: Ints
    calendar: Calendar
    thing_count: Ints
    limits: Ints
    program: Ints
    baths_for: Ints
    bath_places: Ints
    waits: Ints
    """Minutes after which a block is tried again, by how often it was."""
    horizon: int


class Taken(NamedTuple):
    """Spans that are taken, in order: of each person, then of each station."""

    spans: Ints
    sizes: Ints
    """How many spans of each."""
    places: Ints
    """How many at once."""


class State(NamedTuple):
    """The lab while a plan is made."""

    place: Ints
    """By stage, see the columns."""
    placed: Ints
    taken: Taken
    journal: Ints
    load: Ints
    first_load: Ints
    last_load: Ints
    held: Ints
    needed: Ints
    events: Ints
    ticked: Flags
    line_key: Floats
    """By skill, and last those that are started without hands: who is ready, in order."""
    line: Ints
    line_count: Ints
    waits_first: Ints
    """Of each thing, the first block that waits for it; then ``waits_next`` of that."""
    waits_next: Ints
    waits_key: Floats
    block: Ints
    idle: Flags
    until: Ints
    passed: Ints
    group: Ints
    others: Ints
    fit: Ints
    counters: Ints
    """See the columns."""


_tables: WeakKeyDictionary[Shop, Table] = WeakKeyDictionary()


def table_of(shop: Shop) -> Table:
    """Return a shop as kernels read it, put together when it is first asked for."""
    found = _tables.get(shop)
    if found is None:
        found = _tables[shop] = _table(of_shop(shop))
    return found


def _table(n: Numbers) -> Table:
    before_running = n.running[n.before]
    columns: list[NDArray[Any]] = [
        n.kind, n.minutes, n.setup, n.sign, n.skill, n.station, n.batch, n.program, n.pausable,
        n.release, n.latest, n.flawed, n.last_by, n.other_than, n.pinned, n.pin_person,
        n.pin_start, n.running, n.run_start, n.run_end, n.run_person, n.run_bath, n.block_of,
    ]  # fmt: skip
    for starts in (
        n.before_from, n.followers_from, n.takes_from, n.gives_from, n.fits_from, n.may_do_from,
        n.signers_from,
    ):  # fmt: skip
        columns += [starts[:-1], starts[1:]]
    tries = range(61)
    return Table(
        stage=_beside(*columns),
        before=_beside(n.before, n.before_least, np.where(before_running, NEVER, n.before_most)),
        followers=n.followers,
        takes=n.takes,
        gives=_beside(n.gives, n.gives_rest),
        fits=_beside(n.fits_minutes, n.fits),
        may_do=n.may_do,
        signers=n.signers,
        may=n.may,
        eyes=n.eyes,
        blocks=n.blocks,
        blocks_from=n.blocks_from,
        calendar=Calendar(
            _beside(n.hours_starts, n.hours_ends, n.worked_before, n.worked),
            _beside(n.hours_from[:-1], n.hours_from[1:], n.skills, n.student),
            n.pace,
        ),
        thing_count=n.thing_count,
        limits=n.limits,
        program=_beside(
            n.program_minutes, n.program_hands, n.baths_for_from[:-1], n.baths_for_from[1:]
        ),
        baths_for=n.baths_for,
        bath_places=n.bath_places,
        waits=np.array(
            [int(min(AGAIN_MOST, AGAIN_FIRST * AGAIN_GROWS**one)) for one in tries], np.int64
        ),
        horizon=n.horizon,
    )


def _beside(*columns: NDArray[Any]) -> Ints:
    return np.ascontiguousarray(np.column_stack(columns).astype(np.int64))


def state_of(numbers: Numbers, room: int) -> State:
    """Return the empty lab.

    Parameters
    ----------
    room
        How many events may wait, and how many loads may be made.
    """
    stages, persons = len(numbers.kind), len(numbers.student)
    blocks, things = len(numbers.blocks_from) - 1, len(numbers.thing_count)
    rows, skills = persons + len(numbers.station_count), numbers.pace.shape[1]
    place = np.full((stages, 13), -1, np.int64)
    place[:, TOGETHER] = 0
    return State(
        place=place,
        placed=np.empty(stages + 1, np.int64),
        # Never all used: what is not touched takes no memory.
        taken=Taken(
            np.empty((rows, 5 * stages + 16, 2), np.int64),
            np.zeros(rows, np.int64),
            np.concatenate([np.ones(persons, np.int64), numbers.station_count]),
        ),
        journal=np.empty((8 * stages + 16, 4), np.int64),
        load=np.empty((room, 8), np.int64),
        first_load=np.full(len(numbers.bath_places), -1, np.int64),
        last_load=np.full(len(numbers.bath_places), -1, np.int64),
        held=numbers.held_now.copy(),
        needed=np.zeros(things, np.int64),
        events=np.empty(room, np.int64),
        ticked=np.zeros(max(1, numbers.horizon), np.bool_),
        line_key=np.empty((skills + 1, blocks + 1)),
        line=np.empty((skills + 1, blocks + 1), np.int64),
        line_count=np.zeros(skills + 1, np.int64),
        waits_first=np.full(things, -1, np.int64),
        waits_next=np.full(blocks, -1, np.int64),
        waits_key=np.zeros(blocks),
        block=np.zeros((blocks, 3), np.int64),
        idle=np.zeros(persons, np.bool_),
        until=np.full(persons, NEVER, np.int64),
        passed=np.zeros(skills, np.int64),
        group=np.empty(blocks + 1, np.int64),
        others=np.empty(blocks + 1, np.int64),
        fit=np.empty(persons, np.int64),
        counters=np.zeros(10, np.int64),
    )
