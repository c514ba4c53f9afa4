"""Kernels that give one stage its place when a plan is played again."""

from __future__ import annotations

import numpy as np

from cases.domain.planning.compiled.again_state import (
    BATCHES,
    BEGINS,
    BY,
    SIGNED_AT,
    SIGNED_BY,
    UNKNOWN,
    Given,
    Lab,
    Stood,
)
from cases.domain.planning.compiled.arrays import ATTENDED, Floats, Ints
from cases.domain.planning.compiled.arrays import LOAD as IN_LOAD
from cases.domain.planning.compiled.bounds import kept_from, lower, slack
from cases.domain.planning.compiled.engine import lean
from cases.domain.planning.compiled.lines import (
    full_until,
    leave_hands,
    room_of,
    soonest_free,
    take_hands,
    take_place,
    works_at,
)
from cases.domain.planning.compiled.reloading import (
    place_in_load,
    put,
)
from cases.domain.planning.compiled.rooms import hand_minutes
from cases.domain.planning.compiled.table import (
    END,
    FREE,
    KEPT_BY,
    KEPT_FROM,
    KEPT_UNTIL,
    KIND,
    MAY_DO,
    MAY_DO_END,
    OTHER_THAN,
    PAUSABLE,
    PERSON,
    PIN_START,
    SETUP,
    SIGN,
    SIGNED_FROM,
    SIGNED_UNTIL,
    SIGNER,
    SIGNERS,
    SIGNERS_END,
    SKILL,
    STATION,
    STUDENT,
    TAKES,
    TAKES_END,
    TOGETHER,
    Table,
)
from cases.domain.planning.replay import EASY
from cases.domain.planning.shop import NEVER


@lean
def earliest_of(table: Table, given: Given, lab: Lab, at: int) -> int:
    """Return the first minute for a stage by what it comes after, and what it takes."""
    start = lower(table, lab.place, at, 0)
    for row in range(table.stage[at, TAKES], table.stage[at, TAKES_END]):
        start = max(start, soonest_free(lab, given.piece_from, table.takes[row], 1))
    return start


@lean
def who_may(table: Table, lab: Lab, ats: Ints, count: int) -> int:
    """Write into ``may`` who may do some stages together; return how many."""
    found, first = 0, ats[0]
    for row in range(table.stage[first, MAY_DO], table.stage[first, MAY_DO_END]):
        person, able = table.may_do[row], True
        for number in range(count):
            at = ats[number]
            able = able and table.may[at, person]
            if able and table.stage[at, OTHER_THAN] >= 0:
                able = kept_from(table, lab.place, at) != person
        if able:
            lab.may[found] = person
            found += 1
    return found


@lean
def room_and_place(
    table: Table,
    given: Given,
    lab: Lab,
    person: int,
    earliest: int,
    minutes: int,
    pausable: bool,
    station: int,
) -> tuple[int, int]:
    """Return the first start and end for a person and a place, (NEVER, NEVER) if none."""
    calendar = table.calendar
    start, end = room_of(
        calendar, lab, person, earliest, minutes, pausable
    )  # fmt: skip
    if station < 0:
        return start, end
    while start < NEVER:
        again = full_until(lab, given.station_count, station, start, end)
        if again < 0:
            break
        start, end = room_of(
            calendar, lab, person, again, minutes, pausable
        )  # fmt: skip
    return start, end


@lean
def choose(
    table: Table,
    given: Given,
    stood: Stood,
    lab: Lab,
    minutes: Floats,
    ats: Ints,
    count: int,
    earliest: int,
    wished: int,
    keep_until: int,
) -> tuple[int, int, int]:
    """Return start, end and person for stages done together, NEVER if nobody can."""
    calendar, first = table.calendar, ats[0]
    stage = table.stage[first]
    total, pausable = minutes[first], bool(stage[PAUSABLE])
    if count > 1:
        most, total = 0, 0.0
        for number in range(count):
            at = ats[number]
            most = max(most, table.stage[at, SETUP])
            total += max(0.0, minutes[at] - table.stage[at, SETUP])
            pausable = pausable and bool(table.stage[at, PAUSABLE])
        total = most + total
    able = who_may(table, lab, ats, count)
    own, planned = stood.stage[first, BY], stood.stage[first, BEGINS]
    best_end, best_start, best = NEVER, NEVER, -1
    own_may = False
    for number in range(able):
        own_may = own_may or lab.may[number] == own
    if planned != UNKNOWN and own_may:
        needed = hand_minutes(total, calendar.pace[own, stage[SKILL]])
        start, end = room_and_place(
            table, given, lab, own, earliest, needed, pausable, stage[STATION]
        )
        kept = planned < keep_until and (planned < 0 or works_at(calendar, own, planned))
        if start < NEVER and (kept or start <= max(earliest, wished) + EASY):
            return start, end, own
        best_end, best_start, best = end, start, own
    for number in range(able):
        person = lab.may[number]
        if person == own:
            continue
        needed = hand_minutes(total, calendar.pace[person, stage[SKILL]])
        start, end = room_and_place(
            table, given, lab, person, earliest, needed, pausable, stage[STATION]
        )
        if end < best_end:
            best_end, best_start, best = end, start, person
    return best_start, best_end, best


