"""How long a new piece lay in water before it was packed, in words for the papers.

A day in water at room temperature lowers what is left of the monomer (abstract of one study,
read at scite.ai; the day is usual, the limit soft). A van that is due may shorten it, and the
paper then says so.
"""

from __future__ import annotations

from cases.domain.words import gettext as _


def say_span(minutes: float) -> str:
    """Write a length of time: "5 h", "40 min"."""
    if minutes < 60:
        return _("%(minutes)d min") % {"minutes": max(0, round(minutes))}
    return _("%(hours)d h") % {"hours": int(minutes // 60)}


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
        return _("Not laid in water before it left: %(why)s") % {"why": why}
    return _("Lay in water %(lay)s instead of %(usual)s: %(why)s") % {
        "lay": say_span(lay),
        "usual": say_span(usual),
        "why": why,
    }
