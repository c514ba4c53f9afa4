"""The block-out that the undercuts call for, and every rule that speaks for or against it.

Advice from what the surveyor found: the technician decides. Rules BLK-0 to BLK-7 and BLK-11; those
that need the whole design and the order stand in ``rules_blockout``. Rules and limits: common
practice without a published source, or judgement, as ``rules_blockout`` marks each.

Wax block-out on the cast that goes into the flask is no method here or anywhere: see BLK-8.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from typing import Literal

from cases.domain import teeth
from cases.domain.design_parts import SIDES, STEPS_MM

Face = tuple[int, str]
Method = Literal["none", "plaster", "copy"]

PROXIMAL: frozenset[str] = frozenset({"mesial", "distal"})

# In the order in which they decide; what comes after them speaks, but decides nothing.
DECIDING: tuple[str, ...] = ("BLK-6", "BLK-4", "BLK-3", "BLK-5", "BLK-2", "BLK-1")
ASK_FOR_A_COPY: frozenset[str] = frozenset({"BLK-3", "BLK-4", "BLK-5", "BLK-6"})


@dataclass(frozen=True, slots=True)
class BlockOutLimits:
    """Where the rules begin to speak; steps in mm. common practice / judgement.

    ``proximal_over_mm`` and ``lingual_over_mm``: BLK-3 speaks above these; ``proximal_faces``: from
    so many faces with any step. ``freestanding_from_mm``: BLK-4, on both sides.
    ``facing_sum_from_mm``: BLK-5, the two walls of a gap together.
    """

    proximal_over_mm: float = 0.5
    lingual_over_mm: float = 0.75
    proximal_faces: float = 3
    freestanding_from_mm: float = 0.25
    facing_sum_from_mm: float = 0.75


USUAL = BlockOutLimits()


@dataclass(frozen=True, slots=True)
class Advice:
    """What is advised, and the rules that speak: the deciding ones first, in their order."""

    method: Method
    rules: tuple[str, ...]


def _checked(undercuts: Mapping[Face, float], named: Collection[Face]) -> None:
    for tooth, side in (*undercuts, *named):
        if not teeth.is_tooth(tooth) or side not in SIDES:
            raise ValueError(f"{tooth} {side} is no face of a tooth.")
    for face, step in undercuts.items():
        if step not in STEPS_MM:
            raise ValueError(f"{step} at {face} is no step of the gauge: 0, 0.25, 0.5, 0.75 or 1.")


def too_deep(undercuts: Mapping[Face, float], limits: BlockOutLimits = USUAL) -> list[Face]:
    """Return the faces whose own undercut is too much to place by eye in plaster (BLK-3)."""
    return [
        (tooth, side)
        for (tooth, side), step in undercuts.items()
        if (side in PROXIMAL and step > limits.proximal_over_mm)
        or (side == "lingual" and step > limits.lingual_over_mm)
    ]


def proximal_with_step(undercuts: Mapping[Face, float]) -> list[Face]:
    """Return the mesial and distal faces with any undercut."""
    return [face for face, step in undercuts.items() if face[1] in PROXIMAL and step > 0]


def undercut_both_sides(
    undercuts: Mapping[Face, float], freestanding: Collection[int], limits: BlockOutLimits = USUAL
) -> list[int]:
    """Return the freestanding teeth that are undercut towards both gaps (BLK-4)."""
    return [
        tooth
        for tooth in sorted(freestanding)
        if all(undercuts.get((tooth, s), 0.0) >= limits.freestanding_from_mm for s in PROXIMAL)
    ]


def tight_walls(
    undercuts: Mapping[Face, float],
    facing_walls: Collection[tuple[Face, Face]],
    limits: BlockOutLimits = USUAL,
) -> list[tuple[Face, Face]]:
    """Return the gaps whose two walls together are undercut too far to pass between (BLK-5)."""
    return [
        (one, other)
        for one, other in facing_walls
        if undercuts.get(one, 0.0) + undercuts.get(other, 0.0) >= limits.facing_sum_from_mm
    ]


def leaning(undercuts: Mapping[Face, float]) -> list[Face]:
    """Return the undercut lingual faces of lower teeth (BLK-11)."""
    return [
        (tooth, side)
        for (tooth, side), step in undercuts.items()
        if side == "lingual" and step > 0 and teeth.arch_of(tooth) == "lower"
    ]


def advise(
    undercuts: Mapping[Face, float],
    *,
    freestanding: Collection[int] = frozenset(),
    facing_walls: Collection[tuple[Face, Face]] = (),
    keep_master: bool = False,
    limits: BlockOutLimits = USUAL,
) -> Advice:
    """Advise none, plaster, or a copy, and name every rule that speaks.

    Parameters
    ----------
    undercuts
        The faces under acrylic, as (FDI, "mesial" | "distal" | "buccal" | "lingual"), each with its
        step in mm: 0, 0.25, 0.5, 0.75 or 1.0; one that is left out counts as 0. "lingual" means
        palatal in the upper arch.
    freestanding
        Teeth with acrylic on both sides.
    facing_walls
        The two walls of each bounded gap.
    keep_master
        Whether a cast must live on after the flask.

    Returns
    -------
    Advice
        ``method`` and ``rules``: the deciding ones in their order (BLK-6, 4, 3, 5, 2, 1), then
        BLK-0 always, and BLK-7 and BLK-11 where they speak.

    Raises
    ------
    ValueError
        A face or a step is none.
    """
    _checked(undercuts, [face for pair in facing_walls for face in pair])
    many = len(proximal_with_step(undercuts)) >= limits.proximal_faces
    copy = {
        "BLK-6": keep_master,
        "BLK-4": bool(undercut_both_sides(undercuts, freestanding, limits)),
        "BLK-3": many or bool(too_deep(undercuts, limits)),
        "BLK-5": bool(tight_walls(undercuts, facing_walls, limits)),
    }
    some, wanted = any(undercuts.values()), any(copy.values())
    speaks = copy | {
        "BLK-2": some and not wanted,
        "BLK-1": not some,
        "BLK-0": True,
        "BLK-7": wanted,
        "BLK-11": bool(leaning(undercuts)),
    }
    order = (*DECIDING, "BLK-0", "BLK-7", "BLK-11")
    method: Method = "copy" if wanted else "plaster" if some else "none"
    return Advice(method, tuple(rule for rule in order if speaks[rule]))
