"""Designs that the tests of the rules change, and ways to change them.

A pair is (rule, the severity and place where it speaks, facts that trip it, facts that do not).
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from cases.domain.design import Design
from cases.domain.design_parts import Bar, Clasp, Survey, Undercut
from cases.domain.rule_facts import Facts

BACK = frozenset({35, 36, 37, 45, 46, 47})
CLASP_44 = Clasp(
    44, wire_mm=0.9, undercut_mm=0.25, free_arm_mm=9.5, tip="mesial", level_mm=0.25,
    bracing="plate", bracing_mm=1.0, gum_mm=1.5, room_mm=None, joint_mm=8.0, wraps=True,
    braces_first=True,
)  # fmt: skip
CLASP_34 = replace(CLASP_44, tooth=34)
SURVEYED = Survey(tilt_deg=0.0, marked=True)
# Every face of the two clasped teeth by which something is judged.
GAUGED = replace(
    SURVEYED,
    undercuts=tuple(
        Undercut(tooth, side, step)  # type: ignore[arg-type]
        for tooth in (44, 34)
        for side, step in (("distal", 0.0), ("buccal", 0.25), ("lingual", 0.0))
    ),
)

# A lower piece with a free end on both sides, and a lower and an upper one with a single gap.
FREE = Design(
    "lower", missing=BACK, replaced=BACK, clasps=(CLASP_44, CLASP_34), survey=GAUGED,
    bar=True, strengthener=Bar("half_round", 2.3, relief_mm=0.7, cover_mm=1.0),
    covered=(("right pad", "whole"), ("left pad", "whole")),
)  # fmt: skip
GAP = Design("lower", missing=frozenset({45}), replaced=frozenset({45}), survey=SURVEYED)
UPPER = Design("upper", missing=frozenset({15}), replaced=frozenset({15}), survey=SURVEYED)
FRONT = Design(
    "upper", missing=frozenset({11, 21}), replaced=frozenset({11, 21}), survey=SURVEYED
)  # fmt: skip
ALONE = Design(
    "lower", missing=frozenset({34, 36}), replaced=frozenset({34, 36}), survey=SURVEYED
)  # fmt: skip

Pair = tuple[str, str, str, Facts, Facts]


def of(design: Design, told: dict[str, Any] | None = None, /, **changes: Any) -> Facts:
    """Return facts of a design with changes; ``told`` are facts beside the design."""
    return Facts(replace(design, **changes), **(told or {}))


def found(*faces: tuple[int, str, float]) -> Survey:
    """Return a survey with these steps."""
    return replace(SURVEYED, undercuts=tuple(Undercut(*face) for face in faces))  # type: ignore[arg-type]


def wire(**changes: Any) -> Facts:
    """Return facts of the free-end piece whose clasp at 44 is changed."""
    return of(FREE, clasps=(replace(CLASP_44, **changes), CLASP_34))


def bar(**changes: Any) -> Facts:
    """Return facts of the free-end piece whose bar is changed."""
    return of(FREE, strengthener=replace(FREE.strengthener, **changes))  # type: ignore[type-var]
