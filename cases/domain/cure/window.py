"""Which part of a record is of one load: heat before it, after it or yet to come does not count.

A logger that runs day and night writes other cures into the same file, and a probe of the next
bath writes a cure much like this one. What lies outside is left out, and said.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from cases.domain.cure.dose import equivalent_minutes
from cases.domain.cure.quality import GAP_S, NEAR_K, Flag
from cases.domain.cure.samples import Samples
from cases.domain.words import gettext as _

EARLY_S: Final = 900.0
LATE_S: Final = 3600.0
"""How far from the program a bath may come to its first stage before it is asked whether the record
is of this bath and this night. A slow bath is late; none is early that was put in cold. Assumed."""
AROUND_S: Final = 3600.0
TOLD_MINUTES: Final = 30.0
"""Equivalent minutes outside from which it is said that they were left out. Assumed."""


@dataclass(frozen=True, slots=True)
class Window:
    """When a load was in its bath, in seconds of the clock of its record.

    Attributes
    ----------
    since_s
        The heating began.
    until_s
        The flasks left the bath; now where they are still in it.
    due_s
        Its program is over.
    reach_s
        By the program the bath comes to the temperature of its first stage.
    """

    since_s: float
    until_s: float
    due_s: float
    reach_s: float

    @property
    def runs(self) -> bool:
        """Whether the program is not over yet."""
        return self.until_s < self.due_s

    def part(self, samples: Samples) -> Samples:
        """Return the readings of the load, with points of its own at both ends.

        Over a gap at an end no such point is made: what a bath did there nobody knows.

        Raises
        ------
        ValueError
            Fewer than two readings are of this time.
        """
        seconds = samples.seconds
        inside = (seconds >= self.since_s) & (seconds <= self.until_s)
        if inside.sum() < 2:
            raise ValueError(
                _(
                    "The record has fewer than two readings while the load was in: send the record "
                    "of this bath and this day."
                )
            )
        first, last = int(np.argmax(inside)), len(seconds) - 1 - int(np.argmax(inside[::-1]))
        begins, ends = float(seconds[first]), float(seconds[last])
        if first and round(seconds[first] - seconds[first - 1]) <= GAP_S:
            begins = self.since_s
        if last + 1 < len(seconds) and round(seconds[last + 1] - seconds[last]) <= GAP_S:
            ends = self.until_s
        return samples.between(begins, ends)

    def near(self, samples: Samples) -> Samples:
        """Return the readings of the load with those of the hour before and after, to be drawn."""
        since, until = self.since_s - AROUND_S, max(self.until_s, self.due_s) + AROUND_S
        shown = (samples.seconds >= since) & (samples.seconds <= until)
        return Samples(samples.seconds[shown], samples.celsius[shown])


def window_flags(samples: Samples, window: Window, first_c: float) -> tuple[Flag, ...]:
    """Say where a record and the time of its load do not meet.

    Parameters
    ----------
    samples
        The whole record.
    first_c
        Temperature of the program's first stage, °C.
    """
    part = window.part(samples)
    return (
        *_runs(window),
        *_uncovered(part, window),
        *_off_course(part, window, first_c),
        *_outside(samples, part),
    )


def _runs(window: Window) -> tuple[Flag, ...]:
    if not window.runs:
        return ()
    words = _(
        "The program had %(minutes)d min to go when this was read: it says how far the cure has "
        "come. Read the whole record once the flasks are out."
    ) % {"minutes": max(1, round((window.due_s - window.until_s) / 60))}
    return (Flag("runs", words),)


def _uncovered(part: Samples, window: Window) -> tuple[Flag, ...]:
    found = []
    late_s = part.start_s - window.since_s
    if round(late_s) > GAP_S:
        words = _(
            "The record begins %(minutes)d min after the heating. What the bath did before is not "
            "known, and nothing is credited for it."
        )
        found.append(Flag("begins_late", words % {"minutes": round(late_s / 60)}))
    short_s = min(window.until_s, window.due_s) - part.end_s
    if round(short_s) > GAP_S:
        words = _(
            "The record ends %(minutes)d min too soon. What the bath did after is not known, and "
            "nothing is credited for it."
        )
        found.append(Flag("ends_early", words % {"minutes": round(short_s / 60)}))
    return tuple(found)


def _off_course(part: Samples, window: Window, first_c: float) -> tuple[Flag, ...]:
    reached = part.first_reached(first_c, NEAR_K, part.start_s)
    begins_late = round(part.start_s - window.since_s) > GAP_S
    if reached is None or (begins_late and reached == part.start_s):
        return ()
    ahead = window.reach_s - reached
    if -LATE_S <= ahead <= EARLY_S:
        return ()
    told = {"celsius": f"{first_c:g}", "minutes": round(abs(ahead) / 60)}
    words = (
        _(
            "The bath comes to %(celsius)s °C %(minutes)d min before the program does. Is it the "
            "record of this bath and this day, is the logger's clock right, was the bath hot "
            "already?"
        )
        if ahead > 0
        else _(
            "The bath comes to %(celsius)s °C %(minutes)d min after the program does. Is it the "
            "record of this bath and this day, and is the logger's clock right?"
        )
    )
    return (Flag("off_course", words % told),)


def _outside(samples: Samples, part: Samples) -> tuple[Flag, ...]:
    found = []
    if samples.start_s < part.start_s:
        before = equivalent_minutes(samples.between(samples.start_s, part.start_s))
        if before > TOLD_MINUTES:
            found.append(
                _("The record also shows heat from before the load's heating. It is left out.")
            )
    if samples.end_s > part.end_s:
        after = equivalent_minutes(samples.between(part.end_s, samples.end_s))
        if after > TOLD_MINUTES:
            found.append(
                _("The record also shows heat from after the flasks were out. It is left out.")
            )
    return tuple(Flag("outside", words, doubts=False) for words in found)
