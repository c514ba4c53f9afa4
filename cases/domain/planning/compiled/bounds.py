"""Kernels of what bounds a stage by what it comes after, whoever gives it its place."""

from __future__ import annotations

from cases.domain.planning.compiled.arrays import Ints
from cases.domain.planning.compiled.engine import lean
from cases.domain.planning.compiled.table import (
    BEFORE,
    BEFORE_END,
    EARLIER,
    END,
    FREE,
    LATEST,
    LEAST,
    MOST,
    OTHER_THAN,
    PERSON,
    RELEASE,
    Table,
)
from cases.domain.planning.shop import NEVER


@lean
def kept_from(table: Table, place: Ints, at: int) -> int:
    """Return who does not do a stage because it looks at what he did; -1 for nobody."""
    other = table.stage[at, OTHER_THAN]
    doer = place[other, PERSON] if other >= 0 else -1
    if doer >= 0:
        for person in range(len(table.calendar.person)):
            if person != doer and table.eyes[at, person]:
                return doer
    return -1


@lean
def lower(table: Table, place: Ints, at: int, now: int) -> int:
    """Return the first minute for a stage by what it comes after."""
    start = max(now, table.stage[at, RELEASE])
    for row in range(table.stage[at, BEFORE], table.stage[at, BEFORE_END]):
        earlier = place[table.before[row, EARLIER]]
        start = max(start, earlier[END] + table.before[row, LEAST], earlier[FREE])
    return start


@lean
def slack(table: Table, place: Ints, at: int) -> int:
    """Return the last minute for a stage by what it comes after."""
    last = table.stage[at, LATEST]
    for row in range(table.stage[at, BEFORE], table.stage[at, BEFORE_END]):
        most = table.before[row, MOST]
        if most < NEVER:
            last = min(last, place[table.before[row, EARLIER], END] + most)
    return last
