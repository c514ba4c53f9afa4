"""Each condition of the route editor, once true and once false, as a technician would say it."""

from __future__ import annotations

from dataclasses import replace

import pytest

from cases.domain.conditions import CONDITIONS, holds
from cases.domain.design import Clasp, Design, WorkOrder
from cases.domain.network import minutes_of
from cases.domain.route import default_template, grow

NEW = WorkOrder()
ADJUSTMENT = WorkOrder(kind="adjustment", impressions_came=False, opposing=False)
REPAIR = WorkOrder(kind="repair")
ADDITION = WorkOrder(kind="addition")
CASTS = WorkOrder(impressions_came=False)
SCAN = WorkOrder(impressions_came=False, scan=True)
FROM_MASTER = WorkOrder(kind="remake", remake_start="kept-master", impressions_came=False)
FROM_INDEX = WorkOrder(kind="remake", remake_start="kept-wax-index", impressions_came=False)
FROM_IMPRESSION = WorkOrder(kind="remake", remake_start="new-impression")
RIM = WorkOrder(bite="rim")

BARE = Design(arch="lower")
PIECE = Design(
    arch="lower",
    missing=frozenset({46}),
    replaced=frozenset({46}),
    extracted=frozenset({46}),
    clasps=(Clasp(45),),
    bar=True,
    joints=1,
    needs_agreement=True,
    method="plaster",
)
WAX_COPY = replace(PIECE, method="wax-then-copy")
WAX_COPY_GEL = replace(WAX_COPY, copy_in="gel")
COPY_PLASTER = replace(PIECE, method="copy-then-plaster")
COPY_PLASTER_GEL = replace(COPY_PLASTER, copy_in="gel")
RELIEF = replace(PIECE, method="none")
RESTS = replace(BARE, rests=frozenset({45}))

