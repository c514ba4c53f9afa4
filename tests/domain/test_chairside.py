"""What the dentist reads at the chair."""

from __future__ import annotations

from dataclasses import replace

import pytest

from cases.domain.chairside import Part, chairside
from cases.domain.design import Clasp, Design, WorkOrder
from cases.domain.soak import soak_words
from cases.domain.teeth import from_fdi

LOWER = Design(
    "lower",
    missing=frozenset({36, 37, 46, 47}),
    replaced=frozenset({36, 37, 46, 47}),
    clasps=(Clasp(35, 0.9, 0.25, 10.0), Clasp(45)),
    blocked=frozenset({(35, "distal"), (45, "lingual"), (46, "lingual")}),
    method="plaster",
)


def part(design: Design, key: str, order: WorkOrder | None = None, **given: object) -> Part:
    parts = chairside(design, order or WorkOrder(), **given)  # type: ignore[arg-type]
    return next(one for one in parts if one.key == key)


def test_blocked_faces_are_named_from_right_to_left_with_the_ridge() -> None:
    lines = part(LOWER, "block-out").lines

    assert lines[0] == "Blocked out: the ridge at 46 lingual; 45 lingual; 35 distal."
    assert lines[1].startswith("How: Plaster on the working cast")
    assert lines[2] == "Acrylic lies against these faces without block-out: 45 distal."


def test_upper_faces_are_palatal() -> None:
    upper = Design(
        "upper",
        missing=frozenset({16}),
        replaced=frozenset({16}),
        blocked=frozenset({(15, "lingual")}),
        method="wax-then-copy",
    )

    assert part(upper, "block-out").lines[0] == "Blocked out: 15 palatal."


def test_nothing_blocked_out_says_not_blocked_out() -> None:
    bare = replace(LOWER, blocked=frozenset(), method="none")

    assert part(bare, "block-out").lines[0].startswith("Not blocked out: no undercut was filled.")


def test_work_without_a_design_says_not_blocked_out() -> None:
    lines = part(Design("lower", provisional=True), "block-out").lines

    assert lines == ("Not blocked out: no design was drawn on a cast for this work.",)


@pytest.mark.parametrize(
    ("order", "said"),
    [
        (WorkOrder(borders="left-full"), "Borders: left at full depth."),
        (WorkOrder(borders="reduced-2mm"), "Borders: taken back to 2 mm short of the fold."),
        (WorkOrder(borders="as-drawn"), "Borders: as drawn on the cast."),
        (WorkOrder(polish="none"), "Polish: not polished, as ordered"),
        (WorkOrder(polish="outer-borders-left"), "borders left for you as ordered."),
    ],
)
def test_what_was_left_follows_the_order(order: WorkOrder, said: str) -> None:
    assert said in " ".join(part(LOWER, "left", order).lines)


def test_immediate_teeth_are_told_first() -> None:
    immediate = replace(LOWER, extracted=frozenset({41}), replaced=LOWER.replaced | {41})

    assert part(immediate, "left").lines[0] == (
        "To be taken out at delivery, by your written order: 41. The cast was cut for it."
    )


def test_where_not_to_grind_names_clasps_rests_and_bar_only_where_they_are() -> None:
    rich = replace(LOWER, rests=frozenset({34}), bar=True)

    lines = " ".join(part(rich, "keep").lines)
    assert "Behind 45 and 35" in lines
    assert "wire rests at 34" in lines
    assert "Over the bar" in lines
    assert not any(one.key == "keep" for one in chairside(Design("lower"), WorkOrder()))


def test_wires_are_told_in_the_readers_numbers() -> None:
    lines = part(LOWER, "wires", say=lambda fdi: from_fdi(fdi, "universal")).lines

    assert lines[0].replace("\u00a0", " ") == (
        "Clasps: 29; 20: 0.9 mm wire, undercut 0.25 mm, free arm 10 mm."
    )
    assert not any(one.key == "wires" for one in chairside(Design("lower"), WorkOrder()))


@pytest.mark.parametrize(
    ("lay", "said"),
    [
        (None, "Not laid in water before it left: the van was due"),
        (40.0, "Lay in water 40 min instead of 24 h: the van was due"),
        (300.0, "Lay in water 5 h instead of 24 h: the van was due"),
    ],
)
def test_short_soak_is_said_in_words(lay: float | None, said: str) -> None:
    assert soak_words(lay, 1440.0, "the van was due") == said
