"""What wires are made of: stiffness and yield as ranges, each with its source.

The maker's certificate of the wire in hand beats every number here.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from cases.domain.design_parts import STAINLESS
from cases.domain.quantity import Band
from cases.domain.words import N_

_PHILLIPS = "Phillips' Science of Dental Materials, 12th ed. 2013, chapter on wires"
_CRAIG = "Craig's Restorative Dental Materials, 13th ed. 2012"
_FROM_MEMORY = "from memory"


@dataclass(frozen=True, slots=True)
class Alloy:
    """One alloy in one condition.

    Attributes
    ----------
    key, name
        As a design keeps it, and as people read it.
    modulus_gpa, yield_mpa
        Modulus of elasticity, and 0.2 % yield strength.
    nickel
        Whether it contains nickel.
    source, status
        Where the two ranges come from, and how sure that is.
    """

    key: str
    name: str
    modulus_gpa: Band
    yield_mpa: Band
    nickel: bool
    source: str
    status: str


STEELS: Final = frozenset({STAINLESS, "stainless-softened"})
"""What rests and bars are of: they have no alloy of their own."""

ALLOYS: Final[dict[str, Alloy]] = {
    alloy.key: alloy
    for alloy in (
        Alloy(
            STAINLESS, N_("stainless steel, hard"), Band(160, 200), Band(1100, 1760),
            nickel=True, source=_PHILLIPS, status=_FROM_MEMORY,
        ),
        # What a wire becomes where it was heated too far.
        Alloy(
            "stainless-softened", N_("stainless steel, softened by heat"), Band(160, 200),
            Band(250, 300), nickel=True, source=_PHILLIPS, status=_FROM_MEMORY,
        ),
        Alloy(
            "co-cr-ni", N_("cobalt-chromium-nickel, as drawn"), Band(184, 200), Band(830, 1000),
            nickel=True, source=_PHILLIPS, status=_FROM_MEMORY,
        ),
        # The source gives one figure, "about 1400".
        Alloy(
            "co-cr-ni-hardened", N_("cobalt-chromium-nickel, heat-treated"), Band(184, 200),
            Band(1400, 1400), nickel=True, source=_PHILLIPS, status=_FROM_MEMORY,
        ),
        Alloy(
            "gold", N_("wrought gold or platinum-gold-palladium"), Band(100, 120), Band(550, 900),
            nickel=False, source=_CRAIG, status="from memory, unsure",
        ),
    )
}  # fmt: skip
