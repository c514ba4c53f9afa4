"""Does a bath heat as its program asks? Its readings are held against the course expected of it.

Two readings decide. A feed faster than one reading a minute is thinned to that, for in a few
seconds no bath shows whether it heats; a reading that is far from the one before counts at once.
A bath that keeps its heat well falls from minute to minute by less than a probe can show. At a hold
the readings are therefore looked at a second time, about five minutes apart and each as the middle
one of three neighbours, so that no single reading speaks.
What a thermostat swings by is learnt: only what is colder than that is a failure, and a bath whose
swing was told once is not told of it again.
All limits here are assumed, from no standard: tight enough that a heater which stops is named at
the second reading, wide enough for a thermostat that swings by half a kelvin, and by 0.8 K from the
beginning.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from math import inf
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
SLOW_APART_MINUTES: Final = 5.0
# A fall may be the first swing of a thermostat that nobody has seen swing yet. A bath whose fall
# shows from minute to minute has swung after a quarter of an hour, a slow one after three.
FIRST_SWING_K: Final = 0.9
FAST_SWINGS_MINUTES: Final = 15.0
SLOW_SWINGS_MINUTES: Final = 45.0
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


@dataclass(slots=True)
class _Hold:
    """What was seen of a bath in the stage that runs.

    Attributes
    ----------
    since
        The minute at which it was first near its set temperature; None before.
    lows
        Minutes of the readings there that did not rise, and the coldest of them until then.
    coldest
        Since something is wrong.
    """

    since: float | None = None
    lows: list[tuple[float, float]] = field(default_factory=list)
    coldest: float = 0.0

    @property
    def reached(self) -> bool:
        return self.since is not None

    def swing(self, minute: float, known_after: float) -> float:
        """Return by how much a sound bath may be below its set temperature."""
        known = self.since is not None and minute - self.since >= known_after
        return SWING_K if known else FIRST_SWING_K

    def settle(self, minute: float, celsius: float) -> None:
        self.lows.append((minute, min(celsius, self.lows[-1][1]) if self.lows else celsius))

    def coldest_until(self, minute: float) -> float:
        known = bisect_right(self.lows, minute, key=_minute)
        return self.lows[known - 1][1] if known else inf


def _trouble(program: Program, parts: tuple[Part, ...], counted: Readings) -> Finding | None:
    """Go through the readings; return what is wrong at the last of them."""
    wrong: Finding | None = None
    seen, stage = _Hold(), -1
    for n, (minute, celsius) in enumerate(counted):
        due = _due(program, parts, minute)
        if due is None:
            continue
        if due.stage != stage:
            wrong, seen, stage = None, _Hold(), due.stage
        set_c, hold = due.part.celsius, due.part.kind == "hold"
        if seen.since is None and celsius >= set_c - NEAR_K:
            seen.since = minute
        if n < 2:
            continue
        last_three = counted[n - 2 : n + 1]
        seen.coldest = min(seen.coldest, celsius)
        if wrong is not None and _heats(last_three, due, seen.coldest):
            wrong = None
            # Where it never left its stage that was a swing, which is not told a second time.
            swung = seen.coldest >= set_c - NEAR_K
            seen.lows = [(minute, seen.coldest)] if swung else []
        elif wrong is None:
            kind = _fault(last_three, due, seen) or _slow_fault(counted, n, due, seen)
            wrong = Finding(kind, stage, set_c, minute) if kind else None
            seen.coldest = celsius
        if wrong is None and hold and seen.reached and celsius - counted[n - 1][1] < SEEN_K:
            seen.settle(minute, celsius)
    return wrong


def _fault(last: Readings, due: _Due, seen: _Hold) -> Kind | None:
    (begun, first), (_minute, here), (minute, there) = last
    set_c = due.part.celsius
    if there < set_c - NEAR_K:
        by_hand = begun < due.begins or minute < due.begins + HANDS_MINUTES
        asked = max(SEEN_K, due.rise_k_per_minute * LEAST_SHARE * (minute - begun))
        if (by_hand and not seen.reached) or there - first >= asked or there - here >= SEEN_K:
            return None
        if not seen.reached:
            return "not-rising"
        # One reading by itself may be a probe that was lifted.
        return "dropping" if here <= first - SEEN_K or here < set_c - NEAR_K else None
    # Not far off yet, but lower at both readings, and lower than ever since it settled.
    earlier = seen.lows[-2][1] - SEEN_K if len(seen.lows) > 1 else first
    lowest = min(set_c - seen.swing(minute, FAST_SWINGS_MINUTES), earlier)
    if due.part.kind == "hold" and seen.reached and _falls(first, here, there) and there < lowest:
        return "dropping"
    return None


def _slow_fault(counted: Readings, n: int, due: _Due, seen: _Hold) -> Kind | None:
    """Look at a hold from five minutes to five minutes; None where the feed is as slow itself."""
    if due.part.kind != "hold" or seen.since is None:
        return None
    minute = counted[n][0]
    here, first = (_last_by(counted, n, minute - k * SLOW_APART_MINUTES) for k in (1, 2))
    if here > n - 2 or first < 2 or counted[first - 2][0] < seen.since:
        return None
    limit = due.part.celsius - seen.swing(minute, SLOW_SWINGS_MINUTES)
    lowest = min(limit, seen.coldest_until(counted[first][0]) - SEEN_K)
    middles = [_middle(counted, at) for at in (first, here, n)]
    return "dropping" if _falls(*middles) and middles[-1] < lowest else None


def _last_by(counted: Readings, n: int, minute: float) -> int:
    """Return which reading before the ``n``-th came last by a minute, to a few seconds."""
    return bisect_right(counted, minute + (1 - APART_MINUTES), hi=n, key=_minute) - 1


def _minute(reading: tuple[float, float]) -> float:
    return reading[0]


def _middle(counted: Readings, at: int) -> float:
    return median(celsius for _minute, celsius in counted[at - 2 : at + 1])


def _falls(first: float, here: float, there: float) -> bool:
    return here <= first - SEEN_K and there <= here - SEEN_K


def _heats(last: Readings, due: _Due, coldest: float) -> bool:
    first, here, there = (celsius for _minute, celsius in last)
    rises = here >= first + SEEN_K and there >= here + SEEN_K
    near = there >= due.part.celsius - HEATS_AGAIN_K
    return rises or (near and min(here, there) >= coldest + 2 * SEEN_K)
