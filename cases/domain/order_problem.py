"""What is wrong with an order or missing from it, as the rules say it and the desk shows it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal


@dataclass(frozen=True)
class Problem:
    """One thing wrong with an order or missing from it.

    Attributes
    ----------
    field : str
        Name of the entry in `OrderForm`; ``items.0.taken_at`` for the first item.
    sentence : str
        The fact and the next step.
    question : int | None
        Number of the question to ask the practice, where one fits.
    kind : "error" | "missing"
        An error must be put right before the case is logged. A missing thing is asked for.
    stops : tuple[str, ...]
        Stages that wait for a missing thing; empty: it is asked, and nothing waits.
    hold_reason : str
        Key of the hold list, for a missing thing.
    asks : str
        What the practice is asked instead, in words for it, where no listed question fits.
        Without a question and without words nothing is asked: it is promised already, or the
        laboratory's own to find out.
    """

    field: str
    sentence: str
    question: int | None = None
    kind: Literal["error", "missing"] = "error"
    stops: tuple[str, ...] = ()
    hold_reason: str = ""
    asks: str = ""

    @property
    def is_error(self) -> bool:
        """Whether it must be put right before the case can be logged."""
        return self.kind == "error"


def missing(
    field: str,
    sentence: str,
    *,
    question: int | None = None,
    stops: tuple[str, ...] = (),
    reason: str = "answer",
    asks: str = "",
) -> Problem:
    """Make the problem of a missing thing."""
    return Problem(field, sentence, question, "missing", stops, reason, asks)
