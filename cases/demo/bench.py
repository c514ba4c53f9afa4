"""The bench of the demo lab: hands take stages, check, mend, send back and finish them."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta
from functools import partial
from typing import Any

from cases.demo import baths, choosing, followups, trouble
from cases.demo.orders import design_of
from cases.demo.pictures import picture
from cases.demo.readings import failing, passing
from cases.demo.state import Hand, House, Job, Task
from cases.selectors import driving
from cases.services.assign import correct_own_time, hand_over
from cases.services.batch import finish_many, start_many
from cases.services.check import add_check_photo, concede, enter_checks
from cases.services.design import set_design
from cases.services.dough import note_closed, note_mix
from cases.services.files import attach_file
from cases.services.put_down import pause_forgotten
from cases.services.record import Outcome
from cases.services.send_back import send_back
from cases.services.stage import finish_stage, pause_stage, resume_stage, skip_stage, start_stage

PHOTOGRAPHED_BEFORE = frozenset({"flask-lower", "self-cure"})
"""Points of no return whose photograph was taken as a check of the stage before."""
MIXED_MIN, CLOSED_BEFORE_END_MIN = 11.0, 2.0
"""From the mix to the last closing, and from there to the end of a packing. Judgement."""
LOOK_AGAIN_MIN = 20.0
FORGOTTEN_AFTER_MIN = 17.0
"""When the clock has given the hands up for gone."""


def dispatch(house: House) -> None:
    """Give work to everybody who is here and free."""
    baths.empty(house)
    free = [hand for hand in house.here() if hand.task is None]
    if not free:
        return
    for hand in free:
        _take_up_again(house, hand)
    free = [hand for hand in free if hand.task is None]
    picks = choosing.possible(house) if free else []
    for hand in free:
        if picks and _take(house, hand, picks):
            picks = choosing.possible(house)


def _take(house: House, hand: Hand, picks: list[choosing.Pick]) -> bool:
    until = house.shift_end(hand)
    if until is None:
        return False
    for pick in list(picks):
        # What went with one before it and could not be begun is seen no more either.
        if pick not in picks or not choosing.suits(house, hand, pick):
            continue
        together = choosing.group(house, hand, pick, picks)
        minutes = choosing.minutes_of(house, hand, pick.stage, len(together) - 1)
        at_last = pick.stage.key == pick.job.target and pick.stage.key != "try-in"
        if at_last:
            together = [one for one in together if one.job.target == pick.stage.key]
            minutes = max(minutes, (house.now - house.time).total_seconds() / 60 + 2)
        else:
            together = [one for one in together if one is pick or one.job.target != pick.stage.key]
        if not choosing.enough_time(house, pick.stage, minutes, until):
            continue
        if _begin(house, hand, [one.job for one in together], pick.stage.key, minutes):
            return True
        # Nothing of it was free: whoever looks next sees it no more.
        for one in together:
            picks.remove(one)
    return False


def _begin(house: House, hand: Hand, jobs: list[Job], key: str, minutes: float) -> bool:
    """Start a stage for one case or several, and plan how it goes on."""
    if key == "bite" and len(jobs) == 1 and trouble.cast_lost(house, jobs[0]):
        return _skip(house, hand, jobs[0], key)
    if key == "cure" and baths.by_load(house) and all(job.target != key for job in jobs):
        return baths.put_in(house, hand, jobs) or _none_free(house, jobs)
    things = choosing.things_for(jobs, key)
    if things is None:
        return _none_free(house, jobs)
    photos = [_photograph_before(house, hand, job, key) for job in jobs]
    entries = [
        {"stage": job.stages[key].pk, "version": job.stages[key].version, "things_used": used,
         "photo": photo}
        for job, used, photo in zip(jobs, things, photos, strict=True)
    ]  # fmt: skip
    outcome: Outcome | None
    if len(jobs) == 1:
        outcome = house.send(start_stage, hand.key, "bench", **entries[0])
    else:
        outcome = house.send(start_many, hand.key, "bench", stages=entries)
    if outcome is None:
        return _none_free(house, jobs)
    task = Task(key, jobs, hand, minutes, trouble=trouble.choose(house, jobs, key))
    for job in jobs:
        stage = job.stages[key]
        stage.state, stage.version = "running", stage.version + 1
        job.workers[key] = hand.key
    _run(house, task)
    return True


def _none_free(house: House, jobs: list[Job]) -> bool:
    """Look again later; it was not begun."""
    when = house.time + timedelta(minutes=LOOK_AGAIN_MIN)
    for job in jobs:
        job.not_before = when
    house.wake(when)
    return False


def _skip(house: House, hand: Hand, job: Job, key: str) -> bool:
    stage = job.stages[key]
    house.send(
        skip_stage, hand.key, "bench", stage=stage.pk, version=stage.version, reason="cast-lost"
    )
    house.follow(job)
    return True


def _photograph_before(house: House, hand: Hand, job: Job, key: str) -> int | None:
    if not job.stages[key].spec["photo_before"] or key in PHOTOGRAPHED_BEFORE:
        return None
    return _attach(house, hand, job, f"before-{key}")


def _attach(house: House, hand: Hand, job: Job, kind: str) -> int | None:
    stored = picture(job.design, len(kind))
    outcome = house.send(attach_file, hand.key, "bench", case=job.pk, kind=kind, stored=stored)
    return int(outcome.result["file"]) if outcome else None


def _run(house: House, task: Task) -> None:
    """Plan the rest of a task that has just begun or was taken up again."""
    hand = task.hand
    hand.task = task
    task.running_since = house.time
    task.generation += 1
    until = house.shift_end(hand) or house.time
    end = house.time + timedelta(minutes=task.minutes)
    hand.busy_until = min(end, until)

    def still(do: Callable[[House, Task], None], when: datetime) -> None:
        generation = task.generation

        def go() -> None:
            if hand.task is task and task.generation == generation:
                do(house, task)

        house.later(when, go)

    if end > until:
        still(_put_down, until)
        return
    if task.key == "pack" and baths.by_load(house):
        still(_mix, max(house.time, end - timedelta(minutes=MIXED_MIN + CLOSED_BEFORE_END_MIN)))
        if not end - timedelta(minutes=CLOSED_BEFORE_END_MIN) <= house.at < end:
            # Who packs when somebody looks has the dough in the flask, and its clock runs.
            still(_close, end - timedelta(minutes=CLOSED_BEFORE_END_MIN))
    if task.key == "survey":
        still(_draw, house.time + timedelta(minutes=task.minutes * 0.6))
    if task.trouble == "hand-over":
        still(_hand_over, house.time + timedelta(minutes=task.minutes * 0.5))
    if task.trouble in ("mend", "concede"):
        still(_go_wrong, end - timedelta(minutes=min(6.0, task.minutes / 2)))
    still(_photograph, end - timedelta(minutes=min(2.0, task.minutes / 4)))
    still(_finish, end)


def _mix(house: House, task: Task) -> None:
    """Put powder and liquid together: the clock of the dough runs."""
    for job in task.jobs:
        stage = job.stages[task.key]
        task.mixed_at = house.time
        house.send(
            note_mix, task.hand.key, "bench", stage=stage.pk, version=stage.version,
            room_c=house.rng.choice((22.0, 23.0, 24.5)),
        )  # fmt: skip


def _close(house: House, task: Task) -> None:
    """Close the flask for the last time."""
    for job in task.jobs:
        stage = job.stages[task.key]
        house.send(
            note_closed, task.hand.key, "bench", stage=stage.pk, version=stage.version
        )  # fmt: skip
    if task.mixed_at is not None:
        task.closed_after = round((house.time - task.mixed_at).total_seconds() / 60, 1)


def _put_down(house: House, task: Task) -> None:
    """Pause at lunch or for the night; the same hands take it up again."""
    if len(task.jobs) == 1 and trouble.forgets(house):
        task.hand.task = None
        house.after(FORGOTTEN_AFTER_MIN, partial(_was_forgotten, house, task))
        return
    for job in task.jobs:
        stage = job.stages[task.key]
        house.send(pause_stage, task.hand.key, "bench", stage=stage.pk, version=stage.version)
        stage.state, stage.version = "paused", stage.version + 1
    _wait_for_hands(house, task)


def _wait_for_hands(house: House, task: Task) -> None:
    since = task.running_since or house.time
    task.minutes = max(4.0, task.minutes - (house.time - since).total_seconds() / 60)
    task.hand.put_down.append(task)
    task.hand.task = None


def _was_forgotten(house: House, task: Task) -> None:
    """The clock puts down what somebody left running; the minutes wait to be confirmed."""
    pause_forgotten(house.time)
    house.follow(task.jobs[0])
    hand = task.hand
    other, hand.task = hand.task, None
    _wait_for_hands(house, task)
    hand.task = other


def _take_up_again(house: House, hand: Hand) -> None:
    for task in list(hand.put_down):
        job = task.jobs[0]
        if job.held(task.key) or job.state != "open":
            continue
        needs_cast = job.stages[task.key].spec["needs_cast"]
        if needs_cast and job.cast_in_hand():
            continue
        hand.put_down.remove(task)
        task.hand = hand
        for one in task.jobs:
            house.follow(one)
            stage = one.stages[task.key]
            if stage.state != "paused":
                return
            house.send(resume_stage, hand.key, "bench", stage=stage.pk, version=stage.version)
            stage.state, stage.version = "running", stage.version + 1
            one.workers[task.key] = hand.key
        _run(house, task)
        return


def _hand_over(house: House, task: Task) -> None:
    """Give the work to somebody else in one line."""
    job = task.jobs[0]
    stage = job.stages[task.key]
    others = [
        one
        for one in house.hands
        if stage.skill in one.speeds and one is not task.hand and not one.worker.student
    ]
    task.trouble = ""
    if not others:
        _run(house, task)
        return
    other = house.rng.choice(others)
    house.send(
        hand_over, task.hand.key, "bench", stage=stage.pk, version=stage.version,
        words=trouble.hand_over_words(house), person=house.shop.people[other.key],
    )  # fmt: skip
    house.follow(job)
    task.minutes = max(4.0, task.minutes / 2)
    task.hand.task = None
    other.put_down.append(task)


def _draw(house: House, task: Task) -> None:
    """Store the design that the surveyor drew; the route grows from it."""
    job = task.jobs[0]
    stand = driving.case_stand(job.pk)
    if not stand.design.get("provisional", True):
        return
    did_not_seat = driving.last_did_not_seat(job.pk)
    data = design_of(job.wish, job.arch, stand.design, did_not_seat=did_not_seat)
    house.send(set_design, task.hand.key, "bench", case=job.pk, version=stand.version, data=data)
    house.follow(job, regrown=True)
    followups.after_drawing(house, job, task.hand.key)


def _told(house: House, job: Job) -> dict[str, float]:
    """Return readings that are known from elsewhere: the pour clock."""
    if job.taken_at is None:
        return {}
    return {"minutes": min(29.0, round((house.time - job.taken_at).total_seconds() / 60))}


def _photograph(house: House, task: Task) -> None:
    """Take the photographs that the checks ask for."""
    for job in task.jobs:
        stage = job.stages[task.key]
        wanted = [one for one in task.asked(job) if one.spec["photo"]]
        if not wanted:
            continue
        file = _attach(house, task.hand, job, "photo")
        for check in wanted:
            house.send(
                add_check_photo, task.hand.key, "bench", item=check.pk, version=stage.version,
                file=file,
            )  # fmt: skip


def _go_wrong(house: House, task: Task) -> None:
    """Enter a check that fails; it is mended, or accepted by somebody else."""
    job = task.jobs[0]
    stage = job.stages[task.key]
    checks = driving.checks_of(stage.pk)
    check = trouble.check_to_fail(house, checks)
    if check is None:
        task.trouble = ""
        return
    house.send(
        enter_checks, task.hand.key, "bench", stage=stage.pk, version=stage.version,
        checks=[failing(check, house.rng)],
    )  # fmt: skip
    if task.trouble == "concede":
        other = house.signer(stage.skill, {task.hand.key, *job.workers.values()})
        if other is None:
            return
        task.wrong = check.pk
        house.after(min(2.0, task.minutes / 6), partial(_concede, house, task, other, check.pk))


def _concede(house: House, task: Task, who: str, check: int) -> None:
    stage = task.jobs[0].stages[task.key]
    reason, words = trouble.concession(house)
    outcome = house.send(
        concede, who, item=check, version=stage.version, reason=reason, words=words
    )
    if outcome is None:
        task.wrong = None


def _entries(house: House, task: Task, job: Job) -> list[dict[str, Any]]:
    told = _told(house, job) if task.key == "pour" else {}
    if task.closed_after is not None:
        told["minutes"] = task.closed_after
    return [passing(check, house.rng, told) for check in task.asked(job) if check.pk != task.wrong]


def _finish(house: House, task: Task) -> None:
    hand = task.hand
    hand.task = None
    if task.trouble == "back" and _send_back(house, task):
        return
    if len(task.jobs) == 1:
        job = task.jobs[0]
        stage = job.stages[task.key]
        outcome = house.send(
            finish_stage, hand.key, "bench", stage=stage.pk, version=stage.version,
            checks=_entries(house, task, job),
        )  # fmt: skip
        if outcome is not None and not outcome.result["finished"]:
            _accept_what_failed(house, task, outcome)
    else:
        _finish_batch(house, task)
    for job in task.jobs:
        house.follow(job)
        _correct_time(house, task, job)
        followups.after_stage(house, job, task.key, hand.key)


def _finish_batch(house: House, task: Task) -> None:
    for job in task.jobs:
        stage = job.stages[task.key]
        entries = _entries(house, task, job)
        if entries:
            house.send(
                enter_checks, task.hand.key, "bench", stage=stage.pk, version=stage.version,
                checks=entries,
            )  # fmt: skip
    stages = [
        {"stage": job.stages[task.key].pk, "version": job.stages[task.key].version}
        for job in task.jobs
    ]
    house.send(finish_many, task.hand.key, "bench", stages=stages)


def _accept_what_failed(house: House, task: Task, outcome: Outcome) -> None:
    """A reading that cannot be mended, such as a late pour, is accepted by somebody else."""
    job = task.jobs[0]
    stage = job.stages[task.key]
    other = house.signer(stage.skill, {task.hand.key}) or "selma"
    for check in driving.checks_of(stage.pk):
        if check.state == "failed":
            house.send(
                concede, other, item=check.pk, version=stage.version,
                reason="impression-over-time" if task.key == "pour" else "at-the-limit",
            )  # fmt: skip
    house.send(finish_stage, task.hand.key, "bench", stage=stage.pk, version=stage.version)


def _send_back(house: House, task: Task) -> bool:
    job = task.jobs[0]
    stage = job.stages[task.key]
    to, reason, words = trouble.way_back(task.key)
    if to not in job.stages or job.stages[to].state != "done":
        return False
    house.send(
        send_back, task.hand.key, "bench", stage=stage.pk, version=stage.version, to=to,
        reason=reason, words=words,
    )  # fmt: skip
    house.follow(job)
    return True


def _correct_time(house: House, task: Task, job: Job) -> None:
    if len(task.jobs) > 1 or not trouble.time_was_wrong(house):
        return
    span = driving.open_span(job.stages[task.key].pk)
    if span is not None:
        house.send(
            correct_own_time, task.hand.key, "bench", span=span,
            minutes=round(task.minutes * 0.8, 1), reason=trouble.time_reason(house),
        )  # fmt: skip
