"""The baths of the demo lab's last days: loads, what their loggers wrote, and what was decided.

Before them cures are ended case by case: whoever looks at the demo looks at its last days. One of
the last nights had a power cut, and what its bath wrote waits for somebody to decide.
"""

from __future__ import annotations

import io
from datetime import datetime, timedelta
from functools import partial
from math import exp

from cases.demo.state import Bathful, Hand, House, Job
from cases.demo.wishes import CURE_FROM
from cases.domain.cure.program import ROOM_C, read_program
from cases.domain.cure.samples import resampled
from cases.services.bath_decision import decide_bath_record
from cases.services.bath_raw import take_in_file
from cases.services.bath_record import keep_bath_record
from cases.services.load import add_flask, estimate, make_load
from cases.services.load_run import start_load, take_out
from cases.services.record import Outcome

SHOWN = timedelta(days=9)
"""So long before now cures are loads: of one working week and two weekends. Judgement."""
HEATS_AT = "22:00"
OUT_AGO_MIN = 40.0
"""The program of a load that cools at the end of the demo was over so many minutes before it."""
CUT_WITHIN_DAYS = 2
"""The power cut is found on the first of so many last working days with a load to judge."""
CUT_AT_MIN, CUT_FOR_MIN, BACK_MIN = 260.0, 35.0, 15.0
FALLS_MIN = 150.0
"""A bath without power cools by its own time, e.g. 150 min: as in the check of the verdict."""
READ_AFTER_MIN = 25.0
EVERY_MIN = 5.0


def by_load(house: House) -> bool:
    """Tell whether cures are loads by now."""
    return house.now - house.time <= SHOWN


def put_in(house: House, hand: Hand, jobs: list[Job]) -> bool:
    """Gather the flasks of some cases, ask about the program, and put them into a free bath."""
    bath = _free_bath(house)
    if bath is None:
        return False
    jobs = jobs[: house.shop.baths[bath].capacity]
    program = _program(house)
    made = house.send(
        make_load, hand.key, "bench", bath=house.shop.baths[bath].pk,
        program=house.shop.programs[program],
    )  # fmt: skip
    if made is None:
        return False
    number = made.result["number"]
    sent: Outcome | None = made
    for job in jobs:
        sent = _then(house, hand.key, add_flask, number, sent, label=job.number)
    sent = _then(house, hand.key, estimate, number, sent)
    starts = _starts(house, bath)
    own = "" if starts <= house.time else starts.isoformat()
    sent = _then(house, hand.key, start_load, number, sent, starts_at=own)
    if sent is None:
        return False
    minutes = read_program(house.shop.documents[program]).bath_minutes
    ends = starts + timedelta(minutes=minutes)
    full = Bathful(number, sent.result["version"], bath, program, jobs, starts, ends)
    house.in_bath.add(bath)
    for job in jobs:
        job.workers["cure"], job.in_load = hand.key, True
        house.follow(job)
    house.later(house.in_hours(ends) + timedelta(minutes=house.rng.uniform(1, 3)),
                partial(_take_out, house, full))  # fmt: skip
    return True


def _then(
    house: House, who: str, verb: object, number: int, sent: Outcome | None, **body: object
) -> Outcome | None:
    """Send the next verb of a load with the version that the last one left; None once refused."""
    if sent is None:
        return None
    version = sent.result.get("version", 1)
    return house.send(verb, who, "bench", load=number, version=version, **body)  # type: ignore[arg-type]


def _free_bath(house: House) -> str | None:
    """Return a bath that nothing is in, the first one first."""
    return next((name for name in house.shop.baths if name not in house.in_bath), None)


def _program(house: House) -> str:
    """Return which program goes on: by day the short one, but for what runs at the end."""
    last_day = house.shop.day(house.time) == house.shop.day(house.at)
    return "long" if last_day or _evening(house) else "short"


def _evening(house: House) -> bool:
    return house.time >= house.shop.wall(house.shop.day(house.time), CURE_FROM)


def _starts(house: House, bath: str) -> datetime:
    """Return when the heating starts: now by day, at night so that people are there at its end."""
    if not _evening(house):
        return house.time
    night = house.shop.wall(house.shop.day(house.time), HEATS_AT)
    minutes = read_program(house.shop.documents["long"]).bath_minutes
    last = house.at - timedelta(minutes=minutes + OUT_AGO_MIN)
    # The last night's load is out shortly before the end of the demo, and cools.
    first = next(iter(house.shop.baths))
    if bath == first and night < last <= house.time + timedelta(hours=23):
        return last
    return max(night, house.time)