@lean
def sign(table: Table, stood: Stood, lab: Lab, at: int) -> bool:
    """Find who countersigns what a student did: who should have, if he can soon."""
    calendar, place = table.calendar, lab.place[at]
    doer, minutes = place[PERSON], table.stage[at, SIGN]
    if not minutes or doer < 0 or not calendar.person[doer, STUDENT]:
        return True
    end, own = place[END], stood.stage[at, SIGNED_BY]
    wished = max(end, stood.stage[at, SIGNED_AT])
    best_until, best_start, best = NEVER, NEVER, -1
    for number in range(table.stage[at, SIGNERS], table.stage[at, SIGNERS_END]):
        person = table.signers[number]
        if person == doer:
            continue
        since = wished if person == own and wished <= end + EASY else end
        start, until = room_of(
            calendar, lab, person, since, minutes, False
        )  # fmt: skip
        if person == own and start == wished and start < NEVER:
            best_until, best_start, best = until, start, person
            break
        if until < best_until or (
            until == best_until and (start < best_start or (start == best_start and person < best))
        ):
            best_until, best_start, best = until, start, person
    if best < 0 or best_until >= NEVER:
        return False
    take_hands(calendar, lab, best, best_start, best_until)
    place[SIGNER], place[SIGNED_FROM], place[SIGNED_UNTIL] = best, best_start, best_until
    place[FREE] = best_until
    return True


@lean
def place_attended(
    table: Table,
    given: Given,
    stood: Stood,
    lab: Lab,
    minutes: Floats,
    ats: Ints,
    count: int,
    earliest: int,
    keep_until: int,
) -> bool:
    """Give stages that are done together their place."""
    first = ats[0]
    wished = stood.stage[first, BEGINS] if stood.stage[first, BEGINS] != UNKNOWN else 0
    kept = lab.place[first]
    if kept[KEPT_BY] >= 0:
        leave_hands(table.calendar, lab, kept[KEPT_BY], kept[KEPT_FROM], kept[KEPT_UNTIL])
    start, end, person = choose(
        table, given, stood, lab, minutes, ats, count, earliest, wished, keep_until
    )
    if start >= NEVER:
        return False
    pin = table.stage[first, PIN_START]
    if pin < NEVER and start != pin:
        return False
    take_hands(table.calendar, lab, person, start, end)
    take_place(lab, table.stage[first, STATION], start, end)
    name = 0
    if count > 1:
        lab.counts[BATCHES] += 1
        name = lab.counts[BATCHES]
    for number in range(count):
        at = ats[number]
        put(table, given, lab, at, start, end, person)
        lab.place[at, TOGETHER] = name
        if not sign(table, stood, lab, at):
            return False
    return True


@lean
def place_stage(
    table: Table,
    given: Given,
    stood: Stood,
    lab: Lab,
    minutes: Floats,
    at: int,
    earliest: int,
    keep_until: int,
) -> bool:
    """Give a stage the first place from a minute on."""
    stage = table.stage[at]
    pin = stage[PIN_START]
    if pin < NEVER:
        if pin < earliest:
            return False
        earliest = pin
    if stage[KIND] == ATTENDED:
        lab.heads[len(lab.heads) - 1] = at
        return place_attended(
            table, given, stood, lab, minutes, lab.heads[len(lab.heads) - 1 :], 1, earliest,
            keep_until,
        )  # fmt: skip
    if stage[KIND] == IN_LOAD:
        latest = slack(table, lab.place, at)
        return place_in_load(table, given, stood, lab, at, earliest, min(pin, latest))
    lasts, start = int(np.rint(minutes[at])), earliest
    if stage[STATION] >= 0:
        again = full_until(lab, given.station_count, stage[STATION], start, start + lasts)
        while again >= 0:
            start = again
            again = full_until(lab, given.station_count, stage[STATION], start, start + lasts)
    take_place(lab, stage[STATION], start, start + lasts)
    put(table, given, lab, at, start, start + lasts, -1)
    return pin >= NEVER or start == pin
