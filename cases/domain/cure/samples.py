"""A record of temperatures as numbers: instants in seconds, degrees Celsius, linear between."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import chain
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from cases.domain.words import gettext as _

Numbers = NDArray[np.float64]
Points = Sequence[tuple[float, float]]

# What no bath and no dough ever is. Assumed: wide enough for a Fahrenheit record to be read and
# then asked about, narrow enough that a broken probe's 999 is refused.
COLDEST_C: Final = -50.0
HOTTEST_C: Final = 250.0


@dataclass(frozen=True, slots=True, eq=False)
class Samples:
    """A checked record.

    Attributes
    ----------
    seconds : shape (n,)
        Never falling. Twice the same instant is a jump.
    celsius : shape (n,)
    """

    seconds: Numbers
    celsius: Numbers

    @property
    def points(self) -> tuple[tuple[float, float], ...]:
        """The record as pairs."""
        return tuple(zip(self.seconds.tolist(), self.celsius.tolist(), strict=True))

    @property
    def start_s(self) -> float:
        """First instant."""
        return float(self.seconds[0])

    @property
    def end_s(self) -> float:
        """Last instant."""
        return float(self.seconds[-1])

    def at(self, instant_s: float) -> float:
        """Return the temperature at an instant, °C; outside the record that of its end."""
        return float(np.interp(instant_s, self.seconds, self.celsius))

    def between(self, from_s: float, until_s: float) -> Samples:
        """Return the part from one instant to a later one, with points of its own at both.

        At a jump the part before it ends below, the part after it begins above.
        """
        first = int(np.searchsorted(self.seconds, from_s, side="left"))
        last = int(np.searchsorted(self.seconds, until_s, side="right"))
        seconds, celsius = self.seconds[first:last], self.celsius[first:last]
        if not len(seconds) or seconds[0] > from_s:
            seconds = np.concatenate(([from_s], seconds))
            celsius = np.concatenate(([self.at(from_s)], celsius))
        if seconds[-1] < until_s:
            seconds = np.concatenate((seconds, [until_s]))
            celsius = np.concatenate((celsius, [self.at(until_s)]))
        return Samples(seconds, celsius)

    def clipped(self, ceiling_c: float) -> Samples:
        """Return the record with everything above a temperature cut down to it.

        Where the line crosses the ceiling it gets a point, so that ramps keep their shape below.
        """
        seconds, celsius = self.seconds, self.celsius
        before, after = celsius[:-1] - ceiling_c, celsius[1:] - ceiling_c
        crossing = np.flatnonzero(before * after < 0)
        share = before[crossing] / (before[crossing] - after[crossing])
        instants = seconds[crossing] + share * (seconds[crossing + 1] - seconds[crossing])
        return Samples(
            np.insert(seconds, crossing + 1, instants),
            np.minimum(np.insert(celsius, crossing + 1, ceiling_c), ceiling_c),
        )

    def shifted(self, kelvin: float) -> Samples:
        """Return the record as it were if every reading stood so much higher."""
        return Samples(self.seconds, self.celsius + kelvin)

    def first_reached(self, celsius: float, within_k: float, after_s: float) -> float | None:
        """Return the first instant from ``after_s`` on at which the line is near a temperature.

        A line that jumps over it, or already is beyond, does not count: None where it never is.
        """
        part = self.between(after_s, self.end_s) if after_s < self.end_s else None
        if part is None:
            near = abs(self.at(after_s) - celsius) <= within_k
            return after_s if near else None
        here, there = part.celsius[:-1], part.celsius[1:]
        low, high = celsius - within_k, celsius + within_k
        touches = (np.minimum(here, there) <= high) & (np.maximum(here, there) >= low)
        found = np.flatnonzero(touches)
        if not len(found):
            return None
        n = int(found[0])
        start, end = float(here[n]), float(there[n])
        if low <= start <= high:
            return float(part.seconds[n])
        edge = low if start < low else high
        share = (edge - start) / (end - start)
        return float(part.seconds[n] + share * (part.seconds[n + 1] - part.seconds[n]))


def _numbers(trace: Any) -> NDArray[Any] | None:
    """Return a table of numbers, or None for what cannot be read as one."""
    try:
        if isinstance(trace, np.ndarray):
            return np.asarray(trace, dtype=np.float64)
        # Words that look like numbers come from a file that nobody has read properly yet.
        if isinstance(trace[0], str) or any(isinstance(value, str) for value in trace[0]):
            return None
        if set(map(len, trace)) != {2}:
            return None
        # One flat reading of a day's seconds takes a third of what an array of pairs does.
        flat = np.fromiter(chain.from_iterable(trace), np.float64, 2 * len(trace))
        return flat.reshape(-1, 2)
    except (TypeError, ValueError, OverflowError, LookupError):
        return None


def checked(trace: Points | Samples) -> Samples:
    """Return a record as numbers, having refused what can be none.

    Parameters
    ----------
    trace
        Pairs of seconds and °C. The same instant twice is a jump.

    Raises
    ------
    ValueError
        Fewer than two readings, a value that is no finite number, time that runs backwards or
        not at all, or a temperature that no bath has. The sentence says which and where.
    """
    if isinstance(trace, Samples):
        return trace
    table = _numbers(trace)
    if table is None or table.ndim != 2 or table.shape[1] != 2 or len(table) < 2:
        raise ValueError(
            _(
                "This is no record of temperatures: it takes two readings or more, each of an "
                "instant in seconds and degrees Celsius."
            )
        )
    seconds, celsius = np.ascontiguousarray(table[:, 0]), np.ascontiguousarray(table[:, 1])
    _refuse(~np.isfinite(table).all(axis=1), _("Reading %(number)d is no number."))
    back = np.diff(seconds, prepend=seconds[0]) < 0
    _refuse(
        back,
        _(
            "Time runs backwards at reading %(number)d. Was the clock changed, or are the rows "
            "out of order?"
        ),
    )
    if seconds[-1] == seconds[0]:
        raise ValueError(
            _("All readings are of one instant: send the whole record, from cold to the end.")
        )
    _refuse(
        (celsius < COLDEST_C) | (celsius > HOTTEST_C),
        _(
            "Reading %(number)d is a temperature that no bath has: take such rows out of the file, "
            "or send the record of a sound probe."
        ),
    )
    return Samples(seconds, celsius)


def _refuse(wrong: NDArray[np.bool_], sentence: str) -> None:
    if wrong.any():
        raise ValueError(sentence % {"number": int(np.argmax(wrong)) + 1})


def resampled(trace: Points | Samples, every_s: float) -> tuple[tuple[float, float], ...]:
    """Return a record read off its line at even steps, the last instant always among them.

    Parameters
    ----------
    every_s
        Seconds from one reading to the next, above zero.

    Raises
    ------
    ValueError
        The record is none, or the step is not above zero or gives over a million readings.
    """
    samples = checked(trace)
    length = samples.end_s - samples.start_s
    if not (np.isfinite(every_s) and every_s > 0 and length / every_s <= 1_000_000):
        raise ValueError(_("A step between readings is a number of seconds above zero."))
    instants = samples.start_s + every_s * np.arange(int(length / every_s) + 1)
    if instants[-1] < samples.end_s:
        instants = np.append(instants, samples.end_s)
    celsius = np.interp(instants, samples.seconds, samples.celsius)
    return tuple(zip(instants.tolist(), celsius.tolist(), strict=True))
