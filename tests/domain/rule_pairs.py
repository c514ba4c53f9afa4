"""For every design rule: designs that trip it, each beside one that just does not."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import date

from cases.domain.design_parts import Room
from tests.domain.rule_designs import ALONE, BACK, FREE, FRONT, GAP, UPPER, Pair, of, wire
from tests.domain.rule_pairs_cast import block_pairs, copy_pairs, path_pairs
from tests.domain.rule_pairs_piece import clasp_pairs, piece_pairs


def teeth_pairs() -> Iterator[Pair]:
    loose = {"loose_border": True}
    yield "BOR-1", "asks", "", of(FREE, loose), of(FREE, {**loose, "borders_said": True})
    yield "BOR-1", "asks", "", of(FREE, loose), of(FREE)
    pad = (("right pad", "as-cast"),)
    yield (
        "BOR-2",
        "concession",
        "right pad",
        of(FREE, covered=pad),
        of(FREE, covered=(("right pad", "front-half"),)),
    )
    left = (("left pad", "whole"),)
    yield "BOR-2", "concession", "right pad", of(FREE, covered=left), of(FREE)
    behind = frozenset({16, 17})
    end = replace(UPPER, missing=behind, replaced=behind)
    half = (("right tuberosity", "front-half"),)
    yield (
        "BOR-3",
        "concession",
        "right tuberosity",
        of(end, covered=half),
        of(end, covered=(("right tuberosity", "to-the-notch"),)),
    )
    yield (
        "BOR-3",
        "concession",
        "right tuberosity",
        of(end),
        of(end, covered=(("right tuberosity", "whole"),)),
    )
    yield (
        "BOR-4",
        "info",
        "right pad",
        of(GAP, covered=(("right pad", "whole"),)),
        of(FREE, covered=(("right pad", "whole"),)),
    )
    full = {"full_front_ridge": True}
    yield "BOR-5", "asks", "base 11-21", of(FRONT, full), of(FRONT)
    yield "BOR-5", "asks", "base 11-21", of(FRONT, full), of(UPPER, full)
    yield (
        "BOR-5",
        "asks",
        "base 11-21",
        of(FRONT, full),
        of(FRONT, {**full, "answered": frozenset({(19, "base 11-21")})}),
    )
    yield "TTH-1", "advice", "", of(GAP), of(UPPER)
    right, left = frozenset({"right"}), frozenset({"left"})
    yield "TTH-2", "asks", "47", of(FREE, on_slope=right), of(FREE, on_slope=left)
    yield "TTH-2", "asks", "37", of(FREE, on_slope=left), of(FREE, on_slope=right)
    yield "TTH-2", "asks", "47", of(FREE, on_slope=right), of(GAP, on_slope=right)
    yield "TTH-2", "asks", "37", of(FREE, on_slope=left), of(end, on_slope=left | right)
    wide = Room(11, width_mm=7.4, mould_mm=8.5)
    yield (
        "TTH-3",
        "asks",
        "11",
        of(FRONT, rooms=(wide,)),
        of(FRONT, rooms=(replace(wide, width_mm=7.5),)),
    )
    yield (
        "TTH-3",
        "advice",
        "15",
        of(UPPER, rooms=(Room(15, 5.0, 7.0),)),
        of(UPPER, rooms=(Room(15, None, 7.0),)),
    )
    yield (
        "TTH-4",
        "asks",
        "15",
        of(UPPER, rooms=(Room(15, height_mm=4.9),)),
        of(UPPER, rooms=(Room(15, height_mm=5.0),)),
    )
    yield "TTH-5", "asks", "", of(FREE, crest_angle_deg=79.0), of(FREE, crest_angle_deg=80.0)
    yield (
        "TTH-5",
        "asks",
        "",
        of(FREE, crest_angle_deg=79.0),
        of(FREE, crest_angle_deg=79.0, occlusion=frozenset({"crossbite"})),
    )


def order_pairs() -> Iterator[Pair]:
    going = replace(GAP, extracted=frozenset({45}))
    written = {"written_order_on": date(2026, 3, 2), "depths": {45: "1mm"}}
    yield "IMM-1", "cannot", "45", of(going), of(going, written)
    yield "IMM-1", "cannot", "45", of(going, {**written, "depths": {}}), of(going, written)
    yield "IMM-1", "cannot", "45", of(going), of(GAP)
    yield "IMM-2", "cannot", "44", of(FREE, extracted=frozenset({44})), of(FREE)
    yield "IMM-2", "cannot", "44", of(FREE, {"depths": {44: "flush"}}), wire(state="to-be-lost")
    yield "AGR-1", "asks", "", of(FREE, {"drawing_came": False}), of(FREE)
    yield (
        "AGR-1",
        "asks",
        "",
        of(FREE, {"drawing_came": False}),
        of(FREE, {"drawing_came": False}, needs_agreement=True),
    )
    yield "AGR-1", "asks", "", of(FREE, {"ordered": BACK - {37}}), of(FREE, {"ordered": BACK})
    yield "AGR-1", "asks", "44", wire(shows=True), wire()
    lone = frozenset({34, 36, 37})
    yield "AGR-1", "asks", "35", of(ALONE, missing=lone, replaced=lone), of(ALONE)
    yield "AGR-1", "asks", "", of(going, written), of(going, {**written, "agreed": True})
    yield "AGR-1", "asks", "", of(GAP, {"acrylic": True}), of(GAP)
    late = {"answer_overdue": True}
    yield "AGR-2", "info", "", of(FREE, late), of(FREE, {**late, "agreed": True})
    yield (
        "ALL-1",
        "cannot",
        "",
        of(GAP, {"acrylic": True}),
        of(GAP, {"acrylic": True, "acrylic_agreed": True}),
    )


PAIRS: tuple[Pair, ...] = (
    *path_pairs(), *copy_pairs(), *block_pairs(), *clasp_pairs(), *piece_pairs(), *teeth_pairs(),
    *order_pairs(),
)  # fmt: skip
