"""The strengthener: how much a bar inside the acrylic stiffens it, and takes off the acrylic.

Steel does not stick to acrylic by itself, so every figure has two bounds: *bonded*, the
transformed section, and *not bonded*, where acrylic and bar bend side by side and share the moment
by stiffness. Where the bar lies the acrylic is hollow, and that is counted: a thin bar far from the
middle that does not stick can cost more stiffness than it brings.

The squeeze is the plainest model there is: two ends of a lower piece pressed together, and the
front of its arch taken as a straight beam that bears the moment *load × lever*. The real piece is
curved, of changing section, and breaks from flexing often, so every figure is indicative.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from itertools import product
from typing import Final, Literal

from cases.domain.alloys import Alloy
from cases.domain.composite import Part, Stiffness, stuck
from cases.domain.crosssection import SectionProperties, section_properties
from cases.domain.design_parts import Section
from cases.domain.quantity import Band, above_zero, zero_or_more
from cases.domain.words import N_
from cases.domain.words import gettext as _

# Bending through the thickness, as a squeeze does, and up and down, as biting does.
Axis = Literal["thickness", "height"]

# Modulus of heat-cured denture acrylic. Low end: the least flexural modulus of ISO 20795-1:2013
# for heat-cured material; high end: Phillips' Science of Dental Materials, 12th ed. 2013, and
# Craig's Restorative Dental Materials, 13th ed. 2012. All from memory.
ACRYLIC_GPA: Final = Band(2.0, 3.0)
# Flexural strength that a heat-cured denture base must reach: ISO 20795-1, the figure read in an
# abstract that quotes it.
FLEXURAL_STRENGTH_MPA: Final = 65.0
# A hand's squeeze on the two ends, and the depth of a lower arch from there to its front.
# judgement
SQUEEZE_N: Final = 10.0
LEVER_MM: Final = 35.0

_MPA_PER_GPA: Final = 1000.0

INDICATIVE: Final = N_(
    "Indicative: the front of the arch reckoned as a straight beam, pressed once. Acrylic that is "
    "flexed often breaks at less."
)


@dataclass(frozen=True, slots=True)
class Plate:
    """A rectangular section of acrylic: how tall the plate stands, and how thick it is."""

    height_mm: float
    thickness_mm: float


@dataclass(frozen=True, slots=True)
class BarInPlate:
    """Where a bar lies in the plate; a half-round lies with its flat towards the cast.

    Attributes
    ----------
    section, size_mm
        Section; diameter of a round one, width of a half-round one.
    relief_mm
        From the cast side of the acrylic to the bar.
    above_middle_mm
        How far its middle lies above half the height of the plate; negative: below.
    """

    section: Section
    size_mm: float
    relief_mm: float
    above_middle_mm: float = 0.0


@dataclass(frozen=True, slots=True)
class Rigidity:
    """E·I about one axis in N·mm², each as a band from the ranges of the moduli.

    ``acrylic`` is the plate without a bar, ``bar`` the bar by itself, ``not_bonded`` and ``bonded``
    the two bounds of both together.
    """

    acrylic: Band
    bar: Band
    not_bonded: Band
    bonded: Band


@dataclass(frozen=True, slots=True)
class SqueezeStress:
    """The greatest stress in the acrylic under a squeeze, in MPa: plain, and with the bar.

    A bar that sticks draws the neutral line towards itself, so the far edge of the acrylic may bear
    a little more than with a bar that does not, although the whole bends less.
    """

    plain: Band
    not_bonded: Band
    bonded: Band


@dataclass(frozen=True, slots=True)
class Strengthening:
    """What a bar does in a plate.

    Attributes
    ----------
    thickness, height
        E·I for bending through the thickness and for bending up and down.
    squeeze
        Stress in the acrylic under ``load_n`` at ``lever_mm``.
    """

    thickness: Rigidity
    height: Rigidity
    squeeze: SqueezeStress
    load_n: float
    lever_mm: float

    @property
    def note(self) -> str:
        """What has to stand beside every figure."""
        return _(INDICATIVE)


@dataclass(frozen=True, slots=True)
class _Side:
    """Plate and bar as they lie for bending about one axis."""

    depth_mm: float
    plate_area_mm2: float
    plate_second_mm4: float
    bar_area_mm2: float
    bar_centre_mm: float
    bar_second_mm4: float

    def solid(self, acrylic_mpa: float) -> Part:
        return Part(acrylic_mpa, self.plate_area_mm2, self.depth_mm / 2, self.plate_second_mm4)

    def hollow(self, acrylic_mpa: float) -> Part:
        return Part(acrylic_mpa, -self.bar_area_mm2, self.bar_centre_mm, -self.bar_second_mm4)

    def bar(self, bar_mpa: float) -> Part:
        return Part(bar_mpa, self.bar_area_mm2, self.bar_centre_mm, self.bar_second_mm4)

    def edge_mm(self, neutral_mm: float) -> float:
        return max(neutral_mm, self.depth_mm - neutral_mm)


def _checked(plate: Plate, bar: BarInPlate, shape: SectionProperties) -> None:
    height = above_zero(_("The height of the acrylic"), plate.height_mm)
    thickness = above_zero(_("The thickness of the acrylic"), plate.thickness_mm)
    out = zero_or_more(_("The relief of the bar"), bar.relief_mm) + shape.height_mm
    if out > thickness:
        raise ValueError(
            _(
                "The bar would stand out of the acrylic: it reaches %(out)s mm from the cast, and "
                "the acrylic is %(thickness)s mm thick. Take a flatter bar or thicker acrylic."
            )
            % {"out": f"{out:.2f}", "thickness": f"{thickness:g}"}
        )
    if abs(bar.above_middle_mm) + shape.width_mm / 2 > height / 2:
        raise ValueError(
            _("The bar would stand out of the edge of the acrylic. Move it towards the middle.")
        )


def _sides(plate: Plate, bar: BarInPlate) -> dict[Axis, _Side]:
    shape = section_properties(bar.section, bar.size_mm)
    _checked(plate, bar, shape)
    area = plate.height_mm * plate.thickness_mm
    return {
        "thickness": _Side(
            plate.thickness_mm,
            area,
            plate.height_mm * plate.thickness_mm**3 / 12,
            shape.area_mm2,
            bar.relief_mm + shape.centre_mm,
            shape.weak_mm4,
        ),
        "height": _Side(
            plate.height_mm,
            area,
            plate.thickness_mm * plate.height_mm**3 / 12,
            shape.area_mm2,
            plate.height_mm / 2 + bar.above_middle_mm,
            shape.strong_mm4,
        ),
    }


def _bonded(side: _Side, acrylic_mpa: float, bar_mpa: float) -> Stiffness:
    return stuck((side.solid(acrylic_mpa), side.hollow(acrylic_mpa), side.bar(bar_mpa)))


def _hollowed(side: _Side, acrylic_mpa: float) -> Stiffness:
    return stuck((side.solid(acrylic_mpa), side.hollow(acrylic_mpa)))


def _corners(reckon: Callable[[float, float], float], acrylic: Band, bar: Band) -> Band:
    """Reckon with the ends of both ranges, in MPa, and keep the least and the most."""
    ends = product((acrylic.low, acrylic.high), (bar.low, bar.high))
    found = [reckon(a * _MPA_PER_GPA, b * _MPA_PER_GPA) for a, b in ends]
    return Band(min(found), max(found))


def _rigidity(side: _Side, acrylic: Band, metal: Band) -> Rigidity:
    def reckon(one: Callable[[float, float], float]) -> Band:
        return _corners(one, acrylic, metal)

    return Rigidity(
        acrylic=reckon(lambda a, b: a * side.plate_second_mm4),
        bar=reckon(lambda a, b: b * side.bar_second_mm4),
        not_bonded=reckon(lambda a, b: _hollowed(side, a).rigidity + b * side.bar_second_mm4),
        bonded=reckon(lambda a, b: _bonded(side, a, b).rigidity),
    )


def _stress_not_bonded(side: _Side, moment: float, acrylic_mpa: float, bar_mpa: float) -> float:
    """The acrylic bends about its own neutral line, with its share of the moment."""
    alone = _hollowed(side, acrylic_mpa)
    curvature = moment / (alone.rigidity + bar_mpa * side.bar_second_mm4)
    return acrylic_mpa * curvature * side.edge_mm(alone.neutral_mm)


def _stress_bonded(side: _Side, moment: float, acrylic_mpa: float, bar_mpa: float) -> float:
    both = _bonded(side, acrylic_mpa, bar_mpa)
    return acrylic_mpa * moment / both.rigidity * side.edge_mm(both.neutral_mm)


def strengthen(
    *,
    plate: Plate,
    bar: BarInPlate,
    alloy: Alloy,
    load_n: float = SQUEEZE_N,
    lever_mm: float = LEVER_MM,
    acrylic_gpa: Band = ACRYLIC_GPA,
) -> Strengthening:
    """Reckon how much a bar stiffens a plate, and what the acrylic bears when it is squeezed.

    Parameters
    ----------
    plate, bar, alloy
        The section of acrylic, the bar in it, and what the bar is made of.
    load_n, lever_mm
        The squeeze on each end, and how far the front of the arch lies from where it is squeezed.
    acrylic_gpa
        Modulus of the acrylic.

    Raises
    ------
    ValueError
        A number is nonsense, or the bar would stand out of the acrylic.
    """
    moment = above_zero(_("The load"), load_n) * above_zero(_("The lever"), lever_mm)
    sides = _sides(plate, bar)
    side, metal = sides["thickness"], alloy.modulus_gpa
    plain = moment * side.edge_mm(side.depth_mm / 2) / side.plate_second_mm4
    return Strengthening(
        thickness=_rigidity(side, acrylic_gpa, metal),
        height=_rigidity(sides["height"], acrylic_gpa, metal),
        squeeze=SqueezeStress(
            plain=Band(plain, plain),
            not_bonded=_corners(
                lambda a, b: _stress_not_bonded(side, moment, a, b), acrylic_gpa, metal
            ),
            bonded=_corners(lambda a, b: _stress_bonded(side, moment, a, b), acrylic_gpa, metal),
        ),
        load_n=load_n,
        lever_mm=lever_mm,
    )


def compare(stress: Band) -> str:
    """Compare a stress with the strength that the standard asks of a base, in a sentence."""
    said = {
        "low": f"{stress.low:.0f}",
        "high": f"{stress.high:.0f}",
        "limit": f"{FLEXURAL_STRENGTH_MPA:.0f}",
    }
    if stress.low > FLEXURAL_STRENGTH_MPA:
        return _("At least %(low)s MPa: above the %(limit)s MPa of the standard.") % said
    if stress.high > FLEXURAL_STRENGTH_MPA:
        return _("%(low)s to %(high)s MPa: may pass the %(limit)s MPa of the standard.") % said
    return _("At most %(high)s MPa: within the %(limit)s MPa of the standard.") % said
