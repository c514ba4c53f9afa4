"""Does a bath heat as its program asks? Its readings are held against the course expected of it.

Two readings decide. A feed faster than one reading a minute is thinned to that, for in a few
seconds no bath shows whether it heats; a reading that is far from the one before counts at once.
All limits here are assumed, from no standard: tight enough that a heater which stops is named at
the second reading, wide enough for a thermostat that swings by half a kelvin.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from statistics import median
from typing import Final, Literal

from cases.domain.cure.course import Part, in_the_bath, part_at
from cases.domain.cure.program import ROOM_C, Program
from cases.domain.cure.quality import NEAR_K

Kind = Literal["not-rising", "dropping", "silent"]
Readings = Sequence[tuple[float, float]]

APART_MINUTES: Final = 50 / 60
FAR_K: Final = 2.0
# What a probe that reads to a tenth shows for certain.
SEEN_K: Final = 0.2
SWING_K: Final = 0.5
HEATS_AGAIN_K: Final = 1.0
# A bath that rises by less than this share of what the program asks does not heat.
LEAST_SHARE: Final = 0.1
# Of a program that names no rise.
USUAL_RISE_K_PER_MINUTE: Final = 1.0
# From when a rise is due until hands have turned the bath up and the water shows it.
HANDS_MINUTES: Final = 5.0
SHORTEST_STEP, LONGEST_STEP = 1.0, 15.0
"""Minutes between two readings, as far as silence is concerned."""
ON_THE_WAY_MINUTES: Final = 1.0
NO_READING_MINUTES: Final = 10.0


@dataclass(frozen=True, slots=True)
class Finding:
    """What is wrong with a bath.

    Attributes
    ----------
    kind
        ``not-rising`` on the way up, ``dropping`` at a hold, ``silent`` when nothing comes in.
    stage, celsius
        Number of the program's stage, from 0, and its temperature.
    since
        Minutes after the heating began: of the reading that showed it, or the last before the
        silence. The same as long as the same trouble lasts.
    """

    kind: Kind
    stage: int
    celsius: float
    since: float


@dataclass(frozen=True, slots=True)
class _Due:
    """What is asked of a bath at some minute."""

    stage: int
    part: Part
    begins: float
    rise_k_per_minute: float


def watch(
    program: Program, minutes: float, readings: Readings, now_minute: float
) -> Finding | None:
    """Say what is wrong with a bath, or None.

    Parameters
    ----------
    program
        As it runs at the lab's altitude.
    minutes
        From the beginning of the heating until the flasks are to be taken out.
    readings
        Minutes after the heating began and °C, in order of time.
    now_minute
        Minutes after the heating began.
    """
    parts = in_the_bath(program, minutes)
    due = _due(program, parts, now_minute)
    if due is None:
        return None
    heard = [one for one in readings if 0 <= one[0] <= now_minute]
    silence = _silent_since(heard, now_minute)
    if silence is not None:
        return Finding("silent", due.stage, due.part.celsius, silence)
    return _trouble(program, parts, _counted(heard))


def _due(program: Program, parts: tuple[Part, ...], minute: float) -> _Due | None:
    part = part_at(parts, minute) if minute >= 0 else None
    if part is None:
        return None
    place = parts.index(part)
    stage = sum(one.kind == "hold" for one in parts[:place])
    begins = parts[place - 1].ends if place else 0.0
    ramp = program.stages[stage].ramp_minutes
    before = program.stages[stage - 1].celsius if stage else ROOM_C
    rise = (part.celsius - before) / ramp if ramp else USUAL_RISE_K_PER_MINUTE
    return _Due(stage, part, begins, rise)


def _silent_since(heard: Readings, now: float) -> float | None:
    if not heard:
        return 0.0 if now > NO_READING_MINUTES else None
    late = heard[-10:]
    steps = [there[0] - here[0] for here, there in pairwise(late)]
    usual = min(max(median(steps), SHORTEST_STEP), LONGEST_STEP) if steps else LONGEST_STEP
    return heard[-1][0] if now - heard[-1][0] > 2 * usual + ON_THE_WAY_MINUTES else None


def _counted(heard: Readings) -> list[tuple[float, float]]:
    """Return the readings that decide, chosen from the first on, so that none is chosen anew."""
    found: list[tuple[float, float]] = []
    for minute, celsius in heard:
        if (
            not found
            or minute - found[-1][0] >= APART_MINUTES
            or abs(celsius - found[-1][1]) >= FAR_K
        ):
            found.append((minute, celsius))
    return found


def _trouble(program: Program, parts: tuple[Part, ...], counted: Readings) -> Finding | None:
    """Go through the readings; return what is wrong at the last of them."""
    wrong: Finding | None = None
    settled: list[float] = []
    reached, stage = False, -1
    for n, (minute, celsius) in enumerate(counted):
        due = _due(program, parts, minute)
        if due is None:
            continue
        if due.stage != stage:
            wrong, reached, settled, stage = None, False, [], due.stage
        set_c, hold = due.part.celsius, due.part.kind == "hold"
        reached = reached or celsius >= set_c - NEAR_K
        if n < 2:
            continue
        last_three = counted[n - 2 : n + 1]
        if wrong is not None and _heats(last_three, due):
            wrong = None
            settled.clear()
        elif wrong is None:
            kind = _fault(last_three, due, reached, settled)
            wrong = Finding(kind, stage, set_c, minute) if kind else None
        if wrong is None and hold and reached and celsius - counted[n - 1][1] < SEEN_K:
            settled.append(celsius)
    return wrong


def _fault(last: Readings, due: _Due, reached: bool, settled: Sequence[float]) -> Kind | None:
    (begun, first), (_minute, here), (minute, there) = last
    set_c = due.part.celsius
    if there < set_c - NEAR_K:
        by_hand = begun < due.begins or minute < due.begins + HANDS_MINUTES
        asked = max(SEEN_K, due.rise_k_per_minute * LEAST_SHARE * (minute - begun))
        if (by_hand and not reached) or there - first >= asked or there - here >= SEEN_K:
            return None
        if not reached:
            return "not-rising"
        # One reading by itself may be a probe that was lifted.
        return "dropping" if here <= first - SEEN_K or here < set_c - NEAR_K else None
    # Not far off yet, but lower at both readings, and lower than ever since it settled.
    earlier = settled[:-1] or [first]
    falls = here <= first - SEEN_K and there <= here - SEEN_K
    if due.part.kind == "hold" and reached and falls and there < min(set_c - SWING_K, *earlier):
        return "dropping"
    return None


def _heats(last: Readings, due: _Due) -> bool:
    first, here, there = (celsius for _minute, celsius in last)
    rises = here >= first + SEEN_K and there >= here + SEEN_K
    return rises or there >= due.part.celsius - HEATS_AGAIN_K
