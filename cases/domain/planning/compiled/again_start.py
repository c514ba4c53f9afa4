"""Kernels of how a plan that is played again begins: what runs, what is pinned, who is first."""

from __future__ import annotations

from cases.domain.planning.compiled.again_stages import sign
from cases.domain.planning.compiled.again_state import (
    BY,
    NOTED,
    PLACED,
    QUEUED,
    RUNNING_LOAD,
    SEATED,
    Given,
    Lab,
    Stood,
)
from cases.domain.planning.compiled.arrays import ATTENDED, Floats, Ints
from cases.domain.planning.compiled.arrays import LOAD as IN_LOAD
from cases.domain.planning.compiled.engine import lean
from cases.domain.planning.compiled.heaps import put_in, take_out
from cases.domain.planning.compiled.lines import (
    fill_place,
    give_piece,
    occupy,
    room_of,
)
from cases.domain.planning.compiled.reloading import (
    open_load,
    open_planned,
)
from cases.domain.planning.compiled.rooms import hand_minutes
from cases.domain.planning.compiled.table import (
    END,
    FREE,
    GIVES,
    GIVES_END,
    KEPT_BY,
    KEPT_FROM,
    KEPT_UNTIL,
    KIND,
    LOAD,
    PAUSABLE,
    PERSON,
    PIN_PERSON,
    PIN_START,
    PROGRAM,
    RUN_BATH,
    RUN_END,
    RUN_PERSON,
    RUN_START,
    RUNNING,
    SKILL,
    START,
    STATION,
    Table,
)
from cases.domain.planning.shop import NEVER


@lean
def push(lab: Lab, rank: int) -> None:
    """Queue a block up by its rank."""
    put_in(lab.heap, lab.counts[QUEUED], rank)
    lab.counts[QUEUED] += 1


@lean
def pop(lab: Lab) -> int:
    """Return the least rank that is queued up."""
    lab.counts[QUEUED] -= 1
    return take_out(lab.heap, lab.counts[QUEUED])


@lean
def reserve(table: Table, stood: Stood, lab: Lab, minutes: Floats) -> None:
    """Keep the time of stages that are pinned to a minute, before others take it."""
    calendar = table.calendar
    for at in range(len(table.stage)):
        stage = table.stage[at]
        if stage[PIN_START] >= NEVER or stage[KIND] != ATTENDED or stage[RUNNING]:
            continue
        person = stage[PIN_PERSON] if stage[PIN_PERSON] >= 0 else stood.stage[at, BY]
        if person < 0 or not table.may[at, person]:
            continue
        needed = hand_minutes(minutes[at], calendar.pace[person, stage[SKILL]])
        start, end = room_of(
            calendar, lab, person, stage[PIN_START], needed,
            bool(stage[PAUSABLE]),
        )  # fmt: skip
        if start == stage[PIN_START]:
            place = lab.place[at]
            place[KEPT_BY], place[KEPT_FROM], place[KEPT_UNTIL] = person, start, end
            occupy(calendar, lab, person, start, end)


@lean
def set_out(
    table: Table,
    given: Given,
    stood: Stood,
    lab: Lab,
    minutes: Floats,
    ends: Ints,
) -> None:
    """Take over what runs, keep what is pinned, open the planned loads, and queue up blocks."""
    calendar = table.calendar
    for station in range(len(lab.steps)):
        lab.steps[station, 0, 0], lab.steps[station, 0, 1] = -NEVER, 0
        lab.steps_count[station] = 1
    for thing in range(len(table.thing_count)):
        free = table.thing_count[thing] - given.held_now[thing]
        lab.pieces_count[thing], lab.owed[thing] = max(0, free), max(0, -free)
    for at in range(len(table.stage)):
        stage, place = table.stage[at], lab.place[at]
        if not stage[RUNNING]:
            continue
        end, person = ends[at], stage[RUN_PERSON]
        place[START], place[END], place[FREE], place[PERSON] = stage[RUN_START], end, end, person
        if stage[KIND] == ATTENDED and person >= 0:
            free, _ = room_of(calendar, lab, person, 0, 1, True)
            if free < end:  # whom two things keep busy at once is busy until the later
                occupy(calendar, lab, person, free, end)
        if stage[STATION] >= 0:
            fill_place(lab, stage[STATION], stage[RUN_START], end, 1)
        if stage[KIND] == IN_LOAD and stage[RUN_BATH] >= 0:
            number = open_load(
                lab, stage[RUN_BATH], stage[PROGRAM], stage[RUN_START], max(stage[RUN_END], 0),
                -1, RUNNING_LOAD, 0,
            )  # fmt: skip
            lab.members[number, 0] = at
            lab.load[number, SEATED] = 1
            place[LOAD] = number
        for row in range(stage[GIVES], stage[GIVES_END]):
            give_piece(
                lab, given.piece_from, table.gives[row, 0], max(0, end + table.gives[row, 1])
            )
    reserve(table, stood, lab, minutes)
    open_planned(table, stood, lab)
    for at in range(len(table.stage)):
        if table.stage[at, RUNNING]:
            sign(table, stood, lab, at)
    lab.counts[NOTED] = lab.counts[PLACED] = 0
    for number in range(len(lab.over)):
        if not lab.over[number] and not lab.open[number]:
            push(lab, stood.rank[number])