def empty(house: House) -> None:
    """Let whoever is free now take out what is over, before other work is given."""
    waiting, house.baths_over = house.baths_over, []
    for full in waiting:
        _take_out(house, full)


def _take_out(house: House, full: Bathful) -> None:
    """Take the flasks out once somebody is here who can, and read the logger soon after."""
    who = _hands(house)
    if who is None:
        house.baths_over.append(full)
        return
    house.send(take_out, who, "bench", load=full.number, version=full.version)
    house.in_bath.discard(full.bath)
    for job in full.jobs:
        job.in_load = False
        house.follow(job)
    house.after(READ_AFTER_MIN, partial(_judge, house, full))


def _hands(house: House) -> str | None:
    for hand in house.here():
        if hand.task is None and "pack" in hand.speeds and not hand.worker.student:
            return hand.key
    return None


def _judge(house: House, full: Bathful) -> None:
    """Keep what the logger wrote; decide at once where nothing is odd."""
    who = house.signer("pack", set()) or _hands(house)
    if who is None:
        house.later(house.in_hours(house.time + timedelta(minutes=30)),
                    partial(_judge, house, full))  # fmt: skip
        return
    raw = take_in_file(io.BytesIO(_logger(house, full)))
    probe = house.shop.baths[full.bath].probe
    kept = house.send(
        keep_bath_record, who, "bench", load=full.number, sha256=raw,
        choice={"form": "iso", "columns": [0], "column": 1, "unit": "C"},
        probe_at="bath", probe=probe, file_name=f"{full.bath.lower().replace(' ', '-')}.csv",
    )  # fmt: skip
    if kept is None or kept.result["verdict"] != "complete":
        return
    house.send(decide_bath_record, who, "bench", row=kept.result["record"], decision="accept")


def _cut_short(house: House, full: Bathful) -> bool:
    """Tell whether a load had the power cut: the first long one that is judged lately."""
    if full.program != "long" or house.power_was_cut:
        return False
    ahead = house.shop.day(house.next_morning(CUT_WITHIN_DAYS))
    house.power_was_cut = ahead >= house.shop.day(house.at)
    return house.power_was_cut


def _logger(house: House, full: Bathful) -> bytes:
    """Return what the bath's logger wrote, its probe reading as much too high as it does."""
    program = read_program(house.shop.documents[full.program])
    off = house.shop.baths[full.bath].off_k
    cut = _cut_short(house, full)
    lines = ["time,bath °C"]
    for minute, celsius in resampled(program.points(), EVERY_MIN):
        shown = min(celsius, _after_cut(minute)) if cut else celsius
        at = (full.starts_at + timedelta(minutes=minute)).astimezone(house.shop.zone)
        lines.append(f"{at:%Y-%m-%d %H:%M},{shown + off:.1f}")
    return "\n".join(lines).encode()


def _after_cut(minute: float) -> float:
    """Return how hot the bath is at most, for want of power."""
    if minute <= CUT_AT_MIN:
        return 100.0
    without = min(minute - CUT_AT_MIN, CUT_FOR_MIN)
    cooled = ROOM_C + (74.0 - ROOM_C) * exp(-without / FALLS_MIN)
    back = max(0.0, minute - CUT_AT_MIN - CUT_FOR_MIN)
    return cooled + (74.0 - cooled) * min(1.0, back / BACK_MIN)


def gather(house: House) -> None:
    """Leave a load being gathered of the flasks that somebody has in hand for their cure."""
    jobs = [
        job
        for job in house.jobs.values()
        if (stage := job.stages.get("cure")) is not None and stage.state == "running"
    ]
    bath = _free_bath(house)
    if not jobs or bath is None:
        return
    who = jobs[0].workers["cure"]
    sent = house.send(
        make_load, who, "bench", bath=house.shop.baths[bath].pk,
        program=house.shop.programs["long"],
    )  # fmt: skip
    if sent is None:
        return
    number = sent.result["number"]
    for job in jobs[: house.shop.baths[bath].capacity]:
        sent = _then(house, who, add_flask, number, sent, label=job.number)


__all__ = ["by_load", "gather", "put_in"]
