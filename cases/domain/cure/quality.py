"""What makes a record of temperatures less than sure, each as one sentence for a person."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from cases.domain.cure.samples import Numbers, Samples
from cases.domain.words import gettext as _
from cases.domain.words import ngettext

# Longer than this between two readings and nobody knows what the bath did. Assumed: a rule of
# this house, from no standard; so are the other limits here.
GAP_S: Final = 300.0
# Far above the hottest hold of any program (``program.HOTTEST_HOLD_C``): all are for water baths.
FAHRENHEIT_ABOVE_C: Final = 130.0
# Water in an open bath boils at 101 °C at the most, and a good thermometer is out by a few kelvin
# there. Judgement: beyond this the unit or the probe is wrong, not the bath.
WATER_NEVER_C: Final = 105.0
STUCK_K: Final = 0.2
STUCK_S: Final = 1800.0
# A bath that only cools or heats never stands still between warm and its set temperature.
STUCK_WARM_C: Final = 40.0
NEAR_K: Final = 2.0
# A regulated bath goes up and down by some tenths of a kelvin within minutes. A record that tells
# less than this apart shows it, and hours of one value then want a second look.
STILL_S: Final = 7200.0
TELLS_APART_K: Final = 0.2
# Many probes tell less apart the hotter they are: what it told in cold water says nothing of 74 °C.
ALIKE_WITHIN_K: Final = 10.0
# Water that boils holds its temperature by itself, at any altitude of a laboratory.
BOILS_FROM_C: Final = 90.0
HOUR_S: Final = 3600.0
CLOCK_SLACK_S: Final = 90.0
JUMP_K: Final = 20.0
"""By so much a bad reading stands off those beside it: no bath moves so far between two readings,
and a record in degrees Fahrenheit climbs past 130 in smaller steps. Judgement: two kilowatts warm
twenty litres by 1.4 K a minute, so within ``GAP_S`` on either side no bath gets there and back."""


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


def standing_off(celsius: Sequence[float] | Numbers) -> tuple[int, ...]:
    """Return the places of readings that stand far off both beside them, and to the same side.

    The first and the last have one beside them only, which a probe that was put into a hot bath or
    taken out of it explains. Whether the readings beside it are near enough in time is not asked.

    Parameters
    ----------
    celsius
        In the order of the record or the other way round, °C.
    """
    told = np.asarray(celsius, dtype=np.float64)
    before, here, after = told[:-2], told[1:-1], told[2:]
    above = here - np.maximum(before, after) >= JUMP_K
    below = np.minimum(before, after) - here >= JUMP_K
    beside_agree = np.abs(before - after) < JUMP_K
    return tuple((np.flatnonzero((above | below) & beside_agree) + 1).tolist())


def gaps(samples: Samples) -> tuple[tuple[float, float], ...]:
    """Return from when until when, in seconds, there are no readings for too long."""
    # Loggers tell an instant to the second: five minutes and a fraction are five minutes.
    long = np.flatnonzero(np.diff(samples.seconds).round() > GAP_S)
    return tuple((float(samples.seconds[n]), float(samples.seconds[n + 1])) for n in long)


def quality(
    samples: Samples, set_c: Sequence[float] = (), *, in_water: bool = True
) -> tuple[Flag, ...]:
    """Say what makes a record less than sure.

    Parameters
    ----------
    samples
        The record.
    set_c
        Temperatures of the program's stages, °C: a bath may stand still at those, but for what
        its probe could have told apart.
    in_water
        Whether the probe was in the water of the bath: inside a flask nothing goes up and down.
    """
    return (
        *_gap_flags(samples),
        *_clock_flags(samples),
        *_jump_flags(samples),
        *_hot_flags(samples, in_water=in_water),
        *_stuck_flags(samples, set_c),
        *(_still_flags(samples, set_c) if in_water else ()),
    )


def _gap_flags(samples: Samples) -> tuple[Flag, ...]:
    found = gaps(samples)
    if not found:
        return ()
    longest = max(until - since for since, until in found) / 60
    words = ngettext(
        "Gap in the record: %(longest)d min without a reading. What the bath did then is not "
        "known; both ends are reckoned.",
        "Gaps in the record: %(count)d times more than %(limit)d min without a reading, the "
        "longest %(longest)d min. What the bath did then is not known; both ends are reckoned.",
        len(found),
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


def _jump_flags(samples: Samples) -> tuple[Flag, ...]:
    """Say of lone readings that were left in: more than a sound probe has, or read so before."""
    steps = np.diff(samples.seconds).round()
    found = [
        n for n in standing_off(samples.celsius) if max(steps[n - 1], steps[n]) <= GAP_S
    ]  # fmt: skip
    if not found:
        return ()
    words = ngettext(
        "One reading stands alone, at %(celsius)s °C, and no bath gets there and back between two "
        "readings: a loose plug, or the probe lifted out? Mend the file, or look at the probe.",
        "%(count)d readings stand alone, the first at %(celsius)s °C, and no bath gets there and "
        "back between two readings: a loose plug, or the probe lifted out? Mend the file, or look "
        "at the probe.",
        len(found),
    ) % {"count": len(found), "celsius": f"{samples.celsius[found[0]]:.1f}"}
    return (Flag("jumps", words),)


def _hot_flags(samples: Samples, *, in_water: bool) -> tuple[Flag, ...]:
    hottest = float(samples.celsius.max())
    if hottest > FAHRENHEIT_ABOVE_C:
        code, words = (
            "fahrenheit",
            _(
                "The record reaches %(hottest)s, which no water bath does. Are these degrees "
                "Fahrenheit? Read it again with that unit."
            ),
        )
    elif in_water and hottest > WATER_NEVER_C:
        code, words = (
            "too_hot",
            _(
                "The record reaches %(hottest)s °C, and water in an open bath is never so hot. "
                "Check the unit and the probe, and whether it lay in the water, before the record "
                "counts."
            ),
        )
    else:
        return ()
    return (Flag(code, words % {"hottest": f"{hottest:.0f}"}),)


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


def _still_flags(samples: Samples, set_c: Sequence[float]) -> tuple[Flag, ...]:
    """Hint at a probe or a logger that may have stood still while the bath was held."""
    told = samples.celsius.round(3)
    breaks = (np.diff(told) != 0) | (np.diff(samples.seconds).round() > GAP_S)
    ends = np.append(np.flatnonzero(breaks), len(told) - 1)
    starts = np.append(0, ends[:-1] + 1)
    lengths = samples.seconds[ends] - samples.seconds[starts]
    held = np.zeros(len(starts), dtype=np.bool_)
    for set_to in set_c:
        held |= (np.abs(told[starts] - set_to) <= NEAR_K) & (set_to < BOILS_FROM_C)
    longest = int(np.argmax(np.where(held, lengths, 0.0)))
    if not held[longest] or lengths[longest] < STILL_S:
        return ()
    stands = float(told[starts[longest]])
    # The first and the last value may be reckoned, where a load began or ended between two.
    near = told[1:-1][np.abs(told[1:-1] - stands) <= ALIKE_WITHIN_K]
    apart = np.diff(np.unique(near)).round(3)
    if not len(apart) or apart.min() >= TELLS_APART_K:
        return ()
    words = _(
        "The record stands at exactly %(celsius)s °C for %(minutes)d min, although it tells "
        "differences of %(apart)s °C: a heated bath goes up and down a little. Look whether the "
        "probe lies in the water, and whether its reading follows when it is lifted out: a logger "
        "may write its last value again and again."
    ) % {
        "celsius": f"{stands:.1f}", "minutes": lengths[longest] / 60,
        "apart": f"{apart.min():.1g}",
    }  # fmt: skip
    return (Flag("still", words, doubts=False),)
