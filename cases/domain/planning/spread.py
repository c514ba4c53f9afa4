"""How long stages take really, against what is planned: a spread, and times drawn from it.

The ratio of real to planned minutes is taken as log-normal: times of hand work are skewed, never
negative, and their spread grows with their length. Assumed, from what is usual for times of
manual tasks; the lab's own finished stages would settle it (compare the quantiles of
``ratios`` with those of the fit).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from hashlib import blake2b
from math import exp, log, sqrt

import numpy as np
from numpy.typing import NDArray

from cases.domain.planning.problem import Running, Stage
from cases.domain.planning.replay import Times
from cases.domain.planning.shop import Shop

UNKNOWN = 8
"""A guess counts as much as so many finished stages. Judgement."""
LEAST_RATIO, MOST_RATIO = 0.1, 10.0
"""Ratios outside are slips of a stop or start that was forgotten. Judgement."""


@dataclass(frozen=True)
class Spread:
    """Real minutes against planned ones: the ``median`` ratio, and ``sigma`` of its logarithm."""

    median: float = 1.0
    sigma: float = 0.3

    def ratio(self, deviate: float) -> float:
        """Return the ratio at a standard normal deviate."""
        return self.median * exp(self.sigma * deviate)


GUESS = Spread(1.0, 0.3)
"""Where a lab has finished little: two thirds of the stages within −26 % and +35 %. Assumed."""
EXACT = Spread(1.0, 0.0)
"""What lasts as long as it is said to: setting, cooling, baths."""

DRAWN_AGAIN = 20
"""How often a time is drawn again for what runs longer than the one drawn."""

SpreadOf = Callable[[Stage], Spread]
"""Gives the spread of a stage of the problem."""


def usual(stage: Stage) -> Spread:
    """Return the guess for work of hands and for answers; what runs by the clock is exact."""
    return GUESS if stage.kind in ("attended", "external") else EXACT


def fit(ratios: Sequence[float], guess: Spread = GUESS) -> Spread:
    """Return the spread of some ratios of real to planned minutes, drawn towards a guess.

    Without ratios that can be meant it is the guess; with many it is theirs.
    """
    logs = [log(ratio) for ratio in ratios if LEAST_RATIO <= ratio <= MOST_RATIO]
    count, weight = len(logs), len(logs) + UNKNOWN
    middle = (sum(logs) + UNKNOWN * log(guess.median)) / weight
    own = sum(logs) / count if count else 0.0
    squares = sum((one - own) ** 2 for one in logs)
    return Spread(exp(middle), sqrt((squares + UNKNOWN * guess.sigma**2) / weight))


def deviate(number: int, day: int, key: str, again: int = 0) -> float:
    """Return a standard normal deviate that depends on nothing but what is given."""
    return float(_deviates(_seeds(number, [key]), day, again)[0])


class Luck:
    """Sampled courses of things in a lab: how long everything takes, day by day.

    The deviate of a stage depends on its key, the ``number`` of the chain of chances and the day
    that is sampled, and on nothing else: so two plans, or a problem with and without another
    case, meet the same luck (common random numbers). Each stage has a seed by a hash, and each
    day's deviate comes from seed and day by SplitMix64 (Steele, Lea & Flood 2014, from memory)
    and Box and Muller's transform (1958), so that no chain is drawn from in an order.
    """

    def __init__(self, shop: Shop, spread_of: SpreadOf, number: int) -> None:
        self.stages = shop.stages
        spreads = [spread_of(stage) for stage in shop.stages]
        self.spreads = spreads
        exact = [spread == EXACT for spread in spreads]
        self.drawn = [at for at, stage in enumerate(shop.stages) if not exact[at] and stage.minutes]
        self.runs = [at for at, stage in enumerate(shop.stages) if stage.running is not None]
        self.exact = exact
        self.minutes = np.array([stage.minutes for stage in shop.stages], np.float64)
        self.median = np.array([spreads[at].median for at in self.drawn], np.float64)
        self.sigma = np.array([spreads[at].sigma for at in self.drawn], np.float64)
        self.seeds = _seeds(number, [shop.stages[at].key for at in self.drawn])
        self.number = number

    def times(self, day: int) -> Times:
        """Return the times of one sampled course of things."""
        minutes = self.minutes.copy()
        ratios = self.median * np.exp(self.sigma * _deviates(self.seeds, day))
        minutes[self.drawn] = np.maximum(1.0, minutes[self.drawn] * ratios)
        ends = [0] * len(self.stages)
        for at in self.runs:
            run = self.stages[at].running
            if run is not None:
                ends[at] = run.end if self.exact[at] else self._end(at, run, day)
        return Times(minutes.tolist(), ends)

    def _end(self, at: int, run: Running, day: int) -> int:
        """Return when a stage ends that runs still: of the times it might take, one not over."""
        planned, key = run.end - run.start, self.stages[at].key
        ratio = 1.0
        for again in range(DRAWN_AGAIN):
            ratio = self.spreads[at].ratio(deviate(self.number, day, key, again))
            if planned * ratio > -run.start:
                break
        return max(1, round(run.start + planned * ratio))


_GOLDEN = 0x9E3779B97F4A7C15
_FIRST, _SECOND = np.uint64(0xBF58476D1CE4E5B9), np.uint64(0x94D049BB133111EB)


def _seeds(number: int, keys: Sequence[str]) -> NDArray[np.uint64]:
    return np.array(
        [
            int.from_bytes(blake2b(f"{number} {key}".encode(), digest_size=8).digest(), "big")
            for key in keys
        ],
        np.uint64,
    )


def _mixed(state: NDArray[np.uint64]) -> NDArray[np.uint64]:
    state = (state ^ (state >> np.uint64(30))) * _FIRST
    state = (state ^ (state >> np.uint64(27))) * _SECOND
    return state ^ (state >> np.uint64(31))


def _deviates(seeds: NDArray[np.uint64], day: int, again: int = 0) -> NDArray[np.float64]:
    """Return a standard normal deviate for each seed."""
    steps = 1 + 2 * (day * DRAWN_AGAIN + again)
    at = seeds + np.uint64(_GOLDEN * steps % 2**64)
    shares = [
        ((_mixed(state) >> np.uint64(11)).astype(np.float64) + 0.5) / 2**53
        for state in (at, at + np.uint64(_GOLDEN))
    ]
    found: NDArray[np.float64] = np.sqrt(-2.0 * np.log(shares[0])) * np.cos(2 * np.pi * shares[1])
    return found


def draw(shop: Shop, spread_of: SpreadOf, number: int, day: int) -> Times:
    """Return the times of one sampled course of things; of several, ask ``Luck``."""
    return Luck(shop, spread_of, number).times(day)
