"""What each bench reads of a design."""

from __future__ import annotations

from dataclasses import replace

import pytest

from cases.domain.bench_tables import AT, Cell, tables
from cases.domain.design import Bar, Clasp, Design, Room, Survey, Undercut, WorkOrder
from cases.domain.route import default_template, grow
from cases.domain.teeth import primary_before

DESIGN = Design(
    arch="lower",
    missing=frozenset({35, 36, 37}),
    replaced=frozenset({35, 36, 37}),
    clasps=(
        Clasp(44, wire_mm=0.9, free_arm_mm=10, undercut_mm=0.25, tip="mesial", bracing="plate"),
        Clasp(34, wire_mm=0.9, tip="mesial", bracing="collar", bracing_mm=1.4, line_mm=4.0),
        Clasp(47, bracing="none"),
    ),
    bar=True,
    strengthener=Bar("round", 1.3, relief_mm=0.5, cover_mm=1.0, held="two stops"),
    blocked=frozenset({(34, "distal")}),
    survey=Survey(undercuts=(Undercut(34, "distal", 0.25), Undercut(44, "lingual", 0.0))),
    method="plaster",
    covered=(("left pad", "whole"),),
)


def of(stage: str, key: str, kept: dict[str, dict[str, float]] | None = None) -> tuple[object, ...]:
    """The rows of one table."""
    (table,) = (one for one in tables(DESIGN, stage, kept or {}) if one.key == key)
    return table.rows


def mm(value: float) -> Cell:
    """A length."""
    return Cell(number=value, unit="mm")


STEEL = Cell("stainless steel, hard")


def test_the_wire_bench_reads_lengths_and_depths_along_the_arch() -> None:
    rows = of("clasps", "wires")
    assert [row[0].fdi for row in rows] == [47, 44, 34]  # type: ignore[index]
    assert rows[1] == (Cell(fdi=44), mm(0.9), mm(10), mm(0.25), Cell("mesial"), STEEL)
    assert rows[0][1].empty  # type: ignore[index]


@pytest.mark.parametrize(
    ("clasp", "said"),
    [
        (Clasp(44, wire_mm=0.9116, gauge="19", gauge_system="awg"), Cell("0.91 mm (19 AWG)")),
        (Clasp(44, wire_mm=1.0, section="half_round"), Cell("1 mm, half-round")),
        (
            Clasp(44, wire_mm=1.016, gauge="19", gauge_system="swg", section="half_round"),
            Cell("1.02 mm (19 SWG), half-round"),
        ),
        (Clasp(44, wire_mm=0.9, gauge="0.9", gauge_system="mm"), mm(0.9)),
        (Clasp(44, wire_mm=0.9, tip_wire_mm=0.6), Cell("0.9 mm, tapered to 0.6 mm")),
        (
            Clasp(44, wire_mm=0.9116, gauge="19", gauge_system="awg", tip_wire_mm=0.6),
            Cell("0.91 mm (19 AWG), tapered to 0.6 mm"),
        ),
    ],
)
def test_the_wire_bench_reads_which_wire_to_take(clasp: Clasp, said: Cell) -> None:
    (table,) = tables(replace(DESIGN, clasps=(clasp,)), "clasps", {})
    assert table.rows[0][1] == said


def test_the_wax_bench_reads_how_near_to_the_cusp_tip_the_wax_must_come() -> None:
    assert of("wax", "heights", {"12@survey:44": {"line": 3.5}}) == (
        (Cell(fdi=44), Cell("the plate"), mm(1.0), mm(2.5)),
        (Cell(fdi=34), Cell("an acrylic collar"), mm(1.4), mm(2.6)),
    )


def test_what_was_kept_at_the_survey_counts_before_what_was_drawn() -> None:
    (_first, second) = of("wax", "heights", {"12@survey:34": {"line": 5.0}})
    assert second[3] == mm(3.6)  # type: ignore[index]


@pytest.mark.parametrize("stage", ["wax", "finish", "inspect"])
def test_heights_are_the_limits_of_the_check(stage: str) -> None:
    route = grow(default_template(), WorkOrder(), replace(DESIGN, method="wax-then-copy"))
    asked = {c.subject: c.measures[0].low for c in route.stage(stage).checks if c.number == 30}
    shown = {str(row[0].fdi): row[2].number for row in of(stage, "heights")}  # type: ignore[index]
    assert shown == {tooth: pytest.approx(low) for tooth, low in asked.items()}


def test_the_finishing_bench_reads_what_must_not_be_ground_away() -> None:
    (heights,) = (one for one in tables(DESIGN, "finish", {}) if one.key == "heights")
    assert heights.title == "Must not be ground away"
    assert of("finish", "pads") == ((Cell("left pad"), Cell("as a whole")),)
    assert of("pack", "bar")[0][4] == Cell("two stops")  # type: ignore[index]


