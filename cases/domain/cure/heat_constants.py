"""Every number of the heat estimate, with its unit, where it is from and how sure that is.

Status words: ``read`` where the text of the source was seen, ``from memory`` where it was not,
``fitted`` to measurements, ``derived`` from other numbers, ``assumed`` where nobody publishes it.
Whoever changes a number changes ``MODEL_VERSION`` with it: estimates are kept with their version.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

MODEL_VERSION: Final = "heat-1"

R_J_MOL_K: Final = 8.314462618
J_PER_CAL: Final = 4.184
KELVIN_AT_0_C: Final = 273.15

Status = Literal["read", "from memory", "fitted", "derived", "assumed"]


@dataclass(frozen=True, slots=True)
class Constant:
    """One number: ``value`` in ``unit``, its source, and how sure that is."""

    value: float
    unit: str
    source: str
    status: Status


_HOMOPOLYMER = "package HomoPolymer 1.0 (CRAN), table of monomers and initiators"
_GEL_FORM = (
    "fall-off form after Chiu, Carratt & Soong, Macromolecules 1983;16:348 and Achilias & "
    "Kiparissides, Macromolecules 1992;25:3739 (from memory); number fitted to a published bulk "
    "polymerisation of MMA with AIBN at 70 °C and to published cures of denture base"
)
_NOBODY = "nobody publishes it"
_HANDBOOK = "handbook value"

CONSTANTS: Final[dict[str, Constant]] = {
    # The initiator. The table prints 3000 cal/mol, which cannot be: 30 000 gives 0.947 h at 92 °C
    # and 63 s at 131 °C, the half-lives that independent sources print.
    "bpo_a": Constant(1.101e16 / 60, "1/s", _HOMOPOLYMER, "read"),
    "bpo_ea": Constant(
        30_000 * J_PER_CAL, "J/mol", f"{_HOMOPOLYMER}, misprint of 3000 cal corrected", "derived"
    ),
    "bpo_efficiency": Constant(
        0.6, "1", "Odian, Principles of Polymerization: 0.4-0.8", "from memory"
    ),
    "bpo_molar_mass": Constant(0.24223, "kg/mol", "formula C14H10O4", "derived"),
    # The monomer.
    "kp_a": Constant(4.92e5, "L/mol/s", _HOMOPOLYMER, "read"),
    "kp_ea": Constant(4353 * J_PER_CAL, "J/mol", _HOMOPOLYMER, "read"),
    "kt_a": Constant(9.8e7, "L/mol/s", _HOMOPOLYMER, "read"),
    "kt_ea": Constant(701 * J_PER_CAL, "J/mol", _HOMOPOLYMER, "read"),
    "heat_of_polymerisation": Constant(57_800.0, "J/mol", _HOMOPOLYMER, "read"),
    "mma_molar_mass": Constant(0.10012, "kg/mol", "formula C5H8O2", "derived"),
    "mma_liquid_density": Constant(0.94, "g/mL", _HANDBOOK, "from memory"),
    "mma_boiling_point": Constant(
        100.5, "°C", f"{_HANDBOOK} at 1 atm: 100.3-100.8 (also printed 101)", "from memory"
    ),
    # Densities fall in a line with the temperature in °C.
    "mma_density_0": Constant(966.5, "kg/m³", _HOMOPOLYMER, "read"),
    "mma_density_slope": Constant(-1.164, "kg/m³/K", _HOMOPOLYMER, "read"),
    "pmma_density_0": Constant(1195.0, "kg/m³", _HOMOPOLYMER, "read"),
    "pmma_density_slope": Constant(-0.33, "kg/m³/K", _HOMOPOLYMER, "read"),
    # Free volume: 0.025 at the glass transition, and so much more for each kelvin above.
    "free_volume_at_glass": Constant(0.025, "1", _HOMOPOLYMER, "read"),
    "mma_expansion": Constant(1.0e-3, "1/K", _HOMOPOLYMER, "read"),
    "pmma_expansion": Constant(4.8e-4, "1/K", _HOMOPOLYMER, "read"),
    "mma_glass": Constant(167.1, "K", _HOMOPOLYMER, "read"),
    "pmma_glass": Constant(387.0, "K", _HOMOPOLYMER, "read"),
    # Gel effect (termination slows down) and glass effect (growth slows down).
    "gel_bt": Constant(2.853, "1", _GEL_FORM, "fitted"),
    "gel_vft": Constant(0.15887, "1", _GEL_FORM, "fitted"),
    "glass_bp": Constant(0.38792, "1", _GEL_FORM, "fitted"),
    "glass_vfp": Constant(0.07414, "1", _GEL_FORM, "fitted"),
    "glass_eg": Constant(42_900.0, "J/mol", f"{_GEL_FORM}; relative standard error 80 %", "fitted"),
    "reaction_diffusion": Constant(
        5.0, "L/mol", "0.7-17 from the molecular parameters of the same table", "assumed"
    ),
    # The dough.
    "dough_conductivity": Constant(0.20, "W/m/K", f"{_HANDBOOK} of PMMA: 0.17-0.25", "from memory"),
    "dough_density": Constant(1140.0, "kg/m³", _NOBODY, "assumed"),
    "dough_heat_capacity": Constant(
        1670.0, "J/kg/K", f"{_HOMOPOLYMER}: PMMA 400 cal, MMA 411 cal", "read"
    ),
    "powder_liquid": Constant(2.3, "g/mL", "taught range 1.8-2.6", "from memory"),
    "bpo_share": Constant(0.5, "% of powder", "0.3-1.0 in denture powders", "from memory"),
    # The flask around it.
    "gypsum_thickness": Constant(20.0, "mm", _NOBODY, "assumed"),
    "gypsum_conductivity": Constant(
        0.9, "W/m/K", f"{_HANDBOOK} of wet set gypsum: 0.5-1.3", "from memory"
    ),
    "gypsum_density": Constant(1750.0, "kg/m³", f"{_HANDBOOK} of wet set gypsum", "from memory"),
    "gypsum_heat_capacity": Constant(
        1700.0, "J/kg/K", f"{_HANDBOOK} of wet set gypsum", "from memory"
    ),
    "brass_thickness": Constant(4.0, "mm", _NOBODY, "assumed"),
    "brass_conductivity": Constant(115.0, "W/m/K", _HANDBOOK, "from memory"),
    "brass_density": Constant(8500.0, "kg/m³", _HANDBOOK, "from memory"),
    "brass_heat_capacity": Constant(380.0, "J/kg/K", _HANDBOOK, "from memory"),
    "film": Constant(500.0, "W/m²/K", f"{_NOBODY}; 200-2000 is plausible", "assumed"),
    "start": Constant(23.0, "°C", "room temperature", "assumed"),
}


def value(key: str) -> float:
    """Return the number of a constant.

    Raises
    ------
    KeyError
        There is no such constant.
    """
    return CONSTANTS[key].value
