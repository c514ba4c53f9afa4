"""The standard minutes of a stage: the route's formula until the lab's record knows better.

The route's formula is a placeholder (judgement). What the lab really took is compared with it case
by case as a ratio, because cases differ in size; the ratio of the record is drawn towards 1 by as
many imagined cases as the placeholder is worth. With nothing recorded the formula stands; the more
is recorded, the less the formula matters.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from statistics import median

# How many cases the placeholder is worth against the lab's own. judgement
PLACEHOLDER_CASES = 8.0
# Ratios beyond these are forgotten clocks rather than work. judgement
LEAST_RATIO, MOST_RATIO = 0.2, 5.0

Standard = Callable[[str, float], float]
"""Standard minutes of a stage, from its key and the minutes of its formula."""


@dataclass(frozen=True, slots=True)
class Taken:
    """One finished stage of the record: what the formula said and what hands really gave."""

    stage: str
    formula_minutes: float
    attended_minutes: float


def placeholder(stage: str, formula_minutes: float) -> float:
    """The formula of the route, unchanged: the standard of a lab with no record."""
    return formula_minutes


def ratios(record: Iterable[Taken]) -> dict[str, tuple[float, int]]:
    """Return, for each stage of a record, the middle ratio taken : formula, and of how many.

    The median, because one forgotten clock must not move a standard. Stages whose formula is nil
    say nothing.
    """
    found: dict[str, list[float]] = {}
    for taken in record:
        if taken.formula_minutes > 0 and taken.attended_minutes > 0:
            ratio = taken.attended_minutes / taken.formula_minutes
            if LEAST_RATIO <= ratio <= MOST_RATIO:
                found.setdefault(taken.stage, []).append(ratio)
    return {stage: (median(own), len(own)) for stage, own in found.items()}


def standard_of(
    own: Mapping[str, tuple[float, int]], *, worth: float = PLACEHOLDER_CASES
) -> Standard:
    """Return the standard of a lab with this record.

    Parameters
    ----------
    own
        As from ``ratios``.
    worth
        Number of cases that the placeholder counts for; must be positive.

    Raises
    ------
    ValueError
        If ``worth`` is not positive.
    """
    if worth <= 0:
        raise ValueError("The placeholder must be worth more than nothing.")

    def standard(stage: str, formula_minutes: float) -> float:
        ratio, cases = own.get(stage, (1.0, 0))
        return formula_minutes * (worth + ratio * cases) / (worth + cases)

    return standard
