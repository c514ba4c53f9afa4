"""The sections that wires and bars are drawn in, round and half-round: closed forms.

A half-round is half of the round of the same gauge: as wide as the full round, half as high.
Source: areas and second moments of circle and half circle, as in any handbook of mechanics;
checked by numerical integration in the tests.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import pi

from cases.domain.design_parts import Section
from cases.domain.quantity import above_zero
from cases.domain.words import gettext as _

# Centre of area of a half circle above its flat side, and the second moment about the line through
# it along the flat, for a radius of 1.
_HALF_CENTRE = 4 / (3 * pi)
_HALF_WEAK = pi / 8 - 8 / (9 * pi)


@dataclass(frozen=True, slots=True)
class SectionProperties:
    """A section, measured. It lies on its flat side; a round one on any side.

    Attributes
    ----------
    width_mm, height_mm
        Along the flat, and square to it.
    area_mm2
        Area.
    centre_mm
        Centre of area above the flat; the neutral line when it bends toward or away from the flat.
    weak_mm4, strong_mm4
        Second moment for bending toward or away from the flat, and for bending across the width.
    """

    width_mm: float
    height_mm: float
    area_mm2: float
    centre_mm: float
    weak_mm4: float
    strong_mm4: float

    @property
    def weak_edge_mm(self) -> float:
        """From the neutral line to the farthest edge, bending toward or away from the flat."""
        return max(self.centre_mm, self.height_mm - self.centre_mm)

    @property
    def weak_modulus_mm3(self) -> float:
        """Section modulus toward or away from the flat, at the edge that is stressed most."""
        return self.weak_mm4 / self.weak_edge_mm

    @property
    def strong_modulus_mm3(self) -> float:
        """Section modulus across the width."""
        return self.strong_mm4 / (self.width_mm / 2)


def section_properties(section: str, diameter_mm: float) -> SectionProperties:
    """Measure a section.

    Parameters
    ----------
    section
        ``"round"`` or ``"half_round"``.
    diameter_mm
        Diameter; of a half-round the width, which is the diameter of its full round.

    Raises
    ------
    ValueError
        There is no such section, or the diameter is not above zero.
    """
    known: tuple[Section, ...] = ("round", "half_round")
    if section not in known:
        raise ValueError(
            _("%(section)s is no section of a wire: take round or half_round.")
            % {"section": section}
        )
    diameter = above_zero(_("The diameter"), diameter_mm)
    radius = diameter / 2
    if section == "round":
        second = pi / 4 * radius**4
        return SectionProperties(diameter, diameter, pi * radius**2, radius, second, second)
    return SectionProperties(
        width_mm=diameter,
        height_mm=radius,
        area_mm2=pi / 2 * radius**2,
        centre_mm=_HALF_CENTRE * radius,
        weak_mm4=_HALF_WEAK * radius**4,
        strong_mm4=pi / 8 * radius**4,
    )
