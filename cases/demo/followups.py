"""What follows when a stage has ended: clamps, water, countersigns, try-ins, questions."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import timedelta
from functools import partial

from cases.demo import trouble, words
from cases.demo.choosing import things_for
from cases.demo.people import DESK
from cases.demo.state import House, Job
from cases.selectors import driving
from cases.selectors.driving import QuestionStand
from cases.services.answer import answer_question, settle_answer
from cases.services.close_case import report_mishap, write_note
from cases.services.countersign import countersign
from cases.services.hold import ask_practice, hold_case
from cases.services.stage import finish_stage, stage_came_back
from cases.services.things import put_thing

ONE_TAPS = ("clamp", "soak")
MUTE = frozenset({"silent", "unsigned", "no-order"})
"""Cases whose questions nobody has answered yet."""
TRY_AGAIN_MIN = 25.0


def after_stage(house: House, job: Job, key: str, who: str) -> None:
    """Do what the end of a stage brings with it."""
    stage = job.stages[key]
    if stage.state == "countersign" and "sign" not in job.wish.flags:
        house.after(house.rng.uniform(8, 35), partial(_sign, house, job, key))
    if stage.state == "away" and job.target != key:
        back = house.next_morning(house.rng.randint(1, 2))
        house.later(back, partial(_came_back, house, job, key))
    if key in ("mount", "copy-mould"):
        wait = 30 if key == "mount" else 45
        job.cast_busy_until = house.time + _minutes(wait)
        house.wake(job.cast_busy_until)
    _one_taps(house, job, who)
    _keep_place(house, job, key, who)
    if house.rng.random() < trouble.MISHAP:
        _mishap(house, job, who)
    if house.rng.random() < trouble.NOTE:
        house.send(write_note, who, "bench", case=job.pk, text=house.rng.choice(words.NOTES))


def _minutes(count: float) -> timedelta:
    return timedelta(minutes=count)


def _one_taps(house: House, job: Job, who: str) -> None:
    """Put it under the clamp, or into the water, as soon as it may be."""
    for key in ONE_TAPS:
        stage = job.stages.get(key)
        if stage is None or stage.state != "planned" or stage.ready_at is None:
            continue
        if key == job.target or f"tap-{key}" in job.in_hand:
            continue
        job.in_hand.add(f"tap-{key}")
        house.after(house.rng.uniform(1, 3), partial(_tap, house, job, key, who))


def _tap(house: House, job: Job, key: str, who: str) -> None:
    job.in_hand.discard(f"tap-{key}")
    stage = job.stages[key]
    if stage.state != "planned" or job.state != "open":
        return
    things = things_for([job], key)
    if things is None or job.held(key):
        job.in_hand.add(f"tap-{key}")
        house.after(TRY_AGAIN_MIN, partial(_tap, house, job, key, who))
        return
    house.send(
        finish_stage, who, "bench", stage=stage.pk, version=stage.version, things_used=things[0]
    )
    house.follow(job)


def _sign(house: House, job: Job, key: str) -> None:
    """Let somebody who may look at a student's work and sign it."""
    stage = job.stages[key]
    if stage.state != "countersign":
        return
    who = house.signer(stage.skill, {job.workers.get(key, "")})
    if who is None:
        house.later(
            house.in_hours(house.time + _minutes(TRY_AGAIN_MIN)), partial(_sign, house, job, key)
        )
        return
    for request in driving.countersigns_open(stage.pk):
        agreed = house.rng.random() > 0.06
        house.send(
            countersign, who, request=request, agreed=agreed,
            words="" if agreed else "Separator missing on the left. Once more.",
        )  # fmt: skip
    house.follow(job)


def _came_back(house: House, job: Job, key: str) -> None:
    stage = job.stages[key]
    if stage.state == "away" and job.state == "open":
        house.send(stage_came_back, DESK, stage=stage.pk, version=stage.version)
        house.follow(job)


def _keep_place(house: House, job: Job, key: str, who: str) -> None:
    """Say where the casts were put, at the stages after which they are looked for."""
    if key not in ("trim", "copy-cast") or house.rng.random() < 0.5:
        return
    for cast, label in driving.casts_of(job.pk):
        shelf = f"shelf {house.rng.randint(1, 6)}, place {house.rng.randint(1, 12)}"
        place = "master drawer" if label == "master" else shelf
        house.send(put_thing, who, "bench", thing=cast, place=place)


def _mishap(house: House, job: Job, who: str) -> None:
    """Report a mishap at the stage that is ready next."""
    ahead = [s for s in job.stages.values() if s.state == "planned" and s.ready_at is not None]
    if ahead:
        house.send(
            report_mishap, who, "bench", stage=ahead[0].pk, version=ahead[0].version,
            words=house.rng.choice(words.MISHAPS),
        )  # fmt: skip