def test_the_teeth_bench_reads_the_room_of_each_denture_tooth() -> None:
    measured = replace(
        DESIGN, rooms=(Room(37, 9.0, None, 5.5), Room(36, 10.5, 11.0), Room(33, 6.0))
    )
    (table,) = tables(measured, "teeth", {})
    # 33 stands: what was measured there once is no matter of this bench.
    assert table.rows == (
        (Cell(fdi=36), mm(10.5), mm(11.0), Cell()),
        (Cell(fdi=37), mm(9.0), Cell(), mm(5.5)),
    )


def test_the_block_out_bench_reads_faces_and_where_the_tips_will_lie() -> None:
    assert of("block-out", "faces")[0] == (
        Cell(fdi=34), Cell("distal"), mm(0.25), Cell("block out"),
    )  # fmt: skip
    assert len(of("block-out", "tips")) == 3


RESTED = replace(
    DESIGN,
    clasps=(replace(DESIGN.clasps[0], room_mm=1.4, joint_mm=8.0), *DESIGN.clasps[1:]),
    rests=frozenset({44, 33}),
    stops=frozenset({44, 43}),
    joints=3,
    joint_teeth=frozenset({44, 33}),
)
ON_44, ON_33 = (Cell(fdi=44), Cell("wire rest"), mm(1.4)), (Cell(fdi=33), Cell("wire rest"), Cell())


def rows_at(design: Design, stage: str, key: str) -> tuple[object, ...]:
    """The rows of one table of a design; none where the stage does not have it."""
    return next((one.rows for one in tables(design, stage, {}) if one.key == key), ())


@pytest.mark.parametrize("stage", ["clasps", "join"])
def test_the_wire_benches_read_the_rests_to_bend_and_no_stops(stage: str) -> None:
    assert rows_at(RESTED, stage, "rests") == (ON_44, ON_33)
    assert rows_at(DESIGN, stage, "rests") == ()


def test_rests_without_a_clasp_are_bent_too() -> None:
    assert [one.key for one in tables(replace(RESTED, clasps=()), "clasps", {})] == ["rests"]


@pytest.mark.parametrize("stage", ["wax", "wax-pass", "finish", "polish", "inspect"])
def test_rests_and_stops_stand_with_their_room_wherever_they_can_be_lost(stage: str) -> None:
    assert rows_at(RESTED, stage, "carriers") == (
        ON_44,
        (Cell(fdi=44), Cell("acrylic stop"), mm(1.4)),
        (Cell(fdi=43), Cell("acrylic stop"), Cell()),
        ON_33,
    )
    assert rows_at(DESIGN, stage, "carriers") == ()


def test_the_solder_bench_reads_where_the_joints_lie_and_what_they_stay_away_from() -> None:
    assert rows_at(RESTED, "join", "joints") == (
        (Cell(fdi=44), Cell(number=1), mm(8.0)),
        (Cell(fdi=33), Cell(number=1), Cell()),
        (Cell("nobody has said"), Cell(number=1), Cell()),
    )
    placed = replace(RESTED, joints=2)
    assert len(rows_at(placed, "join", "joints")) == 2
    assert rows_at(DESIGN, "join", "joints") == ()


@pytest.mark.parametrize("stage", ["wax", "finish", "inspect"])
def test_a_pad_of_which_nobody_spoke_is_not_told_as_designed(stage: str) -> None:
    silent = replace(DESIGN, covered=())
    assert rows_at(silent, stage, "pads") == ((Cell("left pad"), Cell("nobody has said")),)
    route = grow(default_template(), WorkOrder(), silent)
    (check,) = (one for one in route.stage(stage).checks if one.number == 31)
    assert check.words == "The left pad is covered (how far, nobody has said), and not thin."


def test_a_stage_without_a_table_and_an_empty_design_have_none() -> None:
    assert tables(DESIGN, "cure", {}) == ()
    bare = Design(arch="lower")
    assert all(tables(bare, stage, {}) == () for stage in AT)
    assert set(AT) <= {stage.key for stage in default_template().stages}


def test_the_bench_reads_where_no_gum_line_is_relieved() -> None:
    bare = replace(
        DESIGN, provisional=False, blocked=frozenset({(44, "distal")}), method="plaster",
        unrelieved=frozenset({(44, "distal"), (34, "distal")}),
    )  # fmt: skip
    (table,) = (one for one in tables(bare, "block-out", {}) if one.key == "faces")

    said = {(row[0].fdi, row[1].words): row[3].words for row in table.rows}
    assert said[44, "distal"] == "block out, no relief"
    assert said[34, "distal"] == "no relief"


def test_a_milk_tooth_that_stands_is_named_by_its_own_number() -> None:
    tooth = DESIGN.clasps[0].tooth
    milk = replace(DESIGN, primary=frozenset({tooth}))

    (table,) = (one for one in tables(milk, "clasps", {}) if one.key == "wires")
    named = [row[0].fdi for row in table.rows]

    assert primary_before(tooth) in named
    assert tooth not in named
