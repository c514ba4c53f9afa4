"""The moves of a case: log it, ask about it, hold it, send it back, hand it on, repeat."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

from cases.domain.order import Extraction, Item
from cases.models import Case, Hold, Question
from cases.services import answer, assign, close_case, hold, log_case, promise, send_back
from tests.factories import make_order
from tests.machine.driver import Driver
from tests.machine.registry import move

MOST_CASES = 3


def any_order(m: Driver) -> dict[str, Any]:
    """Return an order as JSON; now and then for a pair, or with a thing that follows later."""
    entries: dict[str, Any] = {}
    if m.pick.random() < 0.2:
        box = tuple(Item("working", "cast", arch=arch) for arch in ("upper", "lower"))
        entries = {"arch": "both", "replaces": (16, 46), "items": box}
    elif m.pick.random() < 0.4:
        order = make_order(m.now)
        entries = {"items": (order.items[0], Item("opposing", "impression", follows_later=True))}
    else:
        entries = {"extractions": m.pick.choice([(), (), (Extraction(36, "flush"),)])}
    return make_order(
        m.now,
        appointment_on=(m.now + timedelta(days=m.pick.choice([-1, 2, 20, 30]))).date(),
        ordered_on=m.now.date(),
        shade_how=m.words("laboratory"),
        bite=m.pick.choice(["by-hand", "by-hand", "rim"]),
        extraction_order=True,
        **entries,
    ).to_json()


def any_reference(m: Driver) -> str:
    """Return a patient's reference; one of them is none."""
    return str(m.pick.choice(["Q-1180", "Q-1181", "A/7", "NONUMBER"]))


@move(3)
def log_one(m: Driver) -> None:
    """Log a case; the lab of a run stays small."""
    count = Case.objects.count()
    if count >= MOST_CASES or (count >= 2 and m.pick.random() < 0.8):
        return
    m.send(
        log_case.log_case,
        m.who("noor"),
        practice=m.shop.practice.pk,
        dentist=m.shop.dentist.pk,
        patient_ref=any_reference(m),
        order=any_order(m),
    )


@move(3)
def back(m: Driver) -> None:
    """Send a case back to an earlier stage."""
    row = m.stage("running", "done")
    if row is None:
        return
    earlier = list(row.case.stages.filter(position__lte=row.position, state="done"))
    target = m.one(earlier) or row
    standing = {}
    other = m.one(earlier)
    if other is not None and m.pick.random() < 0.3:
        standing[other.key] = "not touched by it"
    m.send(
        send_back.send_back,
        m.who("mara", "oren"),
        stage=row.pk,
        version=m.version(row),
        to=target.key,
        reason=m.words("bracing-low"),
        standing=standing,
    )


def _some_day(m: Driver) -> str:
    """Return a day to come, now and then one that is over, or none."""
    days = m.pick.choice([None, None, 1, 4, -2])
    return "" if days is None else (m.now + timedelta(days=days)).date().isoformat()


@move(3)
def hold_or_release(m: Driver) -> None:
    """Stop a case or let it go on."""
    open_hold = m.one(list(Hold.objects.all()))
    if open_hold is not None and m.pick.random() < 0.6:
        m.send(hold.release_hold, m.who("noor", "mara"), hold=open_hold.pk)
        return
    case = m.case()
    if case is not None:
        m.send(
            hold.hold_case,
            m.who("noor", "mara"),
            case=case.pk,
            version=m.version(case),
            reason=m.words("on-order"),
            waits_for="supplier",
            stages=m.pick.choice([[], ["wax"], ["teeth", "wax"]]),
            expected_on=_some_day(m),
        )


