"""What makes a record of temperatures less than sure, each as one sentence for a person."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from cases.domain.cure.samples import Numbers, Samples
from cases.domain.words import gettext as _

# Longer than this between two readings and nobody knows what the bath did. Assumed: a rule of
# this house, from no standard; so are the other limits here.
GAP_S: Final = 300.0
FAHRENHEIT_ABOVE_C: Final = 130.0
STUCK_K: Final = 0.2
STUCK_S: Final = 1800.0
# A bath that only cools or heats never stands still between warm and its set temperature.
STUCK_WARM_C: Final = 40.0
NEAR_K: Final = 2.0
HOUR_S: Final = 3600.0
CLOCK_SLACK_S: Final = 90.0


@dataclass(frozen=True, slots=True)
class Flag:
    """One thing about a record.

    Attributes
    ----------
    code
        As a screen or a later program tells it apart.
    words
        The fact and the next step.
    doubts
        Whether the record can then be no better than doubtful.
    """

    code: str
    words: str
    doubts: bool = True


def gaps(samples: Samples) -> tuple[tuple[float, float], ...]:
    """Return from when until when, in seconds, there are no readings for too long."""
    # Loggers tell an instant to the second: five minutes and a fraction are five minutes.
    long = np.flatnonzero(np.diff(samples.seconds).round() > GAP_S)
    return tuple((float(samples.seconds[n]), float(samples.seconds[n + 1])) for n in long)


def quality(samples: Samples, set_c: Sequence[float] = ()) -> tuple[Flag, ...]:
    """Say what makes a record less than sure.

    Parameters
    ----------
    samples
        The record.
    set_c
        Temperatures of the program's stages, °C: a bath may stand still at those.
    """
    return (
        *_gap_flags(samples),
        *_clock_flags(samples),
        *_fahrenheit_flags(samples),
        *_stuck_flags(samples, set_c),
    )


def _gap_flags(samples: Samples) -> tuple[Flag, ...]:
    found = gaps(samples)
    if not found:
        return ()
    longest = max(until - since for since, until in found) / 60
    words = _(
        "Gap in the record: %(count)d times more than %(limit)d min without a reading, the "
        "longest %(longest)d min. What the bath did then is not known; both ends are reckoned."
    ) % {"count": len(found), "limit": GAP_S / 60, "longest": round(longest)}
    return (Flag("gap", words),)


def _clock_flags(samples: Samples) -> tuple[Flag, ...]:
    steps: Numbers = np.diff(samples.seconds)
    usual = float(np.median(steps))
    if usual > GAP_S:
        return ()
    jumped = np.abs(steps - HOUR_S - usual) <= CLOCK_SLACK_S
    still = np.abs(np.diff(samples.celsius)) <= NEAR_K
    if not (jumped & still).any():
        return ()
    words = _(
        "The clock of the logger seems to have jumped by one hour: the bath was as warm after it "
        "as before. Compare the times with another clock before the record is judged."
    )
    return (Flag("clock_change", words),)


def _fahrenheit_flags(samples: Samples) -> tuple[Flag, ...]:
    hottest = float(samples.celsius.max())
    if hottest <= FAHRENHEIT_ABOVE_C:
        return ()
    words = _(
        "The record reaches %(hottest)s, which no water bath does. Are these degrees Fahrenheit? "
        "Read it again with that unit."
    ) % {"hottest": f"{hottest:.0f}"}
    return (Flag("fahrenheit", words),)


def _stuck_flags(samples: Samples, set_c: Sequence[float]) -> tuple[Flag, ...]:
    celsius = samples.celsius
    if float(np.ptp(celsius)) <= STUCK_K:
        words = _(
            "The record stands at %(celsius)s °C to within %(within)s °C from end to end: a stuck "
            "probe? Nothing shows that the bath was ever heated."
        ) % {"celsius": f"{celsius.mean():.1f}", "within": STUCK_K}
        return (Flag("stuck", words),)
    start = 0
    for n in range(1, len(celsius) + 1):
        if n < len(celsius) and abs(celsius[n] - celsius[start]) <= STUCK_K:
            continue
        length = float(samples.seconds[n - 1] - samples.seconds[start])
        stands = float(celsius[start])
        away = all(abs(stands - set_to) > NEAR_K for set_to in set_c)
        between = bool(set_c) and STUCK_WARM_C < stands < max(set_c)
        if length >= STUCK_S and away and between:
            words = _(
                "The record stands still at %(celsius)s °C for %(minutes)d min, which is no "
                "temperature of the program: a stuck probe?"
            ) % {"celsius": f"{stands:.1f}", "minutes": length / 60}
            return (Flag("stuck", words),)
        start = n
    return ()
