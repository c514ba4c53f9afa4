"""Outlines of the crowns seen from above, by the kind of tooth.

An outline is points (distal, outward) in mm from the middle of the crown; outward is towards the
cheek or lip. Simple closed forms, drawn to be told apart at a glance, not to teach anatomy.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from math import copysign, cos, hypot, pi, sin
from typing import Final

from cases.domain import teeth

Point = tuple[float, float]


@dataclass(frozen=True, slots=True)
class CrownForm:
    """How a crown departs from a plain super-ellipse.

    Attributes
    ----------
    exponent
        2 is an ellipse, more is squarer.
    taper
        How much narrower the tongue side is: 0 not at all, 0.5 half as wide.
    lean
        Shift of the outer side towards the distal per mm of depth (upper molars are rhomboid).
    lobes
        Number of cusps along the outline, and their height as a share of the radius.
    """

    exponent: float
    taper: float = 0.0
    lean: float = 0.0
    lobes: tuple[int, float] = (0, 0.0)


# Judgement: the plainest forms that still read as incisor, canine, premolar and molar at 64 px.
FORMS: Final[dict[tuple[teeth.Arch, teeth.Kind], CrownForm]] = {
    ("upper", "incisor"): CrownForm(exponent=2.35, taper=0.34),
    ("lower", "incisor"): CrownForm(exponent=2.15, taper=0.32),
    ("upper", "canine"): CrownForm(exponent=1.95, taper=0.22),
    ("lower", "canine"): CrownForm(exponent=1.95, taper=0.24),
    ("upper", "premolar"): CrownForm(exponent=2.3, taper=0.12),
    ("lower", "premolar"): CrownForm(exponent=2.2, taper=0.1),
    ("upper", "molar"): CrownForm(exponent=2.9, taper=0.06, lean=-0.1, lobes=(4, 0.025)),
    ("lower", "molar"): CrownForm(exponent=3.0, taper=0.1, lobes=(4, 0.02)),
}

# Neighbours touch in the mouth; drawn, a hairline keeps them apart.
CONTACT_GAP_MM: Final = 0.35
_STEPS: Final = 40


def _power(value: float, exponent: float) -> float:
    return copysign(abs(value) ** exponent, value)


@lru_cache(maxsize=128)
def outline(
    arch: teeth.Arch, kind: teeth.Kind, width_mm: float, depth_mm: float, steps: int = _STEPS
) -> tuple[Point, ...]:
    """Outline a crown.

    Parameters
    ----------
    arch, kind
        Which form.
    width_mm, depth_mm
        The crown along the arch, and from cheek to tongue.
    steps
        Number of points.

    Returns
    -------
    tuple
        ``steps`` points (distal, outward) in mm, closed by joining the last to the first; exactly
        ``width_mm`` less the contact gap wide, and ``depth_mm`` deep.
    """
    form = FORMS[arch, kind]
    count, height = form.lobes
    raw: list[Point] = []
    for step in range(steps):
        angle = 2 * pi * step / steps
        lobe = 1 + height * cos(count * (angle - pi / 4)) if count else 1.0
        u = _power(cos(angle), 2 / form.exponent) * lobe
        v = _power(sin(angle), 2 / form.exponent) * lobe
        raw.append((u * (1 + form.taper * v) + form.lean * v, v))
    left, right = min(u for u, _ in raw), max(u for u, _ in raw)
    bottom, top = min(v for _, v in raw), max(v for _, v in raw)
    across = (width_mm - CONTACT_GAP_MM) / (right - left)
    deep = depth_mm / (top - bottom)
    return tuple(
        ((u - (left + right) / 2) * across, (v - (bottom + top) / 2) * deep) for u, v in raw
    )


def facing(outline_points: tuple[Point, ...], *, distal: bool, share: float) -> list[Point]:
    """Take the outline along the cheek side, from one side of the crown towards the other.

    Parameters
    ----------
    outline_points
        As from ``outline``.
    distal
        Begin at the distal side; otherwise at the mesial one.
    share
        How much of the way to the other side, 0 to 1.
    """
    half = len(outline_points) // 2
    count = max(2, round(half * share))
    if distal:
        return list(outline_points[: count + 1])
    return [outline_points[half - step] for step in range(count + 1)]


def widened(points: list[Point], gap_mm: float) -> list[Point]:
    """Move points away from the middle of the crown by a gap in mm."""
    return [(u * (1 + gap_mm / hypot(u, v)), v * (1 + gap_mm / hypot(u, v))) for u, v in points]


def fissures(kind: teeth.Kind, width_mm: float, depth_mm: float) -> tuple[tuple[Point, ...], ...]:
    """Lines on the chewing surface: a bow on a premolar, a double bow on a molar."""
    if kind == "premolar":
        u, v = width_mm * 0.22, depth_mm * 0.05
        return (((-u, v), (-u * 0.5, -v * 0.6), (0.0, -v), (u * 0.5, -v * 0.6), (u, v)),)
    if kind == "molar":
        u, v = width_mm * 0.3, depth_mm * 0.07
        waves = (1.0, -0.5, -0.9, -0.3, 0.5, -0.3, -0.9, -0.5, 1.0)
        return (tuple((u * (step / 4 - 1), v * wave) for step, wave in enumerate(waves)),)
    return ()
