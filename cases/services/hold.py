"""Holds, and questions to the practice. Their answers are in ``answer.py``."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime
from typing import Any

from django.utils.translation import gettext as _

from cases.domain import questions as asked
from cases.domain.reasons import HOLD
from cases.domain.teeth import parse_teeth
from cases.domain.toothwords import named_row
from cases.models import Case, CaseStage, Hold, Question
from cases.selectors.design_agreed import agrees, answer_key
from cases.selectors.hours import lab_calendar
from cases.services.access import lock_case, lock_open_case
from cases.services.progress import refresh
from cases.services.record import Recorder, Refusal, verb
from cases.services.stage import close_span


def reason_words(key: str) -> str:
    """Return the words of a hold reason; a key that is not in the list stands for itself."""
    return {one.key: one.words for one in HOLD.reasons}.get(key, key)


def put_down(record: Recorder, case: Case, stages: list[str]) -> None:
    """Pause running stages that a hold stops (all of them when ``stages`` is empty)."""
    running = [
        stage for stage in case.stages.filter(state="running") if not stages or stage.key in stages
    ]
    for stage in running:
        for run in stage.runs.filter(ended_at__isnull=True):
            close_span(record, run)
        record.change(stage, state="paused", version=stage.version + 1)
    if running:
        refresh(record, case)


def open_hold(
    record: Recorder,
    case: Case,
    *,
    reason: str,
    waits_for: str,
    words: str = "",
    stages: list[str] | None = None,
    question: Question | None = None,
    expected_on: date | None = None,
) -> Hold:
    """Create a hold under the current event and put down what it stops."""
    put_down(record, case, stages or [])
    # A hold always says why in words: what is stored is read on every screen.
    words = words.strip() or reason_words(reason)
    return record.create(
        Hold,
        case=case,
        stages=stages or [],
        reason=reason,
        words=words[:200],
        waits_for=waits_for,
        expected_on=expected_on,
        question=question,
        by=record.person,
        opened_at=record.now,
    )


def _expected(text: str, now: datetime) -> date | None:
    if not text.strip():
        return None
    try:
        day = date.fromisoformat(text.strip())
    except ValueError:
        raise Refusal("no-day", _("Enter a day, or leave it empty."), field="expected_on") from None
    if day < lab_calendar().local_day(now):
        raise Refusal("past-day", _("That day is over. Choose a day to come."), field="expected_on")
    return day


@verb("case.hold", may="hold")
def hold_case(
    record: Recorder,
    *,
    case: int,
    version: int,
    reason: str,
    waits_for: str,
    words: str = "",
    stages: list[str] | None = None,
    expected_on: str = "",
) -> dict[str, Any]:
    """Stop a case, or single stages of it, with whom it waits for.

    Parameters
    ----------
    expected_on
        ISO day on which it is expected to go on; empty where nobody can say. Plans reckon with it.

    Raises
    ------
    Refusal
        ``no-reason``, ``no-day``, ``past-day``.
    """
    row = lock_open_case(case, version=version)
    if not reason:
        raise Refusal("no-reason", _("Choose why it stops."), field="reason")
    if not waits_for:
        raise Refusal("no-reason", _("Say whom it waits for."), field="waits_for")
    until = _expected(expected_on, record.now)
    record.event(
        "case.held",
        case=row,
        reason=reason,
        waits_for=waits_for,
        stages=stages or [],
        expected_on=until.isoformat() if until else "",
    )
    hold = open_hold(
        record,
        row,
        reason=reason,
        waits_for=waits_for,
        words=words,
        stages=stages,
        expected_on=until,
    )
    record.change(row, version=row.version + 1)
    return {"hold": hold.pk, "version": row.version}


def refuse_unagreed(question: Question | None) -> None:
    """Raise Refusal where letting go would let work go on that nobody agreed to.

    Raises
    ------
    Refusal
        ``not-agreed``: the question is about a change of the design, and no yes has come.
    """
    if question is None or not question.alters or agrees(question, answer_key(question)):
        return
    raise Refusal(
        "not-agreed",
        _(
            "The design alters what was agreed. Enter the answer of the practice, or put the "
            "design back: then this falls away by itself."
        ),
    )


@verb("case.release", may="hold")
def release_hold(record: Recorder, *, hold: int, words: str = "") -> dict[str, Any]:
    """Let a held case go on.

    Raises
    ------
    Refusal
        ``no-hold``, ``already-released``, ``not-agreed`` while the practice has not agreed to the
        change of the design that it holds.
    """
    found = Hold.objects.filter(pk=hold).values_list("case_id", flat=True).first()
    if found is None:
        raise Refusal("no-hold", _("There is no such hold. Load the page again."))
    case = lock_case(found)
    row = Hold.objects.select_for_update().get(pk=hold)
    if row.released_at is not None:
        raise Refusal("already-released", _("Somebody released it already."))
    refuse_unagreed(row.question)
    record.event("case.released", case=case, subject=row.reason, words=words[:200])
    record.change(row, released_at=record.now, released_by=record.person)
    if row.question is not None and row.question.awaits == "ring" and row.question.unsettled:
        # Who lets it go on has rung: nothing more is to be done with "please ring me".
        settle(record, row.question, words)
    record.change(case, version=case.version + 1)
    return {"hold": row.pk}


def _named(subject: dict[str, str]) -> dict[str, str]:
    """Return what fills the words of a question, teeth with whose numbers they are."""
    if "tooth" not in subject:
        return subject
    try:
        return {**subject, "tooth": named_row(parse_teeth(subject["tooth"], "fdi"))}
    except ValueError as error:
        raise Refusal("no-subject", str(error), field="tooth") from error


def ask(
    record: Recorder,
    case: Case,
    spec: asked.Question,
    subject: dict[str, str],
    *,
    stage: str = "",
    stops: Sequence[str] = (),
    reason: str = "answer",
) -> Question:
    """Create a question under the current event, and the hold on the stages it stops.

    ``subject`` fills the question's placeholders, a tooth as FDI number; ``stage`` is where it was
    asked, for questions that stop that stage; ``stops`` are further stages that wait.

    Raises
    ------
    Refusal
        ``no-subject`` where what should be teeth is none.
    """
    at_stage = [stage] if spec.stops_stage_asked_at and stage else []
    wanted = list(dict.fromkeys([*spec.stops, *stops, *at_stage]))
    row = record.create(
        Question,
        case=case,
        number=spec.number,
        subject=", ".join(subject.values())[:60],
        words=asked.write_out(spec, **_named(subject))[:400],
        answers=[
            {"key": a.key, "words": a.words, "needs": list(a.needs)} for a in asked.answers_to(spec)
        ],
        stops=wanted,
        reception_may=spec.reception,
        asked_by=record.person,
        asked_at=record.now,
        design_version=case.design.version if case.design is not None else 0,
    )
    present = [key for key in wanted if case.stages.filter(key=key).exists()]
    if present:
        open_hold(
            record,
            case,
            reason=reason or "answer",
            waits_for="practice",
            words=row.words[:200],
            stages=present,
            question=row,
        )
    return row


@verb("question.ask", may="hold")
def ask_practice(
    record: Recorder,
    *,
    case: int,
    number: int = 0,
    subject: dict[str, str] | None = None,
    words: str = "",
    stage: int | None = None,
) -> dict[str, Any]:
    """Ask the practice one of the lab's questions, or (number 0) one in own ``words``.

    What does not need the answer goes on.
    """
    row = lock_open_case(case)
    filled = subject or {}
    try:
        spec = asked.BY_NUMBER[number] if number else asked.free_question(words)
        asked.write_out(spec, **filled)
    except KeyError as error:
        raise Refusal("no-question", _("Choose one of the questions."), field="number") from error
    except ValueError as error:
        raise Refusal("no-subject", str(error), field="subject") from error
    at = CaseStage.objects.filter(pk=stage, case=row).first() if stage else None
    record.event("question.asked", case=row, subject=str(number))
    question = ask(record, row, spec, filled, stage=at.key if at else "")
    record.change(row, version=row.version + 1)
    return {"question": question.pk}


def settle(record: Recorder, question: Question, words: str) -> None:
    """Note under the current event that somebody has done what an answer asked for."""
    record.change(
        question,
        settled_at=record.now,
        settled_by=record.person,
        settled_words=words.strip(),
    )


@verb("question.withdraw", may="hold")
def withdraw_question(record: Recorder, *, question: int, words: str) -> dict[str, Any]:
    """Take a question back that needs no answer any more.

    Raises
    ------
    Refusal
        ``no-question``, ``answered``, ``no-reason`` without words, ``not-agreed`` while the design
        is changed as the question says.
    """
    found = Question.objects.filter(pk=question).values_list("case_id", flat=True).first()
    if found is None:
        raise Refusal("no-question", _("There is no such question. Load the page again."))
    case = lock_case(found)
    row = Question.objects.select_for_update().get(pk=question)
    if row.answered_at or row.withdrawn_at:
        raise Refusal("answered", _("This question is closed already."))
    if not words.strip():
        raise Refusal("no-reason", _("Say why no answer is needed."), field="words")
    refuse_unagreed(row)
    record.event("question.withdrawn", case=case, subject=str(row.number))
    record.change(row, withdrawn_at=record.now, answer_note=words.strip())
    for hold in row.holds.filter(released_at__isnull=True):
        record.change(hold, released_at=record.now, released_by=record.person)
    return {"question": row.pk}
