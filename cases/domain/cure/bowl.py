"""How much powder and liquid a piece asks for: an estimate from what the design says of the plate.

Formula: a piece of V mL of cured resin is made of L mL of liquid and r·L grams of powder, whose
masses add up: L = ρc·V / (r + ρl), with ρc the density of the cured resin, ρl that of the liquid,
r the grams of powder to a millilitre. What the trial closings press out comes on top.

V is read off the drawing: the plate of the design on the average arch that the drawing has, which
is no measurement of this patient. Where the design does not say how thick the plate is, there is
nothing to reckon with.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import Final

from cases.domain.archbase import base_outline, span_of
from cases.domain.archform import ArchInput, form_of
from cases.domain.cure.heat_constants import value
from cases.domain.design import Design
from cases.domain.quantity import above_zero
from cases.domain.words import N_
from cases.domain.words import gettext as _

ROOM_C: Final = 20.0
# Of cured resin and of the liquid at room temperature, g/mL; sources in ``heat_constants``.
CURED_G_ML: Final = (value("pmma_density_0") + value("pmma_density_slope") * ROOM_C) / 1000
LIQUID_G_ML: Final = (value("mma_density_0") + value("mma_density_slope") * ROOM_C) / 1000
# Acrylic between a denture tooth and the ridge. Judgement: nobody publishes it.
RIDGE_MM: Final = 5.0
# What a bowl holds more than the piece, for the flash of the trial closings and for the bowl
# itself. Common practice to mix more than enough, no published source for the number.
SURPLUS: Final = 1.5

FORMULA: Final = N_("liquid = 1.5 × cured density × volume / (ratio + density of the liquid)")
MARK: Final = N_(
    "Estimate. Densities: table of the package HomoPolymer 1.0, read. Volume: thickness of the "
    "plate from the design on the average arch of the drawing, with 5 mm of acrylic under each "
    "denture tooth; half as much again for the trial closings: judgement, no published source."
)


@dataclass(frozen=True, slots=True)
class Bowl:
    """What to weigh and to measure.

    Attributes
    ----------
    volume_ml
        Of the cured piece.
    powder_g, liquid_ml
        With the surplus.
    ratio_g_ml
        Grams of powder to a millilitre of liquid.
    """

    volume_ml: float
    powder_g: float
    liquid_ml: float
    ratio_g_ml: float


def bowl(volume_ml: float, ratio_g_ml: float, surplus: float = SURPLUS) -> Bowl:
    """Return the powder and liquid of a piece.

    Raises
    ------
    ValueError
        Something is not above zero.
    """
    volume = above_zero(_("The volume of the piece"), volume_ml)
    ratio = above_zero(_("The ratio of powder to liquid"), ratio_g_ml)
    liquid = above_zero(_("The surplus"), surplus) * CURED_G_ML * volume / (ratio + LIQUID_G_ML)
    return Bowl(volume, ratio * liquid, liquid, ratio)


def volume_ml(design: Design) -> float | None:
    """Return the volume of the acrylic that a design asks for, mL.

    Returns
    -------
    float or None
        None where the design does not say it: no plate thickness, in a lower arch no plate
        height, or nothing replaced.
    """
    if design.plate_thickness_mm is None or design.provisional:
        return None
    plate = _plate_mm2(design)
    if plate is None:
        return None
    form = form_of(design.arch)
    ridge = sum(form.places[tooth].width_mm * form.places[tooth].depth_mm * RIDGE_MM
                for tooth in design.replaced)  # fmt: skip
    return (plate * design.plate_thickness_mm + ridge) / 1000


def _plate_mm2(design: Design) -> float | None:
    """Return the area of the plate: seen from below in an upper arch, upright in a lower one."""
    form, drawn = form_of(design.arch), ArchInput.from_design(design)
    outline, span = base_outline(form, drawn), span_of(form, drawn)
    if outline is None or span is None:
        return None
    if design.arch == "upper":
        return area_mm2(outline)
    if design.plate_height_mm is None:
        return None
    return (span.end_mm - span.start_mm) * design.plate_height_mm


def area_mm2(outline: tuple[tuple[float, float], ...]) -> float:
    """Return the area of a closed outline (the shoelace formula)."""
    closed = (*outline, outline[0])
    return abs(sum(x0 * y1 - x1 * y0 for (x0, y0), (x1, y1) in pairwise(closed))) / 2
