"""Numbers with a meaning: what may stand for a length or a load, and bands from low to high."""

from __future__ import annotations

from dataclasses import dataclass
from math import isfinite

from cases.domain.words import gettext as _


@dataclass(frozen=True, slots=True)
class Band:
    """What a value may be, from ``low`` to ``high``, both in the unit that the name says."""

    low: float
    high: float

    @property
    def middle(self) -> float:
        """Half-way between the ends."""
        return (self.low + self.high) / 2

    def times(self, factor: float) -> Band:
        """Return the band of what grows in proportion; the factor is zero or more."""
        return Band(self.low * factor, self.high * factor)


def _is_number(value: object) -> bool:
    return (
        isinstance(value, (int, float)) and not isinstance(value, bool) and isfinite(float(value))
    )


def above_zero(what: str, value: float) -> float:
    """Return a number that has to be greater than zero.

    Parameters
    ----------
    what
        What it is, in the reader's language, to begin the refusal with.

    Raises
    ------
    ValueError
        It is zero, negative, infinite or no number.
    """
    if not _is_number(value) or value <= 0:
        raise ValueError(
            _("%(what)s has to be a number above zero, not %(value)s.")
            % {"what": what, "value": value}
        )
    return float(value)


def zero_or_more(what: str, value: float) -> float:
    """Return a number that must not be negative.

    Raises
    ------
    ValueError
        It is negative, infinite or no number.
    """
    if not _is_number(value) or value < 0:
        raise ValueError(
            _("%(what)s has to be a number, zero or more, not %(value)s.")
            % {"what": what, "value": value}
        )
    return float(value)