# --- questions ------------------------------------------------------------------------------


def after_drawing(house: House, job: Job, who: str) -> None:
    """Ask what the design needs: agreement, or something that was seen on the cast."""
    if job.target and job.target not in job.stages:
        later = [key for key in ("wax", "finish", "inspect") if key in job.stages]
        job.target = later[0]
    stand = driving.case_stand(job.pk)
    if "agree" in job.stages:
        house.send(ask_practice, who, "bench", case=job.pk, number=9)
    elif house.rng.random() < trouble.QUESTION and stand.design["clasps"]:
        number, about = house.rng.choice(words.QUESTIONS)
        tooth = str(stand.design["clasps"][0]["tooth"])
        subject = {
            "clasp": {"tooth": tooth}, "lean": {"tooth": tooth, "gap": "0.5 mm"},
        }.get(about, {})  # fmt: skip
        house.send(ask_practice, who, "bench", case=job.pk, number=number, subject=subject)
    if "order" in job.wish.flags:
        stand = driving.case_stand(job.pk)
        house.send(
            hold_case, "selma", case=job.pk, version=stand.version, reason="on-order",
            waits_for="supplier", words="Mould 3C in that shade is on order.", stages=["teeth"],
        )  # fmt: skip
    house.follow(job)
    expect_answers(house, job)


def expect_answers(house: House, job: Job) -> None:
    """Let the practice answer what it was asked, after a while."""
    for question in driving.open_questions(job.pk):
        if f"question-{question.pk}" in job.in_hand:
            continue
        silent = job.wish.flags & MUTE or (job.target == "agree" and question.number == 9)
        if silent and job.target:
            continue
        job.in_hand.add(f"question-{question.pk}")
        when = house.time + _minutes(house.rng.uniform(50, 60 * 22))
        house.later(house.in_hours(when), partial(_answer, house, job, question))


def _answer(house: House, job: Job, question: QuestionStand) -> None:
    """Answer a question: the dentist on the web, or somebody of the practice by telephone."""
    if job.state != "open":
        return
    key, needs = next(
        ((key, needs) for key, needs in question.answers if not {"arch", "date"} & {*needs}),
        question.answers[0],
    )
    note = " ".join(words.ANSWER_NOTES.get(need, "As ordered.") for need in needs)
    entries = _entries(house, needs, note)
    members = house.shop.members[job.wish.place.code]
    if members and house.rng.random() < 0.65:
        house.submit(
            answer_question, house.shop.member(house.rng.choice(members), house.time),
            question=question.pk, answer=key, note=note, entries=entries,
        )  # fmt: skip
    else:
        house.send(
            answer_question, DESK, question=question.pk, answer=key, note=note, entries=entries,
            rang=job.wish.place.rings,
        )  # fmt: skip
    # An answer changes the order, and with it the route.
    house.follow(job, regrown=True)
    _settle_later(house, job)
    agree = job.stages.get("agree")
    if agree is not None and question.number == 9 and agree.state == "planned":
        house.after(house.rng.uniform(3, 12), partial(_agreed, house, job))


def _entries(house: House, needs: Sequence[str], note: str) -> dict[str, object]:
    """Return as data what an answer needs."""
    found: dict[str, object] = {"words": note if {"text", "teeth"} & {*needs} else ""}
    if "time" in needs:
        found["at"] = (house.time - timedelta(hours=1)).isoformat()
    if "minutes" in needs:
        found |= {"agent": "hospital disinfectant", "minutes": 10}
    if "shade" in needs:
        found |= {"shade": "A2", "guide": "the practice's own"}
    if "mould" in needs:
        found["mould"] = "3C"
    return found


def _settle_later(house: House, job: Job) -> None:
    """Let the desk do, after a while, what an answer left to somebody."""
    for question in driving.unsettled_answers(job.pk):
        if f"settle-{question}" not in job.in_hand:
            job.in_hand.add(f"settle-{question}")
            when = house.in_hours(house.time + _minutes(house.rng.uniform(20, 60 * 5)))
            house.later(when, partial(_settle, house, job, question))


def _settle(house: House, job: Job, question: int) -> None:
    if job.state == "open" and question in driving.unsettled_answers(job.pk):
        house.send(settle_answer, DESK, question=question, words=words.SETTLED)


def _agreed(house: House, job: Job) -> None:
    agree = job.stages["agree"]
    if agree.state == "planned" and agree.ready_at is None:
        house.after(30, partial(_agreed, house, job))
        return
    if agree.state == "planned" and not job.held("agree"):
        house.send(finish_stage, DESK, stage=agree.pk, version=agree.version)
        house.follow(job)
