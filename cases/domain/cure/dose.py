"""The heating dose: how far a record of temperatures has broken down the initiator.

First order, k = A·exp(-Ea/RT), summed up along the line between the readings. Stated in minutes
at a reference temperature it is nearly the same whichever set of constants is taken, because it
is a ratio; that is why people are shown equivalent minutes and not a share of the initiator. The
initiator used up is **not** how far the resin has hardened: after eight hours at 74 °C half of
it is still there.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import exp, fsum, log
from typing import Final

import numpy as np

from cases.domain.cure.samples import COLDEST_C, HOTTEST_C, Numbers, Points, Samples, checked
from cases.domain.words import gettext as _

# Source: CODATA 2018, exact.
GAS_CONSTANT_J_MOL_K: Final = 8.314462618
ZERO_C_IN_K: Final = 273.15
# Thermochemical calorie, exact by definition.
J_PER_CAL: Final = 4.184

# The temperature whose minutes people are shown: that of the classic long cycle.
REFERENCE_C: Final = 74.0

# Within 4 K the rate grows by a factor of 1.7 at most, and a rule of five nodes is right to the
# last digits of a float; steeper lines are cut into steps of that size.
_STEP_K: Final = 4.0
_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(5)


@dataclass(frozen=True, slots=True)
class Kinetics:
    """How fast an initiator breaks down.

    Attributes
    ----------
    key
        As callers and stored verdicts name the set.
    frequency_per_s, activation_j_mol
        A and Ea of k = A·exp(-Ea/RT).
    measured_in
        The medium. None of the sets was measured in denture dough.
    source, status
        Where the two constants come from, and how sure that is.
    """

    key: str
    frequency_per_s: float
    activation_j_mol: float
    measured_in: str
    source: str
    status: str


KINETICS: Final[dict[str, Kinetics]] = {
    kinetics.key: kinetics
    for kinetics in (
        Kinetics(
            "db", 1.101e16 / 60, 30_000 * J_PER_CAL, "methyl methacrylate, a modelling table",
            "A: CRAN package HomoPolymer 1.0, table DBk (1.101e16 per minute). Ea: the same table "
            "prints 3000 cal/mol, physically impossible; 30 000 is our correction, which gives "
            "the independent half-lives 0.947 h at 92 °C and 63 s at 131 °C",
            "A read in the source; Ea corrected here",
        ),
        Kinetics(
            "a", 6.94e13, 122_350.0, "chlorobenzene",
            "data sheet of a maker of peroxides: half-lives 0.1 h at 113 °C, 1 h at 91 °C, 10 h "
            "at 71 °C, with which A and Ea agree within 3 %",
            "from memory",
        ),
    )
}  # fmt: skip


def kinetics_set(key: str) -> Kinetics:
    """Return a set of constants by its key.

    Raises
    ------
    ValueError
        There is none of that name.
    """
    found = KINETICS.get(key) if isinstance(key, str) else None
    if found is None:
        raise ValueError(
            _("There are no constants %(key)s: take one of %(known)s.")
            % {"key": repr(key), "known": ", ".join(KINETICS)}
        )
    return found


def rate_per_s(celsius: float, kinetics: str = "db") -> float:
    """Return how fast the initiator breaks down at a temperature, per second.

    Raises
    ------
    ValueError
        The temperature is none that a bath has, or there are no such constants.
    """
    if not COLDEST_C <= celsius <= HOTTEST_C:
        raise ValueError(
            _("%(celsius)s °C is no temperature of a bath.") % {"celsius": f"{celsius:g}"}
        )
    chosen = kinetics_set(kinetics)
    kelvin = celsius + ZERO_C_IN_K
    return chosen.frequency_per_s * exp(-chosen.activation_j_mol / (GAS_CONSTANT_J_MOL_K * kelvin))


def half_life_hours(celsius: float, kinetics: str = "db") -> float:
    """Return after how many hours at a temperature half of the initiator is left.

    Raises
    ------
    ValueError
        As `rate_per_s`.
    """
    return log(2) / rate_per_s(celsius, kinetics) / 3600


def _stepped(samples: Samples) -> tuple[Numbers, Numbers, Numbers]:
    """Return start and end temperature and seconds of lines no steeper than a step each."""
    seconds = np.diff(samples.seconds)
    start, end = samples.celsius[:-1], samples.celsius[1:]
    pieces = np.maximum(1, np.ceil(np.abs(end - start) / _STEP_K)).astype(np.int64)
    # A jump takes no time and needs no steps.
    pieces[seconds == 0] = 1
    if pieces.max() == 1:
        return start, end, seconds
    line = np.repeat(np.arange(len(pieces)), pieces)
    piece = np.arange(len(line)) - np.repeat(np.cumsum(pieces) - pieces, pieces)
    rise = (end - start)[line] / pieces[line]
    from_c = start[line] + rise * piece
    return from_c, from_c + rise, seconds[line] / pieces[line]


def breakdown(trace: Points | Samples, kinetics: str = "db") -> float:
    """Return ∫ k dt along a record, without unit: minus the logarithm of what is left.

    Parameters
    ----------
    trace
        Pairs of seconds and °C, linear between, in order.

    Raises
    ------
    ValueError
        The record is none, or there are no such constants.
    """
    chosen = kinetics_set(kinetics)
    from_c, to_c, seconds = _stepped(checked(trace))
    middle, half = (from_c + to_c) / 2 + ZERO_C_IN_K, (to_c - from_c) / 2
    exponent = -chosen.activation_j_mol / GAS_CONSTANT_J_MOL_K
    mean = np.zeros_like(middle)
    for node, weight in zip(_NODES, _WEIGHTS, strict=True):
        mean += weight / 2 * np.exp(exponent / (middle + node * half))
    # Summed exactly, so that a longer record never rounds to a smaller dose.
    return chosen.frequency_per_s * fsum((mean * seconds).tolist())


def fraction_left(trace: Points | Samples, kinetics: str = "db") -> float:
    """Return the share of the initiator that a record of temperatures leaves, 0 to 1.

    Parameters
    ----------
    trace
        Pairs of seconds and °C, linear between, in order.
    kinetics
        ``"db"`` or ``"a"``.

    Raises
    ------
    ValueError
        The record is none (too few readings, time backwards, not finite), or there are no such
        constants.
    """
    return exp(-breakdown(trace, kinetics))


def equivalent_minutes(
    trace: Points | Samples, kinetics: str = "db", reference_c: float = REFERENCE_C
) -> float:
    """Return how many minutes at the reference temperature break down as much initiator.

    Parameters
    ----------
    trace
        Pairs of seconds and °C, linear between, in order.
    kinetics
        ``"db"`` or ``"a"``.
    reference_c
        °C.

    Raises
    ------
    ValueError
        As `fraction_left`, or the reference is no temperature of a bath.
    """
    return breakdown(trace, kinetics) / rate_per_s(reference_c, kinetics) / 60


def minutes_at(
    celsius: float, equivalent: float, kinetics: str = "db", reference_c: float = REFERENCE_C
) -> float:
    """Return how many minutes at a temperature make so many equivalent minutes.

    Raises
    ------
    ValueError
        As `rate_per_s`.
    """
    return equivalent * rate_per_s(reference_c, kinetics) / rate_per_s(celsius, kinetics)