# Condition: cases where it is true, and cases where it is not.
Case = tuple[WorkOrder, Design]
TABLE: dict[str, tuple[list[Case], list[Case]]] = {
    "always": ([(NEW, BARE), (ADJUSTMENT, BARE)], []),
    "new-piece": (
        [(NEW, BARE), (FROM_MASTER, BARE)],
        [(ADJUSTMENT, PIECE), (REPAIR, PIECE), (ADDITION, PIECE)],
    ),
    "fresh-start": (
        [(NEW, BARE), (CASTS, BARE), (SCAN, BARE), (FROM_IMPRESSION, BARE)],
        [(FROM_MASTER, BARE), (FROM_INDEX, BARE), (REPAIR, BARE)],
    ),
    "not-proven": (
        [(NEW, BARE), (CASTS, BARE), (ADJUSTMENT, BARE), (replace(SCAN, impressions_came=True),
                                                          BARE)],
        [(WorkOrder(disinfection_proven=True), BARE), (SCAN, BARE)],
    ),
    "pour": ([(NEW, BARE), (FROM_IMPRESSION, BARE)], [(CASTS, BARE), (REPAIR, BARE), (SCAN, BARE)]),
    "not-poured": ([(CASTS, BARE), (REPAIR, BARE)], [(NEW, BARE)]),
    "alginate": ([(NEW, BARE)], [(WorkOrder(alginate=False), BARE)]),
    "not-alginate": ([(WorkOrder(alginate=False), BARE)], [(NEW, BARE)]),
    "casts-to-trim": (
        [(NEW, BARE), (CASTS, BARE), (SCAN, BARE), (REPAIR, BARE)],
        [(FROM_MASTER, BARE), (ADJUSTMENT, BARE), (replace(REPAIR, impressions_came=False), BARE)],
    ),
    "rim": (
        [(RIM, BARE), (replace(FROM_MASTER, bite="rim"), BARE)],
        [(NEW, BARE), (WorkOrder(bite="record"), BARE), (replace(FROM_INDEX, bite="rim"), BARE),
         (replace(ADJUSTMENT, bite="rim"), BARE)],
    ),
    "immediate": ([(NEW, PIECE), (ADDITION, PIECE)], [(NEW, BARE), (REPAIR, PIECE)]),
    "agreement": ([(NEW, PIECE)], [(NEW, BARE), (REPAIR, PIECE)]),
    "copy": ([(NEW, WAX_COPY), (NEW, COPY_PLASTER)], [(NEW, PIECE), (REPAIR, WAX_COPY)]),
    "master-kept": ([(NEW, WAX_COPY), (NEW, COPY_PLASTER)], [(NEW, RELIEF), (REPAIR, WAX_COPY)]),
    "no-master": ([(NEW, PIECE), (NEW, RELIEF), (ADJUSTMENT, WAX_COPY)], [(NEW, WAX_COPY)]),
    "new-piece-no-master": ([(NEW, PIECE)], [(NEW, WAX_COPY), (ADJUSTMENT, PIECE)]),
    "wax-then-copy": ([(NEW, WAX_COPY)], [(NEW, COPY_PLASTER), (NEW, PIECE)]),
    "copy-then-plaster": ([(NEW, COPY_PLASTER)], [(NEW, WAX_COPY), (NEW, PIECE)]),
    "wax-then-copy-silicone": ([(NEW, WAX_COPY)], [(NEW, WAX_COPY_GEL), (NEW, COPY_PLASTER)]),
    "wax-then-copy-gel": ([(NEW, WAX_COPY_GEL)], [(NEW, WAX_COPY), (NEW, COPY_PLASTER_GEL)]),
    "copy-then-plaster-silicone": (
        [(NEW, COPY_PLASTER)], [(NEW, COPY_PLASTER_GEL), (NEW, WAX_COPY)],
    ),
    "copy-then-plaster-gel": (
        [(NEW, COPY_PLASTER_GEL)], [(NEW, COPY_PLASTER), (NEW, WAX_COPY_GEL)],
    ),
    "not-copy-then-plaster": ([(NEW, WAX_COPY), (NEW, RELIEF)], [(NEW, COPY_PLASTER)]),
    "plaster-block-out": (
        [(NEW, PIECE), (NEW, COPY_PLASTER)], [(NEW, WAX_COPY), (NEW, RELIEF)],
    ),
    "relief-only": ([(NEW, RELIEF)], [(NEW, PIECE), (NEW, WAX_COPY)]),
    "silicone": ([(NEW, WAX_COPY)], [(NEW, WAX_COPY_GEL)]),
    "gel": ([(NEW, WAX_COPY_GEL)], [(NEW, WAX_COPY)]),
    "mounted": ([(NEW, BARE)], [(WorkOrder(opposing=False), BARE), (REPAIR, BARE)]),
    "wires": (
        [(NEW, PIECE), (NEW, RESTS), (REPAIR, PIECE)], [(NEW, BARE), (ADJUSTMENT, PIECE)],
    ),
    "bar": ([(NEW, PIECE)], [(NEW, BARE), (REPAIR, PIECE)]),
    "joints": ([(NEW, PIECE), (REPAIR, PIECE)], [(NEW, BARE), (ADJUSTMENT, PIECE)]),
    "teeth": (
        [(NEW, PIECE), (ADDITION, PIECE)],
        [(NEW, BARE), (ADJUSTMENT, PIECE), (FROM_INDEX, PIECE)],
    ),
    "index": ([(FROM_INDEX, PIECE)], [(FROM_MASTER, PIECE), (NEW, PIECE)]),
    "try-in": (
        [(WorkOrder(try_in=True), BARE)], [(NEW, BARE), (replace(REPAIR, try_in=True), BARE)],
    ),
    "polish": (
        [(NEW, BARE), (WorkOrder(polish="outer-borders-left"), BARE), (ADJUSTMENT, BARE)],
        [(WorkOrder(polish="none"), BARE)],
    ),
    "adjustment": ([(ADJUSTMENT, BARE)], [(NEW, BARE), (REPAIR, BARE)]),
    "mending": ([(REPAIR, BARE), (ADDITION, BARE)], [(NEW, BARE), (ADJUSTMENT, BARE)]),
    "pick-up": (
        [(REPAIR, BARE), (ADDITION, BARE)],
        [(NEW, BARE), (replace(REPAIR, impressions_came=False), BARE)],
    ),
    "scan": ([(SCAN, BARE)], [(NEW, BARE), (replace(FROM_MASTER, scan=True), BARE)]),
    "impression-or-cast": (
        [(NEW, BARE), (CASTS, BARE), (SCAN, BARE), (REPAIR, BARE)],
        [(FROM_MASTER, BARE), (ADJUSTMENT, BARE)],
    ),
}  # fmt: skip


def test_every_condition_is_in_the_table() -> None:
    assert set(TABLE) == set(CONDITIONS)


@pytest.mark.parametrize("name", TABLE)
def test_condition_is_true_and_false_where_the_bench_says(name: str) -> None:
    yes, no = TABLE[name]

    assert [holds(name, order, design) for order, design in yes] == [True] * len(yes)
    assert [holds(name, order, design) for order, design in no] == [False] * len(no)


def test_unknown_condition_is_refused_by_name() -> None:
    with pytest.raises(ValueError, match="condition “full moon”"):
        holds("full moon", NEW, BARE)


def test_unknown_count_in_the_minutes_is_refused_by_name() -> None:
    stage = replace(default_template().stages[0], minutes={"*": {"Z": 2}})

    with pytest.raises(ValueError, match="“Unpack and log” count “Z”"):
        minutes_of(stage, NEW, BARE)


def test_unknown_limit_of_a_check_is_refused_by_name() -> None:
    template = default_template()
    measures = tuple(replace(m, from_design="x") for m in template.checks[3].measures)
    checks = (replace(template.checks[3], measures=measures),)

    with pytest.raises(ValueError, match="limit “x”"):
        grow(replace(template, checks=checks), NEW, BARE)