@move(4)
def ask_and_answer(m: Driver) -> None:
    """Ask the practice, answer for it, or take a question back."""
    question = m.one(list(Question.objects.all()))
    if question is None or m.pick.random() < 0.3:
        case = m.case()
        if case is not None:
            m.send(
                hold.ask_practice,
                m.who("mara"),
                case=case.pk,
                number=m.pick.choice([1, 3, 6, 7, 8, 14, 15, 16, 20, 21, 22, 77]),
                subject={},
            )
        return
    if m.pick.random() < 0.15:
        m.send(
            hold.withdraw_question,
            m.who("noor"),
            question=question.pk,
            words=m.words("answered on the paper"),
        )
        return
    chosen = m.pick.choice([a["key"] for a in question.answers] + ["nonsense"])
    who = m.who("lind", "remy", "vega", "noor")
    door = "portal" if who in {"lind", "remy", "vega"} else "web"
    m.send(
        answer.answer_question,
        who,
        door=door,
        question=question.pk,
        answer=chosen,
        note=m.words("17"),
        rang="Remy" if who == "noor" else "",
        entries=m.pick.choice([None, given(m), {"day": "soon"}]),
    )


def given(m: Driver) -> dict[str, Any]:
    """Return what may be entered with an answer, for whichever question."""
    return {
        "day": (m.now + timedelta(days=m.pick.choice([-1, 25]))).date().isoformat(),
        "at": (m.now - timedelta(minutes=5)).isoformat(),
        "minutes": 10,
        "depths": {"36": m.pick.choice(["flush", "1mm"])},
        "shade": "A2",
        "guide": "the usual",
        "agent": "hospital disinfectant",
        "words": m.pick.choice(["", "", "as before"]),
    }


@move(2)
def settle_an_answer(m: Driver) -> None:
    """Say that nothing is left to do with an answer; now and then with one that is settled."""
    rows = list(Question.objects.filter(answered_at__isnull=False).exclude(awaits=""))
    row = m.one(rows)
    if row is not None:
        m.send(
            answer.settle_answer, m.who("noor", "mara"), question=row.pk,
            words=m.words("seen with the dentist"),
        )  # fmt: skip


@move(2)
def note_or_mishap(m: Driver) -> None:
    """Write something down."""
    case = m.case()
    row = m.stage("running")
    if m.pick.random() < 0.5 and case is not None:
        m.send(
            close_case.write_note,
            m.who("noor"),
            case=case.pk,
            text=m.words("rang again"),
            telephone=True,
            from_whom="Remy",
        )
    elif row is not None:
        m.send(
            close_case.report_mishap,
            m.who("mara"),
            stage=row.pk,
            version=m.version(row),
            words=m.words("fell on the floor"),
        )


@move(2)
def give_away(m: Driver) -> None:
    """Assign, hand over, hand on everything."""
    row = m.stage("planned", "paused", "running")
    if row is None:
        return
    people = m.shop.people
    to = m.pick.choice([people["mara"].pk, people["oren"].pk, people["noor"].pk])
    kind = m.pick.random()
    if kind < 0.4:
        m.send(assign.assign_stage, m.who("noor"), stage=row.pk, version=m.version(row), person=to)
    elif kind < 0.8:
        m.send(
            assign.hand_over,
            m.who("mara"),
            stage=row.pk,
            version=m.version(row),
            words=m.words("teeth are set, bite not seen"),
            person=to,
        )
    else:
        m.send(
            assign.hand_on_work,
            m.who("pavo"),
            person=people["mara"].pk,
            to=m.pick.choice([people["oren"].pk, people["noor"].pk]),
        )


@move(2)
def promise_again(m: Driver) -> None:
    """Promise another day."""
    case = m.case()
    if case is not None:
        day = (m.now + timedelta(days=m.pick.choice([-3, 9]))).date().isoformat()
        m.send(
            promise.promise_day,
            m.who("noor"),
            case=case.pk,
            version=m.version(case),
            ship_on=day,
            reason=m.words("flask broke"),
        )


@move(1)
def cancel(m: Driver) -> None:
    """Cancel a case, seldom."""
    case = m.case()
    if case is not None and m.pick.random() < 0.25:
        m.send(
            close_case.cancel_case,
            m.who("noor"),
            case=case.pk,
            version=m.version(case),
            reason=m.words("patient moved away"),
        )


@move(4)
def send_again(m: Driver) -> None:
    """A lost reply: the same submission comes again."""
    m.repeat()


@move(1)
def send_other_body(m: Driver) -> None:
    """A stale page: another body under the same id."""
    m.reuse_id()
