"""Measure what a cure asks of the machine: dose, risk band, timers, feed. By ``make bench``.

On a scratch database that is removed afterwards: SQLite, or the PostgreSQL of
``LABFLOW_DATABASE``. Prints medians and ratios against a baseline in the same run. Never a test:
a busy machine is slow, not wrong.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from datetime import timedelta
from pathlib import Path
from statistics import median
from typing import Any

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from benchmarks.pages import say, scratch

DAY_S, NIGHT_MINUTES = 86_400, 510
DOSE_AIM, BAND_AIM, SWEEP_AIM = 50.0, 600.0, 200.0
"""Wished for, milliseconds: dose of a day at a reading a second, four scenarios, a sweep."""
TIMERS, DUE = 1000, 10


Took = tuple[float, float]
"""Milliseconds of the wall's clock, and of the processor in this process: on a busy machine the
second says more."""


def middle(work: Callable[[], object], runs: int) -> Took:
    """Return the middle times of some runs."""
    walls, own = [], []
    for _ in range(runs):
        began, used = time.perf_counter(), time.process_time()
        work()
        walls.append((time.perf_counter() - began) * 1000)
        own.append((time.process_time() - used) * 1000)
    return median(walls), median(own)


def told(what: str, took: Took, bare: Took, aim: float | None = None) -> None:
    """Print a time with its ratio to the baseline, and what is wished for."""
    wished = f"  (aim {aim:g} ms)" if aim else ""
    ratio = took[0] / bare[0]
    say(f"  {what:52} {took[0]:8.1f} ms {took[1]:7.1f} ms own {ratio:8.1f} x{wished}")


def plain_sum(day: list[tuple[float, float]]) -> float:
    """Return the exponentials of a day's temperatures summed: what a dose takes at the least.

    Of the temperatures alone, and with the sign of a rate law: the seconds of a day overflow.
    """
    import numpy as np

    return float(np.exp(-np.array(day)[:, 1]).sum())


def heat_and_dose() -> None:
    """Measure the dose of a day, the verdict, the risk band of a thick piece, the fit of a lag."""
    from cases.domain.cure.dose import equivalent_minutes
    from cases.domain.cure.lag import fit_lag
    from cases.domain.cure.overheating import expect
    from cases.domain.cure.program import LONG
    from cases.domain.cure.verdict import assess
    from cases.domain.cure.watch import watch
    from tests.lag_runs import bath, flask

    day = [(float(s), 23 + 51 * min(1, s / 1800) + s % 7 / 10) for s in range(DAY_S + 1)]
    bare = middle(lambda: plain_sum(day), 7)
    say(f"a day of readings as an array, exp of its temperatures summed: {bare[0]:.1f} ms")
    told("dose of a day at a reading a second", middle(lambda: equivalent_minutes(day), 7), bare,
         DOSE_AIM)  # fmt: skip
    told("verdict of the same", middle(lambda: assess(day, LONG.holds), 5), bare)
    told("risk band: four scenarios, 12 mm, the long cycle",
         middle(lambda: expect(LONG.points(), 12.0), 3), bare, BAND_AIM)  # fmt: skip
    rise = [(60.0 * m, bath(m)) for m in range(181)], [(60.0 * m, flask(m, 15)) for m in range(181)]
    told("lag fitted to three hours of two probes", middle(lambda: fit_lag(*rise), 3), bare)
    night = [(n / 6, min(74.0, 23 + 1.7 * n / 6)) for n in range(6 * NIGHT_MINUTES)]
    told("watch of a night at a reading in ten seconds",
         middle(lambda: watch(LONG, LONG.bath_minutes, night, NIGHT_MINUTES - 1.0), 5), bare
         )  # fmt: skip


def the_clock() -> None:
    """Measure a sweep over many active timers, and rows that come in to a feed."""
    from django.db import connection

    from cases.domain.cure.feed import Sample
    from cases.domain.cure.program import LONG, as_json
    from cases.models import Bath, BathFeed, BathSample, CureProgram, Load, Resin, Timer
    from cases.services.alarms import fire_due, ring
    from cases.services.feed_in import take_in
    from cases.services.feeds import open_to_token
    from cases.tasks import sweep
    from tests.factories import NOW, make_shop, rows

    shop = make_shop()
    bath = Bath.objects.get(name="Bath 1")

    def make(record: Any) -> dict[str, Any]:
        resin = record.create(Resin, name="Rosewater 3")
        program = record.create(
            CureProgram, resin=resin, name="long", version=1, document=as_json(LONG), saved_at=NOW
        )
        load = record.create(
            Load, number=1, bath=bath, program=program, state="running", made_at=NOW,
            placed_at=NOW, starts_at=NOW, ends_at=NOW + timedelta(minutes=NIGHT_MINUTES),
        )  # fmt: skip
        ahead = [
            Timer(load=load, kind="boil", step=n, due_at=NOW + timedelta(days=3650, minutes=n))
            for n in range(TIMERS)
        ]
        record.create_many(ahead)
        return {"load": load}

    rows(make)
    bare = middle(lambda: Timer.objects.filter(state="pending").count(), 15)
    say(f"{connection.vendor}: counting {TIMERS} active timers takes {bare[0]:.2f} ms")
    told("a sweep of them, none due", middle(sweep, 15), bare, SWEEP_AIM)
    first = Timer.objects.order_by("due_at")[0].due_at
    batches = iter(range(1, 100))

    def fire() -> None:
        until = first + timedelta(minutes=DUE * next(batches) - 1)
        fire_due(until)
        ring(until)

    told(f"a sweep of them, {DUE} due: fired and rung", middle(fire, 5), bare, SWEEP_AIM)
    open_to_token(shop.envelope("pavo"), bath=bath.pk)
    feed = BathFeed.objects.get()
    samples = [Sample(NOW + timedelta(seconds=10 * n), 74.0) for n in range(3060)]

    def night() -> None:
        BathSample.objects.all().delete()
        take_in(feed, samples)

    told("a night of 3060 samples taken in at once", middle(night, 3), bare)


def main() -> None:
    """Run both."""
    with scratch():
        heat_and_dose()
        the_clock()


if __name__ == "__main__":
    main()
