"""The night in which the clock goes forward: an hour that a record on the wall does not have."""

from __future__ import annotations

from bisect import bisect_left
from datetime import datetime, timedelta

import numpy as np

from cases.domain.cure.samples import Samples


def on_the_wall(samples: Samples, started: datetime) -> Samples:
    """Return a record on the wall's clock in seconds that went by; itself where none was left out.

    Where the clock goes forward between two readings, what it left out is taken off all later ones.
    A logger that was left on winter time has readings inside the missing hour: its seconds went by.

    Parameters
    ----------
    samples
        Seconds on the wall's clock from the first reading.
    started
        The first reading, in the zone of the wall.

    Notes
    -----
    A time without readings that holds the missing hour is taken for the wall's clock: what is
    credited then is rather too little. Records of half a year and more are not looked into.
    """

    def ahead(second: float) -> timedelta:
        # What the clock leaves out is, for the first of its two readings, still winter time.
        instant = (started + timedelta(seconds=second)).replace(fold=0)
        return instant.utcoffset() or timedelta()

    before = ahead(samples.start_s)
    missing = ahead(samples.end_s) - before
    if missing <= timedelta():
        return samples
    seconds = samples.seconds
    later = bisect_left(range(len(seconds)), True, key=lambda n: ahead(float(seconds[n])) > before)
    last = started + timedelta(seconds=float(seconds[later - 1]))
    if last.replace(fold=1).utcoffset() != before:
        return samples
    lost = np.where(np.arange(len(seconds)) >= later, missing.total_seconds(), 0.0)
    return Samples(seconds - lost, samples.celsius)
