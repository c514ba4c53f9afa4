"""What each bench reads of the design in words, beside the tables."""

from __future__ import annotations

import pytest

from cases.domain.design import Clasp, Design, Survey
from cases.models import Case
from cases.views.bench.design_words import Words

DESIGN = Design(
    arch="lower",
    missing=frozenset({35, 36, 37, 46}),
    replaced=frozenset({35, 36, 46}),
    extracted=frozenset({35, 46}),
    dropped=frozenset({37}),
    hollowed=frozenset({36}),
    clasps=(Clasp(34, wire_mm=0.9, undercut_mm=0.25, free_arm_mm=10.0),),
    blocked=frozenset({(34, "distal")}),
    method="plaster",
    survey=Survey(tilt_deg=5.0, tilt_to="front", marked=True),
    relieved=frozenset({"torus", "frena"}),
    occlusion=frozenset({"crossbite"}),
)
CASE = Case(
    arch="lower",
    order={
        "shade": "A2",
        "shade_guide": "classical",
        "extractions": [{"tooth": 35, "depth": "1mm"}],
    },
    work_order={"borders": "left-full", "polish": "none"},
)


@pytest.mark.parametrize(
    ("stage", "line"),
    [
        ("block-out", "The cast stands as surveyed: 5°, the front lowered, by its three marks."),
        ("block-out", "Relieved besides the gum lines: a torus, frena."),
        (
            "block-out",
            "Block out in plaster on the cast that goes into the flask. No cast will be left to "
            "fit to.",
        ),
        ("block-out", "Faces: 34 distal."),
        ("finish", "Relieved besides the gum lines: a torus, frena."),
        ("teeth", "The bite: set in crossbite."),
        (
            "teeth",
            "Replaced: 46, 35, 36 (1 on the right, 2 on the left). Left out for want of room: 37. "
            "Hollowed clear of the wire: 36. Shade: A2 (classical).",
        ),
        ("cast-prep", "Still standing, extracted at delivery: 46, 35 (1 mm deep)."),
    ],
)
def test_a_bench_reads_the_line_that_it_needs(stage: str, line: str) -> None:
    assert line in Words(CASE, DESIGN, "fdi").at(stage)


def test_lines_are_in_the_numbering_of_the_reader() -> None:
    lines = Words(CASE, DESIGN, "palmer").at("cast-prep")

    assert lines == ["Still standing, extracted at delivery: LR6, LL5 (1 mm deep)."]


@pytest.mark.parametrize("stage", ["block-out", "teeth", "finish"])
def test_nothing_is_said_of_what_nobody_decided(stage: str) -> None:
    bare = Design(arch="lower", survey=Survey())
    said = " ".join(Words(CASE, bare, "fdi").at(stage))

    assert not any(words in said for words in ("surveyed", "Relieved", "bite", "Replaced"))
