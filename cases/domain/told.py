"""What the practice told or the cast shows, that nobody can reckon: words of a design, and facts.

A word stands in ``Design.told`` once somebody entered it; the rules read it as a fact.
"""

from __future__ import annotations

from collections.abc import Collection
from typing import Any, Final

from cases.domain.alloys import ALLOYS
from cases.domain.words import N_

# Common practice, no published source: which of these the rules ask about.
TOLD: Final[dict[str, str]] = {
    "broke-before": N_("An earlier piece broke"),
    "last-did-not-seat": N_("The last piece did not seat, or took over ten minutes"),
    "fit-back": N_("A fit-back on a cast is ordered"),
    "cast-goes-home": N_("A cast goes back to the practice"),
    "later-piece": N_("A later piece will be made on this cast"),
    "heavy-bite": N_("The practice told of a heavy bite"),
    "full-front-ridge": N_("The ridge of the front gap is full"),
    "acrylic-agreed": N_("The practice agreed to acrylic in spite of the allergy"),
}
"""What is so where it is entered; what is not entered, nobody said."""

DRAWING: Final[dict[str, str]] = {
    "drawing-came": N_("A drawing came with the order"),
    "no-drawing": N_("No drawing came"),
}
"""One of the two, or neither where nobody said."""

ALLOY_NAMED: Final[dict[str, str]] = {f"named-{key}": alloy.name for key, alloy in ALLOYS.items()}
"""The alloy that the practice named in answer to an allergy: one of these, or none."""

WORDS: Final = frozenset({*TOLD, *DRAWING, *ALLOY_NAMED})


def facts_told(told: Collection[str]) -> dict[str, Any]:
    """Return what the words of a design say, by the names of ``Facts``."""
    said: dict[str, Any] = {word.replace("-", "_"): True for word in TOLD if word in told}
    if any(word in told for word in DRAWING):
        said["drawing_came"] = "drawing-came" in told
    for key in ALLOYS:
        if f"named-{key}" in told:
            said["alloy_named"] = key
    return said


def contradicts(told: Collection[str]) -> bool:
    """Whether words are told of which only one can be so."""
    return any(sum(word in told for word in group) > 1 for group in (DRAWING, ALLOY_NAMED))
