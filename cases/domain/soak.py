"""How long a new piece lay in water before it was packed, in words for the papers.

A day in water at room temperature lowers what is left of the monomer (abstract of one study,
read at scite.ai; the day is usual, the limit soft). A van that is due may shorten it, and the
paper then says so.
"""

from __future__ import annotations


def say_span(minutes: float) -> str:
    """Write a length of time: "5 h", "40 min"."""
    if minutes < 60:
        return f"{max(0, round(minutes))} min"
    return f"{int(minutes // 60)} h"


def soak_words(lay: float | None, usual: float, why: str) -> str:
    """Say that a piece lay in water for less than usual, and why.

    Parameters
    ----------
    lay
        Minutes in water; None where it was not put in water at all.
    usual
        The lab's usual minutes.
    why
        The words of whoever decided.
    """
    if lay is None:
        return f"Not laid in water before it left: {why}"
    return f"Lay in water {say_span(lay)} instead of {say_span(usual)}: {why}"
