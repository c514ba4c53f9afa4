"""How far resin in a flask lags behind its bath: one time, fitted to a run with two probes.

Model: dT/dt = (bath − T) / lag, a lag of the first order, begun at the flask's own first reading
and driven by the bath as it was measured. The lag that leaves the least squares of what it says
against the flask's readings is taken ("output error"). It is also the time after which the flask
has gone 63 % of the way of a sudden step, and by how much it stays behind a steady rise.
Source: fitting a first-order lag by least squares of its simulated output is common practice of
control engineering, no one source; from memory.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import exp, log, sqrt
from typing import Final

import numpy as np

from cases.domain.cure.program import ROOM_C
from cases.domain.cure.samples import Numbers, Points, Samples, checked
from cases.domain.words import gettext as _

MODEL_VERSION: Final = "lag-first-order 1"
SHORTEST_MINUTES: Final = 0.5
LONGEST_MINUTES: Final = 120.0
# Below this the run says nothing; above this the two probes do not belong together. Assumed.
LEAST_RISE_K: Final = 15.0
MOST_RMS_K: Final = 3.0
MOST_READINGS: Final = 2000
STEP_S: Final = 60.0
PLACES: Final = 16
# A thousandth of the lag.
CLOSE: Final = 1e-3


@dataclass(frozen=True, slots=True)
class Lag:
    """A fitted lag: minutes, and how far the flask's readings are off it (root mean square, K)."""

    minutes: float
    rms_k: float


def follow(bath: Samples, minutes: float, start_c: float, instants: Numbers) -> Numbers:
    """Return what lags behind a bath, exactly for a bath that is linear between its readings, °C.

    Parameters
    ----------
    minutes
        The lag, above zero.
    start_c
        Where it begins, at the bath's first reading.
    instants : shape (n,)
        Seconds, within the bath's record, not falling.
    """
    seconds = np.union1d(bath.seconds, instants)
    driven = np.interp(seconds, bath.seconds, bath.celsius)
    lag_s = minutes * 60.0
    found = np.empty_like(seconds)
    found[0] = here = start_c
    for n in range(1, len(seconds)):
        step = seconds[n] - seconds[n - 1]
        slope = (driven[n] - driven[n - 1]) / step
        # Behind a ramp it ends a lag's worth of slope below; what it began with fades.
        behind = driven[n - 1] - slope * lag_s
        here = behind + slope * step + (here - behind) * exp(-step / lag_s)
        found[n] = here
    return found[np.searchsorted(seconds, instants)]


def fit_lag(bath: Points | Samples, flask: Points | Samples) -> Lag:
    """Fit the lag of a flask behind its bath.

    Parameters
    ----------
    bath, flask
        Pairs of seconds and °C on one clock; only the time that both cover counts.

    Raises
    ------
    ValueError
        The two do not overlap, the bath was hardly heated, or no lag describes them. The sentence
        says which.
    """
    driving, read = checked(bath), checked(flask)
    since, until = max(driving.start_s, read.start_s), min(driving.end_s, read.end_s)
    if until - since < 600:
        raise ValueError(_("Bath and flask were not read at the same time for ten minutes."))
    driving, read = driving.between(since, until), read.between(since, until)
    if float(np.ptp(driving.celsius)) < LEAST_RISE_K:
        raise ValueError(
            _("The bath changed by less than %(least)d K: that shows no lag. Record the heating.")
            % {"least": LEAST_RISE_K}
        )
    driving, read = _fewer(driving), _fewer(read)

    def off(log_minutes: float) -> float:
        said = follow(driving, exp(log_minutes), float(read.celsius[0]), read.seconds)
        return float(np.mean((said - read.celsius) ** 2))

    best = _least(off, log(SHORTEST_MINUTES), log(LONGEST_MINUTES))
    minutes, rms = exp(best), off(best) ** 0.5
    if rms > MOST_RMS_K or not 1.05 * SHORTEST_MINUTES < minutes < 0.95 * LONGEST_MINUTES:
        raise ValueError(
            _(
                "The flask does not follow the bath: no lag fits nearer than %(rms)s K. Are the "
                "columns the right way round, and the clocks the same?"
            )
            % {"rms": f"{rms:.1f}"}
        )
    return Lag(minutes, rms)


def _least(of: Callable[[float], float], low: float, high: float) -> float:
    """Return where a function is least: the best of some places, then by the golden section."""
    places = np.linspace(low, high, PLACES)
    best = int(np.argmin([of(place) for place in places]))
    low, high = float(places[max(0, best - 1)]), float(places[min(PLACES - 1, best + 1)])
    golden = (sqrt(5) - 1) / 2
    here, there = high - golden * (high - low), low + golden * (high - low)
    at_here, at_there = of(here), of(there)
    while high - low > CLOSE:
        if at_here <= at_there:
            high, there, at_there = there, here, at_here
            here = high - golden * (high - low)
            at_here = of(here)
        else:
            low, here, at_here = here, there, at_there
            there = low + golden * (high - low)
            at_there = of(there)
    return (low + high) / 2


def _fewer(samples: Samples) -> Samples:
    """Return a record of no more readings than are needed, each instant once."""
    keep = np.r_[True, np.diff(samples.seconds) > 0]
    seconds, celsius = samples.seconds[keep], samples.celsius[keep]
    if len(seconds) > MOST_READINGS:
        step = (seconds[-1] - seconds[0]) / MOST_READINGS
        _slot, first = np.unique(np.floor((seconds - seconds[0]) / step), return_index=True)
        chosen = np.union1d(first, [len(seconds) - 1])
        seconds, celsius = seconds[chosen], celsius[chosen]
    return Samples(seconds, celsius)


def lagged(
    program: Sequence[tuple[float, float]], minutes: float, start_c: float = ROOM_C
) -> tuple[tuple[float, float], ...]:
    """Return a program of the bath as what lags behind it gets it, minute by minute.

    Parameters
    ----------
    program
        Minutes and °C of the bath, linear between; twice the same minute is a jump.
    minutes
        The lag.
    start_c
        What went in, however hot the bath is.
    """
    bath = checked([(60.0 * minute, celsius) for minute, celsius in program])
    # A jump is a rise within a second.
    apart = bath.seconds + np.r_[0.0, np.diff(bath.seconds) == 0]
    instants = np.arange(bath.start_s, bath.end_s + 1, STEP_S)
    found = follow(Samples(apart, bath.celsius), minutes, start_c, instants)
    return tuple(zip((instants / 60).tolist(), found.tolist(), strict=True))
