"""Readings that no water bath has, alone among sound ones: a loose plug, a slip of the key.

Either no water bath is so hot or so cold, or none gets there and back between two readings. They
are named by their row and left out only as a person says so. Where there are many, or where the
line climbs up to them, it is the unit or the probe that is wrong, and the whole record with it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from cases.domain.cure.quality import FAHRENHEIT_ABOVE_C, JUMP_K
from cases.domain.cure.samples import COLDEST_C
from cases.domain.words import gettext as _

MOST_BAD: Final = 2
"""More bad readings than this are no slip of a sound probe. Judgement."""
LEAST_SOUND: Final = 10
"""So many sound readings there have to be for each bad one. Judgement."""


@dataclass(frozen=True, slots=True)
class BadReading:
    """A reading that stands alone, as the file has it.

    Attributes
    ----------
    row
        Of the table, from 1.
    at, cell
        What its cells say of the instant and of the temperature.
    before, after
        The temperature of the nearest sound readings; empty at an end of the record.
    """

    row: int
    at: str
    cell: str
    before: str
    after: str

    @property
    def words(self) -> str:
        """The fact as a sentence."""
        told = {
            "row": self.row, "at": self.at[:40], "cell": self.cell[:40],
            "before": self.before[:40], "after": self.after[:40],
        }  # fmt: skip
        if self.before and self.after:
            words = _(
                "Row %(row)d (%(at)s) says “%(cell)s” between “%(before)s” and “%(after)s”, which "
                "no water bath does."
            )
        elif self.before:
            words = _(
                "Row %(row)d (%(at)s), the last, says “%(cell)s” after “%(before)s”, which no "
                "water bath does."
            )
        else:
            words = _(
                "Row %(row)d (%(at)s), the first, says “%(cell)s” before “%(after)s”, which no "
                "water bath does."
            )
        return words % told


class BadReadings(ValueError):
    """A record has bad readings that nobody said to leave out; the sentence names their rows."""

    def __init__(self, found: Sequence[BadReading]) -> None:
        facts = " ".join(one.words for one in found)
        super().__init__(
            _("%(facts)s Leave that out, or mend the record and send it again.") % {"facts": facts}
        )


def alone(celsius: Sequence[float]) -> tuple[int, ...]:
    """Return the places of one or two readings that no water bath has, among sound ones.

    Parameters
    ----------
    celsius
        In the order of the record or the other way round, °C.
    """
    told = np.asarray(celsius, dtype=np.float64)
    bad = np.flatnonzero((told > FAHRENHEIT_ABOVE_C) | (told < COLDEST_C))
    if not few(bad.tolist(), len(told)):
        return ()
    sound = np.setdiff1d(np.arange(len(told)), bad)
    for place in bad:
        beside = [told[n] for n in neighbours(int(place), sound.tolist()) if n is not None]
        if any(abs(told[place] - one) < JUMP_K for one in beside):
            return ()
    return tuple(int(place) for place in bad)


def few(places: Sequence[int], count: int) -> bool:
    """Tell whether bad readings are few enough for the others, of ``count`` in all, to be sound."""
    return 0 < len(places) <= min(MOST_BAD, (count - len(places)) // LEAST_SOUND)


def neighbours(place: int, sound: Sequence[int]) -> tuple[int | None, int | None]:
    """Return the nearest sound places before and after one; None where there is none."""
    at = int(np.searchsorted(np.asarray(sound), place))
    return (sound[at - 1] if at else None), (sound[at] if at < len(sound) else None)
