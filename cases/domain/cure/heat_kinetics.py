"""How fast the monomer of a dough turns into polymer, and its initiator decays, at a temperature.

Free-radical polymerisation at steady state. Termination falls with the free volume (gel effect),
growth falls with it later (glass effect); radicals that no longer move end by growing into each
other (reaction diffusion). Works on arrays: one entry a cell.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from cases.domain.cure.heat_constants import KELVIN_AT_0_C, R_J_MOL_K, value

Cells = NDArray[np.float64]

_LITRES_PER_M3: Final = 1000.0


@dataclass(frozen=True, slots=True)
class Dough:
    """What was mixed.

    Attributes
    ----------
    monomer_share, initiator_share
        Of the whole mass at the start; arrays where several doughs are reckoned at once.
    gel
        Whether gel and glass effect and reaction diffusion count; without them the equations have a
        closed form to check against.
    densities
        Of monomer and polymer: each at 0 °C in kg/m³ and its change for a kelvin.
    """

    monomer_share: float | Cells
    initiator_share: float | Cells
    gel: bool = True
    densities: tuple[tuple[float, float], tuple[float, float]] = (
        (value("mma_density_0"), value("mma_density_slope")),
        (value("pmma_density_0"), value("pmma_density_slope")),
    )


def monomer_share(powder_liquid_g_ml: float) -> float:
    """Return the monomer's share of the mass of a mix."""
    liquid = value("mma_liquid_density")
    return liquid / (liquid + powder_liquid_g_ml)


def mixed(powder_liquid_g_ml: float, bpo_percent: float) -> Dough:
    """Return the dough of a powder to liquid ratio and a percentage of peroxide in the powder."""
    monomer = monomer_share(powder_liquid_g_ml)
    return Dough(monomer, bpo_percent / 100 * (1 - monomer))


def _arrhenius(name: str, kelvin: Cells) -> Cells:
    rate: Cells = value(f"{name}_a") * np.exp(-value(f"{name}_ea") / R_J_MOL_K / kelvin)
    return rate


def initiator_decay(celsius: Cells) -> Cells:
    """Return the rate at which peroxide falls apart, per second."""
    return _arrhenius("bpo", celsius + KELVIN_AT_0_C)


def _slowed(
    growth: Cells, termination: Cells, monomer: Cells, volume_share: Cells, kelvin: Cells
) -> tuple[Cells, Cells]:
    """Return both rate constants as the thickening dough leaves them."""
    at_glass = value("free_volume_at_glass")
    expands_m, expands_p = value("mma_expansion"), value("pmma_expansion")
    glass_m, glass_p = value("mma_glass"), value("pmma_glass")
    polymer_share = 1 - volume_share
    expansion = volume_share * expands_m + polymer_share * expands_p
    softening = (
        volume_share * expands_m * glass_m + polymer_share * expands_p * glass_p
    ) / expansion
    # Below the softening point of the mixture its free volume is frozen in.
    crowding = 1 / (at_glass + expansion * np.maximum(kelvin - softening, 0.0))
    frozen = np.maximum(value("glass_eg") / R_J_MOL_K * (1 / kelvin - 1 / softening), 0.0)
    growth = growth / (1 + np.exp(value("glass_bp") * (crowding - 1 / value("glass_vfp")) + frozen))
    termination = (
        termination / (1 + np.exp(value("gel_bt") * (crowding - 1 / value("gel_vft"))))
        + value("reaction_diffusion") * growth * monomer
    )
    return growth, termination


def conversion_rate(celsius: Cells, decayed: Cells, converted: Cells, dough: Dough) -> Cells:
    """Return how fast the monomer is used up, as a share of what there was, per second.

    Parameters
    ----------
    decayed
        Integral of the initiator's decay since the start: exp(-decayed) of it is left.
    converted
        Share of the monomer used up so far.
    """
    kelvin = celsius + KELVIN_AT_0_C
    (monomer_0, monomer_slope), (polymer_0, polymer_slope) = dough.densities
    # A step that is too long and will be taken again may use up more than there was.
    left = np.maximum(1 - converted, 0.0)
    share = dough.monomer_share * left
    monomer_volume = share / (monomer_0 + monomer_slope * celsius)
    density = 1 / (monomer_volume + (1 - share) / (polymer_0 + polymer_slope * celsius))
    monomer = density * share / value("mma_molar_mass") / _LITRES_PER_M3
    initiator = (
        density
        * dough.initiator_share
        * np.exp(-decayed)
        / value("bpo_molar_mass")
        / _LITRES_PER_M3
    )
    growth, termination = _arrhenius("kp", kelvin), _arrhenius("kt", kelvin)
    if dough.gel:
        growth, termination = _slowed(
            growth, termination, monomer, monomer_volume * density, kelvin
        )
    radicals = np.sqrt(
        2 * value("bpo_efficiency") * _arrhenius("bpo", kelvin) * initiator / termination
    )
    rate: Cells = growth * radicals * left
    return rate
