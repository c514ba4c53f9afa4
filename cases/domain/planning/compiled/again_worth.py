"""Kernels about plans that were played: what they are worth, and what is played from them next."""

from __future__ import annotations

import numpy as np

from cases.domain.planning.compiled.again_state import (
    BATCHES,
    BATH,
    BEGINS,
    BEGINS_AT,
    BY,
    CURES,
    IN_BATH,
    LOADED_BY,
    LOADER,
    MATES,
    RUNS,
    SIGNED_AT,
    SIGNED_BY,
    SINCE,
    UNKNOWN,
    WITH_LOAD,
    Given,
    Lab,
)
from cases.domain.planning.compiled.arrays import Cases, Flags, Ints
from cases.domain.planning.compiled.engine import kernel, lean
from cases.domain.planning.compiled.table import (
    BATCH,
    BEFORE,
    BEFORE_END,
    EARLIER,
    END,
    LAST_BY,
    LEAST,
    LOAD,
    PERSON,
    RELEASE,
    RUNNING,
    SIGNED_FROM,
    SIGNER,
    START,
    TOGETHER,
    Table,
)
from cases.domain.planning.shop import NEVER


@kernel
def leaving(table: Table, cases: Cases, place: Ints) -> Ints:
    """Return when each case leaves, -1 for those that do not."""
    count = len(cases.due)
    found = np.full(count, -1, np.int64)
    for case in range(count):
        first, last = cases.own_from[case], cases.own_from[case + 1]
        done, whole = -1, last > first
        for row in range(first, last):
            at = cases.own[row]
            done = max(done, place[at, END])
            if place[at, START] < 0 and not table.stage[at, RUNNING]:
                whole = False
        if not whole:
            continue
        if cases.vans_from[case] == cases.vans_from[case + 1]:
            found[case] = done
        for row in range(cases.vans_from[case], cases.vans_from[case + 1]):
            if cases.vans[row] >= done:
                found[case] = cases.vans[row]
                break
    for pair in range(len(cases.pairs)):
        one, two = cases.pairs[pair]
        if min(found[one], found[two]) < 0:
            found[one] = found[two] = -1
            continue
        later = max(found[one], found[two])
        both = NEVER
        for row in range(cases.vans_from[one], cases.vans_from[one + 1]):
            van = cases.vans[row]
            if van >= later and van < both:
                for entry in range(cases.vans_from[two], cases.vans_from[two + 1]):
                    if cases.vans[entry] == van:
                        both = van
        found[one] = found[two] = both if both < NEVER else later
    return found


@lean
def worth(table: Table, cases: Cases, place: Ints, leaves: Ints) -> tuple[int, float, int, int]:
    """Return what a plan is worth: the smaller the better."""
    lateness, flow, without, moved = 0.0, 0, 0, 0
    for case in range(len(leaves)):
        at = leaves[case]
        if at >= 0:
            lateness += cases.weight[case] * max(0, at - cases.due[case])
            flow += at - cases.release[case]
            continue
        first, last, open_ = cases.own_from[case], cases.own_from[case + 1], 0
        for row in range(first, last):
            own = cases.own[row]
            open_ += place[own, START] < 0 and not table.stage[own, RUNNING]
        without += open_ if open_ else last - first
    for at in range(len(table.stage)):
        by = table.stage[at, LAST_BY]
        moved += by >= 0 and place[at, PERSON] != by
    return without, lateness, moved, flow


@kernel
def ranks(table: Table, given: Given, stage: Ints) -> tuple[Ints, Ints]:
    """Return the rank of each block, and the blocks in their order."""
    count = len(table.blocks_from) - 1
    wish = np.zeros(len(table.stage))
    for row in range(len(given.line)):
        at = given.line[row]
        soonest = float(table.stage[at, RELEASE])
        for entry in range(table.stage[at, BEFORE], table.stage[at, BEFORE_END]):
            earlier = table.before[entry, EARLIER]
            soonest = max(
                soonest, wish[earlier] + given.usual[earlier] + table.before[entry, LEAST]
            )
        known = stage[at, BEGINS]
        wish[at] = soonest if known == UNKNOWN else float(known)
    heads = np.empty(count)
    for block in range(count):
        heads[block] = wish[table.blocks[table.blocks_from[block]]]
    order = np.argsort(heads, kind="mergesort")
    rank = np.empty(count, np.int64)
    for place in range(count):
        rank[order[place]] = place
    return rank, order


@kernel
def stand(
    table: Table, given: Given, lab: Lab, of_load: Ints, heads: Flags
) -> tuple[Ints, Ints, Ints, Ints, Ints, Ints]:
    """Return what was played as a plan to play again, but for its order.

    Parameters
    ----------
    of_load
        Room for a number for each load on the floor.
    heads
        Of each stage whether it is the first of its block.

    Returns
    -------
    Stages, loads, where the members of each load begin, the members, and the same of groups.
    """
    stages = len(table.stage)
    stage = np.empty((stages, 6), np.int64)
    load = np.empty((stages, 4), np.int64)
    load_count = np.zeros(stages + 1, np.int64)
    group_count = np.zeros(stages + 1, np.int64)
    # Batches that were tried and undone count too.
    of_group = np.full(lab.counts[BATCHES] + 1, -1, np.int64)
    size = np.zeros(lab.counts[BATCHES] + 1, np.int64)
    of_load[:] = -1
    loads = groups = 0
    for at in range(stages):
        place = lab.place[at]
        if place[TOGETHER] > 0 and heads[at] and not table.stage[at, RUNNING]:
            size[place[TOGETHER]] += 1
    for at in range(stages):
        place, own = lab.place[at], stage[at]
        own[BEGINS], own[BY], own[SIGNED_BY], own[SIGNED_AT] = UNKNOWN, -1, -1, 0
        own[WITH_LOAD] = own[MATES] = -1
        if table.stage[at, RUNNING] or place[START] < 0:
            continue
        own[BEGINS], own[BY] = place[START], place[PERSON]
        if place[SIGNER] >= 0:
            own[SIGNED_BY], own[SIGNED_AT] = place[SIGNER], place[SIGNED_FROM]
        number, together = place[LOAD], place[TOGETHER]
        if number >= 0:
            if of_load[number] < 0:
                of_load[number] = loads
                load[loads, IN_BATH], load[loads, RUNS] = (
                    lab.load[number, BATH], lab.load[number, CURES],
                )  # fmt: skip
                load[loads, BEGINS_AT] = lab.load[number, SINCE]
                load[loads, LOADED_BY] = lab.load[number, LOADER]
                loads += 1
            own[WITH_LOAD] = of_load[number]
            load_count[of_load[number] + 1] += 1
        elif together > 0 and heads[at] and size[together] > 1 and table.stage[at, BATCH] >= 0:
            if of_group[together] < 0:
                of_group[together] = groups
                groups += 1
            own[MATES] = of_group[together]
            group_count[of_group[together] + 1] += 1
    members_from, groups_from = (
        np.cumsum(load_count[: loads + 1]),
        np.cumsum(group_count[: groups + 1]),
    )
    members = np.empty(members_from[loads], np.int64)
    mates = np.empty(groups_from[groups], np.int64)
    in_load, in_group = members_from.copy(), groups_from.copy()
    for at in range(stages):
        number, group = stage[at, WITH_LOAD], stage[at, MATES]
        if number >= 0:
            members[in_load[number]] = at
            in_load[number] += 1
        if group >= 0:
            mates[in_group[group]] = at
            in_group[group] += 1
    return stage, load[:loads].copy(), members_from, members, groups_from, mates
