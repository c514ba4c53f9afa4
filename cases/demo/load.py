"""Play the weeks of the demo lab through, from its first day to ``now``."""

from __future__ import annotations

import random
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import partial

from cases.demo import baths, bench, desk, wishes
from cases.demo.choosing import AT_LAST_MIN
from cases.demo.people import DESK, MANAGER
from cases.demo.shop import open_shop
from cases.demo.state import DrawNote, Hand, House
from cases.domain.route import default_template
from cases.selectors import driving
from cases.services import alarms
from cases.services.alarms import acknowledge
from cases.services.assign import assign_stage

DRAW = 20260
"""The draw of chance that the demo lab is made with."""
OPEN, FINISHED = 60, 60
FULL_FINISHED = 400
DAYS_BACK, DAYS_BACK_FULL = 45, 372
"""How long ago the demo lab opened: the first box came two days later."""
SETTLED_DAYS = 12
"""The last new piece of the finished ones came so many days ago, so that all have left."""
MOST_LATELY = 6
"""So many small orders came and left in the last days."""
ALARMS_FROM = timedelta(hours=26)
"""Timers before this were followed by hands at once and rang for nobody."""


@dataclass(frozen=True)
class Progress:
    """How far the load has come: the day that is played, and what stands so far."""

    day: datetime
    share: float
    cases: int
    sent: int


def load(
    now: datetime,
    *,
    open_cases: int = OPEN,
    finished: int = FINISHED,
    full: bool = False,
    draw: int = DRAW,
    note: DrawNote | None = None,
) -> Iterator[Progress]:
    """Make the demo lab as it stands at ``now``; yields after every played day.

    Parameters
    ----------
    now
        Aware instant; every date of the demo is relative to it.
    open_cases, finished
        How many cases are open at ``now``, and how many have left.
    full
        Spread the finished cases over a year.
    draw
        Another number makes another lab of the same kind.
    note
        Draws the delivery note that goes along with a box; None: boxes leave without.
    """
    rng = random.Random(draw)
    days = DAYS_BACK_FULL if full else DAYS_BACK
    shop = open_shop(now, rng, days)
    house = House(shop, now, wishes.anchor(shop, now), note)
    _plan(house, open_cases, finished)
    yield from _play(house)
    _settle(house)
    yield _progress(house, 1.0)


def _plan(house: House, open_cases: int, finished: int) -> None:
    """Put orders, shifts and vans on the clock."""
    shop = house.shop
    first = shop.opened + timedelta(days=2, hours=3)
    last = house.now - timedelta(days=SETTLED_DAYS)
    keys = tuple(stage.key for stage in default_template().stages)
    small = min(MOST_LATELY, finished // 8)
    orders = wishes.finished_wishes(shop, first, last, finished - small)
    orders += wishes.lately(shop, house.at, small)
    for n in range(max(1, finished // 30)):
        gone = wishes.finished_wishes(shop, last, last, 1)[0]
        gone.arrives -= timedelta(days=7 * n)
        gone.flags |= {"cancel"}
        orders.append(gone)
    orders += wishes.open_wishes(shop, house.now, keys, open_cases)
    orders.sort(key=lambda wish: wish.arrives)
    for number, wish in enumerate(orders, start=1):
        wish.number = number
        house.later(wish.arrives, partial(desk.log, house, wish))
        if wish.target == "send":
            house.later(house.at - timedelta(minutes=40), partial(_pack_target, house, wish))
    desk.plan_vans(house)
    house.wake(house.now - timedelta(minutes=AT_LAST_MIN))
    day = shop.day(shop.opened)
    while day <= shop.day(house.now):
        if shop.works(day):
            for text in ("08:00", "12:30", "13:00", "13:30", "15:25"):
                house.later(shop.wall(day, text), lambda: None)
        day += timedelta(days=1)


def _pack_target(house: House, wish: wishes.Wish) -> None:
    """Pack the case that is to stand in its box, waiting for the van."""
    jobs = [job for job in house.jobs.values() if job.wish is wish]
    if all(desk.ready_to_leave(house, job) for job in jobs) and jobs:
        desk.pack_box(house, wish.place, jobs)


def _play(house: House) -> Iterator[Progress]:
    day = house.shop.day(house.shop.opened)
    begins = house.shop.opened
    for instant in house.ticks():
        bench.dispatch(house)
        if instant >= house.now - ALARMS_FROM:
            _ring(house)
        if house.shop.day(instant) != day:
            day = house.shop.day(instant)
            yield _progress(house, (instant - begins) / (house.now - begins))


def _progress(house: House, share: float) -> Progress:
    sent = sum(1 for job in house.jobs.values() if job.state == "sent")
    return Progress(house.time, share, len(house.jobs), sent)


# --- alarms ---------------------------------------------------------------------------------


def _ring(house: House) -> None:
    """Let due timers go off; somebody who is here hears them soon."""
    due = driving.next_due()
    if due is None:
        return
    if due > house.time:
        house.wake(due)
        return
    alarms.fire_due(house.time)
    house.after(house.rng.uniform(1, 3), partial(_hear, house))


def _hear(house: House) -> None:
    present = house.here()
    who = house.rng.choice(present).key if present else MANAGER
    for alert in driving.open_alerts():
        house.send(acknowledge, who, alert=alert)


def _settle(house: House) -> None:
    """Leave nothing ringing for long, some of the work given to people, a load being gathered."""
    baths.gather(house)
    alarms.fire_due(house.now)
    ringing = driving.open_alerts()
    who = house.here()[0].key if house.here() else MANAGER
    for alert in ringing[:-2]:
        house.send(acknowledge, who, alert=alert)
    given = 0
    for place, job in enumerate(house.jobs.values()):
        stage = job.stages.get(job.target)
        if job.state != "open" or stage is None or stage.state != "planned" or given >= 14:
            continue
        able = [h for h in house.hands if stage.skill in h.speeds and not h.worker.student]
        if able and place % 3 == 0:
            _give(house, able[given % len(able)], stage)
            given += 1


def _give(house: House, hand: Hand, stage: driving.StageStand) -> None:
    house.send(
        assign_stage, DESK, stage=stage.pk, version=stage.version,
        person=house.shop.people[hand.key],
    )  # fmt: skip
