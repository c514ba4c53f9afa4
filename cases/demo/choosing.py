"""Which stage free hands take next: skill, the one cast, things, the night, and the due day."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta

from cases.demo.state import Hand, House, Job
from cases.demo.wishes import CURE_FROM
from cases.selectors import driving
from cases.selectors.driving import StageStand

BY_THE_DESK = frozenset({"pack-out", "send"})
CAN_REST = frozenset({"clasps", "teeth", "wax", "survey", "finish", "polish", "rim", "bar"})
"""Stages that are put down over lunch or for the night. Judgement, for the demo only."""
BATCHES = {"pour": 3, "flask-lower": 3, "flask-upper": 4, "boil-out": 4, "separate": 4,
           "pack": 2, "cure": 6, "polish": 3}  # fmt: skip
"""How many cases one pair of hands takes together. Judgement, for the demo only."""
AT_LAST_MIN = 28
"""Minutes before the end in which hands may take up what a case is to stand at."""
LEAST_TIME_MIN = 15

BEFORE_CLOSING_MIN = {
    "disinfect": 60, "pour": 110, "pick-up": 110, "boil-out": 175, "pack": 70, "copy-mould": 75,
    "self-cure": 20,
}  # fmt: skip
"""Begun no later than so many minutes before closing, because it may not rest overnight."""
BEFORE_HOLIDAY_MIN = {"flask-lower": 330, "flask-upper": 250}
CURE_AFTER_HOURS = 4.0


@dataclass(frozen=True)
class Pick:
    """A stage that hands could take; ``rank`` sorts the most urgent first."""

    rank: tuple[float, ...]
    job: Job
    stage: StageStand


def possible(house: House) -> list[Pick]:
    """Return every stage that could begin now, the most urgent first."""
    open_jobs = [job for job in house.jobs.values() if job.state == "open" and job.ahead]
    picks = [pick for job in open_jobs for pick in _of_job(house, job)]
    picks.sort(key=lambda pick: pick.rank)
    return picks


def _of_job(house: House, job: Job) -> Iterator[Pick]:
    now = house.time
    if job.not_before is not None and job.not_before > now:
        return
    for stage in job.ahead:
        if stage.state != "planned" or stage.ready_at is None or stage.ready_at > now:
            continue
        if stage.kind not in ("attended", "load") or stage.key in BY_THE_DESK:
            continue
        if not _may_go(house, job, stage):
            continue
        due = job.leaves_at.timestamp() / 86400 if job.leaves_at else 1e6
        gated = stage.key in job.wish.gates
        hot = stage.key in ("pour", "separate", "pack", "cure", "pick-up", "disinfect", "receive")
        yield Pick((not gated, not hot, not job.wish.rush, due, stage.pk), job, stage)


def _may_go(house: House, job: Job, stage: StageStand) -> bool:
    gate = job.wish.gates.get(stage.key)
    if gate is not None and house.time < gate:
        return False
    if job.held(stage.key):
        return False
    if stage.key == job.target and not _at_last(house, job, stage):
        return False
    if job.in_load:
        return False  # the load takes its flasks out together
    if stage.spec["needs_cast"]:
        busy = job.cast_busy_until
        if job.cast_in_hand() or (busy is not None and busy > house.time):
            return False
    return _fits_the_day(house, job, stage)


def _at_last(house: House, job: Job, stage: StageStand) -> bool:
    """Tell whether the stage a case is to stand at may be taken up, to be running at the end."""
    if stage.key == "try-in":
        return True
    if house.at != house.now or "late" in job.wish.flags or stage.key == "receive":
        return False
    return house.now - house.time <= timedelta(minutes=AT_LAST_MIN)


def _fits_the_day(house: House, job: Job, stage: StageStand) -> bool:
    day = house.shop.day(house.time)
    left = (house.shop.wall(day, "16:30") - house.time).total_seconds() / 60
    if stage.key == "pour" and job.wish.material == "addition-silicone":
        return left >= stage.minutes
    if left < BEFORE_CLOSING_MIN.get(stage.key, 0):
        return False
    if left < BEFORE_HOLIDAY_MIN.get(stage.key, 0):
        return house.shop.works(day + timedelta(days=1))
    if stage.key == "cure" and "cure" not in job.wish.gates:
        rested = (house.time - (stage.ready_at or house.time)).total_seconds() / 3600
        late = house.time >= house.shop.wall(day, CURE_FROM)
        return late or rested >= CURE_AFTER_HOURS
    return True


def suits(house: House, hand: Hand, pick: Pick) -> bool:
    """Tell whether these hands may and can take the stage."""
    stage, job = pick.stage, pick.job
    if stage.skill and stage.skill not in hand.speeds:
        return False
    if stage.key in ("wax-pass", "inspect"):
        before = job.workers.get("wax" if stage.key == "wax-pass" else "finish")
        if before == hand.key:
            return False
    if "sign" in job.wish.flags and stage.key == "separate":
        return hand.worker.student
    # A student leaves the last looks and the cast with the most in it to others.
    return not (hand.worker.student and stage.key in ("boil-out", "flask-lower") and job.wish.rush)


def minutes_of(house: House, hand: Hand, stage: StageStand, others: int) -> float:
    """Return how long it takes these hands, for one case and ``others`` beside it."""
    speed = hand.speeds.get(stage.skill, 1.0)
    alone = max(stage.minutes, 2.0) / speed * house.rng.uniform(0.85, 1.25)
    return round(alone * (1 + 0.6 * others), 1)


def group(house: House, hand: Hand, first: Pick, picks: list[Pick]) -> list[Pick]:
    """Return the pick with the others that go through the stage together with it."""
    most = BATCHES.get(first.stage.key, 1)
    if most == 1 or not first.stage.spec["batch"]:
        return [first]
    same = [p for p in picks if p.stage.key == first.stage.key and suits(house, hand, p)]
    taken: list[Pick] = [first]
    for pick in same:
        if len(taken) == most:
            break
        if pick is not first and all(pick.job is not other.job for other in taken):
            taken.append(pick)
    return taken


def enough_time(house: House, stage: StageStand, minutes: float, until: datetime) -> bool:
    """Tell whether the stage can be done, or well begun, before the hands leave."""
    left = (until - house.time).total_seconds() / 60
    return minutes <= left or (stage.key in CAN_REST and left >= LEAST_TIME_MIN)


def things_for(jobs: list[Job], key: str) -> list[dict[str, str]] | None:
    """Return the numbers of free things for each case at a stage, or None when there are none."""
    kinds = [
        held["thing"]
        for held in jobs[0].stages[key].spec["holds"]
        if held["thing"] in ("flask", "articulator", "clamp")
    ]
    if key not in ("mount", "flask-lower", "clamp"):
        # Later stages go on with what the case has; a piece that begins there takes one anew.
        kinds = [kind for kind in kinds if key == "index"]
    given: list[dict[str, str]] = [{} for _ in jobs]
    for kind in kinds:
        labels = driving.free_labels(kind)
        if len(labels) < len(jobs):
            return None
        for entry, label in zip(given, labels, strict=False):
            entry[kind] = label
    return given
