"""Where the moves of the machine are listed; each sends one submission, mostly sensible."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from tests.machine.driver import Driver

Move = Callable[[Driver], None]
BENCH = ("mara", "oren", "teo")
FAVOUR = 6.0
"""How much more often the moves of a run's own family come."""
OFFICE = frozenset({"staff", "lab", "practice", "tablet"})
OFFICE_SHARE = 0.15
"""How often the many moves of the office come in a run of another family, so that the work of
the bench goes on."""


@dataclass(frozen=True)
class Listed:
    """A move, how often it comes, and the family it belongs to."""

    weight: int
    family: str
    run: Move


MOVES: list[Listed] = []


def move(weight: int) -> Callable[[Move], Move]:
    """Register a move under the family of its file; heavier ones come more often."""

    def register(run: Move) -> Move:
        family = run.__module__.rpartition(".")[2].removesuffix("_moves")
        MOVES.append(Listed(weight, family, run))
        return run

    return register


def weights_for(family: str) -> list[float]:
    """Return the weight of each move in a run that favours ``family``; empty favours none."""
    return [one.weight * _factor(one.family, family) for one in MOVES]


def _factor(family: str, favoured: str) -> float:
    if family == favoured:
        return FAVOUR
    return OFFICE_SHARE if family in OFFICE else 1.0
