"""Beams of more than one material: stuck together, or lying beside each other.

Source: transformed-section method, as in any text on mechanics of materials (Gere & Goodno,
Mechanics of Materials, chapter on stresses in beams, advanced topics).
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Part:
    """One part of a section, for bending about one direction.

    Attributes
    ----------
    modulus_mpa
        Modulus of elasticity.
    area_mm2
        Area; negative for a hollow, with the modulus of what was hollowed.
    centre_mm
        Its centre of area above any line that all parts share.
    second_mm4
        Second moment about its own centre; negative for a hollow.
    """

    modulus_mpa: float
    area_mm2: float
    centre_mm: float
    second_mm4: float


@dataclass(frozen=True, slots=True)
class Stiffness:
    """Where the neutral line lies above the shared line (mm), and E·I about it (N·mm²)."""

    neutral_mm: float
    rigidity: float


def stuck(parts: Iterable[Part]) -> Stiffness:
    """Return the stiffness of parts that cannot slide on each other.

    Raises
    ------
    ZeroDivisionError
        There is nothing that bears.
    """
    every = tuple(parts)
    axial = sum(part.modulus_mpa * part.area_mm2 for part in every)
    neutral = sum(part.modulus_mpa * part.area_mm2 * part.centre_mm for part in every) / axial
    rigidity = sum(
        part.modulus_mpa * (part.second_mm4 + part.area_mm2 * (part.centre_mm - neutral) ** 2)
        for part in every
    )
    return Stiffness(neutral, rigidity)
