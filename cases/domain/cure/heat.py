"""What happens inside a flask in a water bath: a planning estimate, never a measurement.

One slab of dough between gypsum, brass and water, with the heat of polymerisation and the gel
effect. In sections over about 6 mm no measurement stands behind the peak. It says nothing of the
monomer that is left, of strength or of pores.

The arithmetic needs NumPy, which is loaded at the first estimate and not with this module.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from cases.domain.cure.heat_constants import MODEL_VERSION, value
from cases.domain.cure.heat_range import OutsideRange, check_flask, read_program

if TYPE_CHECKING:
    from cases.domain.cure.heat_grid import Slab
    from cases.domain.cure.heat_march import History

__all__ = ["LIVE_SHARE", "MODEL_VERSION", "Heat", "OutsideRange", "run", "simulate"]

# Where more of the mass than this is monomer, a cell counts as live: it could boil. Assumed.
LIVE_SHARE: Final = 0.05


@dataclass(frozen=True, slots=True)
class Heat:
    """One estimate.

    Attributes
    ----------
    peak_c, peak_minute
        The hottest that any of the resin gets in the whole program, and when.
    live_peak_c
        The hottest that resin gets while it still holds monomer enough to boil.
    over_bath_k
        The most by which any of the resin is hotter than the bath.
    setting_minute
        When the core gives off most heat; None where that is still rising when the program ends.
    bath_at_setting_c
        The bath at that minute; None as above.
    model_version
        Of the model that reckoned it.
    """

    peak_c: float
    peak_minute: float
    live_peak_c: float
    over_bath_k: float
    setting_minute: float | None
    bath_at_setting_c: float | None
    model_version: str = MODEL_VERSION


def _vertex(x: Sequence[float], y: Sequence[float]) -> float:
    """Return where the parabola through three points is highest, the middle one being highest."""
    left, right = x[0] - x[1], x[2] - x[1]
    rise, fall = y[0] - y[1], y[2] - y[1]
    bend = rise * right - fall * left
    if bend == 0:
        return float(x[1])
    return float(x[1] + (rise * right**2 - fall * left**2) / (2 * bend))


def _read(history: History, slab: Slab, index: int) -> Heat:
    import numpy as np

    cells = slab.layers[0].cells
    resin = history.celsius[:, index, :cells]
    minutes = history.seconds / 60
    hottest = resin.max(axis=1)
    top = int(hottest.argmax())
    live = np.ones_like(resin, dtype=bool)
    if slab.dough is not None:
        live = slab.dough.monomer_share * (1 - history.converted[:, index]) > LIVE_SHARE
    core = history.rate[:, index, 0]
    fastest = int(core.argmax())
    setting = bath = None
    if 0 < fastest < len(core) - 1:
        near = slice(fastest - 1, fastest + 2)
        setting = _vertex(minutes[near].tolist(), core[near].tolist())
        bath = float(np.interp(setting, minutes, history.bath_c))
    return Heat(
        peak_c=float(hottest[top]),
        peak_minute=float(minutes[top]),
        live_peak_c=float(np.where(live, resin, -np.inf).max()),
        over_bath_k=float((hottest - history.bath_c).max()),
        setting_minute=setting,
        bath_at_setting_c=bath,
    )


def run(slabs: Sequence[Slab], program: Iterable[tuple[float, float]]) -> tuple[Heat, ...]:
    """Return the estimates of several flasks in one bath.

    Raises
    ------
    ValueError
        As ``heat_range.read_program``.
    """
    from cases.domain.cure.heat_march import march

    history = march(slabs, read_program(program))
    return tuple(_read(history, slab, index) for index, slab in enumerate(slabs))


def simulate(
    program: Iterable[tuple[float, float]],
    thickness_mm: float,
    *,
    gypsum_mm: float = value("gypsum_thickness"),
    powder_liquid_g_ml: float = value("powder_liquid"),
    bpo_percent: float = value("bpo_share"),
) -> Heat:
    """Return the estimate of one flask.

    Parameters
    ----------
    program
        Of the bath: (minutes from the start, °C), linear between, the first point at 0; two points
        of one minute are a change of bath. ``[(0, 100), (60, 100)]`` goes straight into boiling.
    thickness_mm
        Of the resin at its thickest, both sides of the middle.
    gypsum_mm
        Between resin and flask, on each side.
    powder_liquid_g_ml
        Grams of powder for a millilitre of liquid.
    bpo_percent
        Peroxide in the powder, percent of its mass.

    Raises
    ------
    OutsideRange
        The estimate does not reach so far; the sentence says why.
    ValueError
        Something is no number or no program.
    """
    from cases.domain.cure.heat_grid import flask

    check_flask(thickness_mm, gypsum_mm, powder_liquid_g_ml, bpo_percent)
    points = read_program(program)
    slab = flask(
        thickness_mm,
        gypsum_mm=gypsum_mm,
        powder_liquid_g_ml=powder_liquid_g_ml,
        bpo_percent=bpo_percent,
    )
    return run([slab], points)[0]
