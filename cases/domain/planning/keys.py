"""What an order of preference is reckoned from: as a function, and as numbers for compiled code."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from math import exp

Key = Callable[[int, int], float]
"""The preference of a stage at a minute: the smallest first."""


@dataclass(frozen=True, eq=False)
class Fixed:
    """A preference that stays what it is."""

    keys: list[float]

    def __call__(self, at: int, now: int) -> float:
        """Return the preference of a stage."""
        return self.keys[at]


@dataclass(frozen=True, eq=False)
class WeightedDue:
    """What is left until the due minute, shared by the weight; of what is late, times it."""

    due: list[int]
    weight: list[float]

    def __call__(self, at: int, now: int) -> float:
        """Return the preference of a stage at a minute."""
        left = self.due[at] - now
        return left / self.weight[at] if left > 0 else left * self.weight[at]


@dataclass(frozen=True, eq=False)
class Fading:
    """A worth that fades with the minutes that are left until ``last``.

    Attributes
    ----------
    worth
        Of each stage once it is urgent.
    last
        The minute by which each must begin to be in time.
    spread
        The minutes in which the worth falls to 1/e.
    """

    worth: list[float]
    last: list[int]
    spread: float

    def __call__(self, at: int, now: int) -> float:
        """Return the preference of a stage at a minute."""
        slack = max(0.0, self.last[at] - now)
        return -self.worth[at] * exp(-slack / self.spread)


Formula = Fixed | WeightedDue | Fading
"""The preferences that compiled code knows."""
