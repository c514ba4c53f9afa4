"""A clasp arm as a beam: how hard its tip presses, what the wire bears, how short it may be.

The arm is taken as a straight beam held where it leaves the acrylic and pushed aside at the tip by
the undercut. Real arms are curved and partly stiffer, so every figure is indicative.
Source: cantilever of constant section, small deflection, as in any text on mechanics of materials
(F = 3EIδ/L³, σ = F·L·c/I).
"""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt
from typing import Final

from cases.domain.crosssection import section_properties
from cases.domain.quantity import above_zero, zero_or_more
from cases.domain.teeth import Kind, kind
from cases.domain.words import gettext as _

MPA_PER_GPA: Final = 1000.0
# No metal is stiffer; a greater number was written in MPa.
_STIFFEST_GPA: Final = 1000.0


@dataclass(frozen=True, slots=True)
class UsualWire:
    """The wire, undercut and free arm taken for a kind of tooth until somebody says otherwise."""

    wire_mm: float
    undercut_mm: float
    arm_mm: float


# Diameters: common practice, no published source. Undercuts: 0.50 after McCracken's Removable
# Partial Prosthodontics, 13th ed. 2016 (from memory), 0.25 for premolars after a guideline whose
# abstract was read. Free arms along the wire, shoulder included: judgement. Nobody gives values
# for incisors; they get a canine's.
_CANINE: Final = UsualWire(0.8, 0.25, 9.0)
USUAL: Final[dict[Kind, UsualWire]] = {
    "incisor": _CANINE,
    "canine": _CANINE,
    "premolar": UsualWire(0.9, 0.25, 9.5),
    "molar": UsualWire(1.0, 0.50, 13.0),
}
# A molar's arm has to be at least this long for its full undercut. judgement, mm
LONG_ARM_MM: Final = 12.0
SHORT_ARM_UNDERCUT_MM: Final = 0.25


def usual_wire(tooth: int, arm_mm: float | None = None) -> UsualWire:
    """Return the usual wire, undercut and free arm for a tooth.

    Parameters
    ----------
    tooth
        FDI number.
    arm_mm
        The free arm where it has been measured; a short one halves a molar's undercut.

    Raises
    ------
    ValueError
        It is no tooth, or the arm is not above zero.
    """
    usual = USUAL[kind(tooth)]
    if arm_mm is None:
        return usual
    arm = above_zero(_("The free arm"), arm_mm)
    undercut = usual.undercut_mm if arm >= LONG_ARM_MM else SHORT_ARM_UNDERCUT_MM
    return UsualWire(usual.wire_mm, undercut, arm)


def _modulus_mpa(modulus_gpa: float) -> float:
    modulus = above_zero(_("The modulus of elasticity"), modulus_gpa)
    if modulus > _STIFFEST_GPA:
        raise ValueError(
            _("No metal has a modulus of %(value)s GPa: write it in GPa, like 190.")
            % {"value": f"{modulus:g}"}
        )
    return modulus * MPA_PER_GPA


def tip_force_n(
    *,
    diameter_mm: float,
    length_mm: float,
    undercut_mm: float,
    modulus_gpa: float,
    section: str = "round",
) -> float:
    """Return the force of the tip when it is pushed aside by the whole undercut, in N.

    Parameters
    ----------
    diameter_mm
        Diameter; of a half-round that of its full round.
    length_mm
        Free arm, from where the wire leaves the acrylic to the tip.
    undercut_mm
        How far the tip is pushed aside; 0 gives no force.
    modulus_gpa
        Modulus of elasticity.
    section
        ``"round"``, or ``"half_round"`` bent toward or away from its flat.

    Raises
    ------
    ValueError
        A number is not above zero (the undercut: negative), or there is no such section.
    """
    second_moment = section_properties(section, diameter_mm).weak_mm4
    length = above_zero(_("The free arm"), length_mm)
    undercut = zero_or_more(_("The undercut"), undercut_mm)
    return 3 * _modulus_mpa(modulus_gpa) * second_moment * undercut / length**3


def bending_stress_mpa(
    *,
    diameter_mm: float,
    length_mm: float,
    undercut_mm: float,
    modulus_gpa: float,
    section: str = "round",
) -> float:
    """Return the greatest bending stress, which is where the arm leaves the acrylic, in MPa.

    Parameters are those of ``tip_force_n``.

    Raises
    ------
    ValueError
        As ``tip_force_n``.
    """
    edge = section_properties(section, diameter_mm).weak_edge_mm
    length = above_zero(_("The free arm"), length_mm)
    undercut = zero_or_more(_("The undercut"), undercut_mm)
    return 3 * _modulus_mpa(modulus_gpa) * undercut * edge / length**2


def shortest_arm_mm(
    *,
    diameter_mm: float,
    undercut_mm: float,
    modulus_gpa: float,
    yield_mpa: float,
    section: str = "round",
) -> float:
    """Return the shortest free arm that springs back from this undercut, in mm.

    Parameters
    ----------
    yield_mpa
        Yield strength (0.2 %) of the wire; the other parameters are those of ``tip_force_n``.

    Raises
    ------
    ValueError
        As ``tip_force_n``; also where the yield strength is not above zero.
    """
    edge = section_properties(section, diameter_mm).weak_edge_mm
    undercut = zero_or_more(_("The undercut"), undercut_mm)
    strength = above_zero(_("The yield strength"), yield_mpa)
    return sqrt(3 * _modulus_mpa(modulus_gpa) * undercut * edge / strength)


@dataclass(frozen=True, slots=True)
class Taper:
    """What tapering a round arm does, against the same arm of the root's thickness throughout.

    Attributes
    ----------
    flexibility
        How many times as far the tip goes for the same force.
    peak_at
        Where the wire is stressed most, as a share of the arm from the acrylic.
    peak
        That stress as a multiple of the stress at the root.
    """

    flexibility: float
    peak_at: float
    peak: float

    @property
    def force(self) -> float:
        """The force of the tip at one undercut, as a share of that of the untapered arm."""
        return 1 / self.flexibility

    @property
    def stress(self) -> float:
        """The greatest stress at one undercut, as a share of that of the untapered arm."""
        return self.peak / self.flexibility


def taper(tip_over_root: float) -> Taper:
    """Return what a straight taper from root to tip does to a round arm.

    With d = d₁ + (d₀ − d₁)·s/L at s from the tip, the deflection ∫ s²/I ds is L³/(3·d₁·d₀³) against
    L³/(3·d₀⁴): the factor is d₀/d₁ exactly. s/d³ is greatest where d = 1.5·d₁.

    Parameters
    ----------
    tip_over_root
        Thickness of the tip as a share of the root's, above 0 to 1.

    Raises
    ------
    ValueError
        The share is out of that range.
    """
    share = above_zero(_("The tip's share of the root"), tip_over_root)
    if share > 1:
        raise ValueError(
            _("A tip of %(share)s times the root is no taper: give at most 1.")
            % {"share": f"{share:g}"}
        )
    if share >= 2 / 3:
        return Taper(1 / share, 0.0, 1.0)
    from_tip = share / (2 * (1 - share))
    return Taper(1 / share, 1 - from_tip, from_tip / (1.5 * share) ** 3)
