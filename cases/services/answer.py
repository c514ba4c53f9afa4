"""Answers of the practice: what they let go on, and what they change in the order.

An answer with one clear meaning is entered in the order by the same submission, as a correction
by who answered; what was received stays in the prescription. What cannot be entered so is kept
with what somebody still has to do (``cases.domain.answer_order``).
"""

from __future__ import annotations

import dataclasses
from typing import Any

from django.utils.translation import gettext as _

from cases.domain import questions as asked
from cases.domain.answer_order import Effect, Given, How, Step, Why, effect_of
from cases.domain.design import Design as Plan
from cases.domain.order import OrderForm
from cases.models import Case, Event, PracticeMember, Question, Received
from cases.selectors.design_agreed import PROMISED, agrees
from cases.services.access import lock_case, lock_open_case
from cases.services.agreement import KEEP, agreed_now, ask_again, stand_still
from cases.services.correct_order import (
    TEETH,
    differing_entries,
    first_error,
    grow_again,
    store_order,
    teeth_before,
)
from cases.services.grow import store_design, would_lose
from cases.services.hold import open_hold, settle
from cases.services.received import restart_pour_clock
from cases.services.record import Recorder, Refusal, verb

OVER = ("done", "skipped", "countersign", "away")
"""States of a stage whose piece has left the hands that made it."""
LETS_NOTHING_GO = "in-writing"
"""Why an answer lets nothing go on: the written word is still to come."""


@verb("question.answer", may=None)
def answer_question(
    record: Recorder,
    *,
    question: int,
    answer: str,
    note: str = "",
    rang: str = "",
    entries: dict[str, Any] | None = None,
) -> dict[str, Any]:
    """Store the practice's answer, enter it in the order and release what waited for it.

    Parameters
    ----------
    answer
        Key of one of the question's answers.
    note
        What was entered with it, in words, as it is shown.
    rang
        Who said it, where the laboratory enters an answer got on the telephone.
    entries
        The same as data (``answer_order.Given``). Without it the note is read as free words.

    Raises
    ------
    Refusal
        ``answered`` when somebody was first, ``withdrawn``, ``no-answer`` for an unknown choice,
        ``no-note``, ``bad-entry``, ``dentist-only`` for reception, ``who-rang`` for a telephone
        answer without a name.
    """
    found = Question.objects.filter(pk=question).values_list("case_id", flat=True).first()
    if found is None:
        raise Refusal("no-question", _("There is no such question. Load the page again."))
    case = lock_open_case(found)
    row = Question.objects.select_for_update().get(pk=question)
    how = _may_answer(record, case, row)
    if row.answered_at is not None:
        raise Refusal("answered", _("This question was answered meanwhile. Look at the answer."))
    if row.withdrawn_at is not None:
        raise Refusal(
            "withdrawn", _("This question was taken back meanwhile. Look at what is asked now.")
        )
    chosen = {item["key"]: item for item in row.answers}.get(answer)
    if chosen is None:
        raise Refusal("no-answer", _("Choose one of the answers."), field="answer")
    if chosen["needs"] and not note.strip():
        raise Refusal("no-note", _("This answer needs a few words or a date."), field="note")
    if how == "telephone" and not rang.strip():
        raise Refusal("who-rang", _("Say who at the practice answered."), field="rang")
    given = _given(note, entries)
    record.event("question.answered", case=case, subject=str(row.number), answer=answer, how=how)
    note_kept = f"{note.strip()} ({rang.strip()})" if rang.strip() else note.strip()
    record.change(
        row,
        answer=chosen["words"][:400],
        answer_note=note_kept,
        answered_by=record.actor,
        answered_at=record.now,
        answered_how=how,
    )
    effect = effect_of(row.number, answer, given, OrderForm.from_json(case.order), how)
    promised = effect.step == PROMISED
    yes = agrees(row, answer) and not promised
    if row.alters and not yes and not promised and answer != "ring-me":
        effect = Effect(step="design", why="refused" if answer == KEEP else "words")
        stand_still(record, case, row, answer)
    elif answer != "ring-me" and effect.why != LETS_NOTHING_GO:
        _let_go(record, case, row, answer, how)
    _enter(record, case, row, effect, how)
    if yes:
        agreed_now(record, case)
    record.change(case, version=case.version + 1)
    return {
        "question": row.pk, "case": case.pk, "changed": row.changed, "awaits": row.awaits
    }  # fmt: skip


def _given(note: str, entries: dict[str, Any] | None) -> Given:
    if entries is None:
        return Given(words=note)
    try:
        return Given.from_json(entries)
    except (ValueError, TypeError) as error:
        raise Refusal(
            "bad-entry", _("An entry of the answer cannot be read. Enter it again.")
        ) from error


def _may_answer(record: Recorder, case: Case, question: Question) -> How:
    """Return how the answer came: ``practice`` itself or by ``telephone`` through the lab."""
    if record.may("hold"):
        return "telephone"
    member = PracticeMember.objects.filter(
        person=record.actor, practice_id=case.practice_id
    ).exists()
    needed = "answer-simple" if question.reception_may else "answer"
    if not member or not record.may(needed):
        raise Refusal("dentist-only", _("This question wants the dentist's own answer."))
    return "practice"


def _let_go(record: Recorder, case: Case, row: Question, answer: str, how: How) -> None:
    """Release what waited for an answer, unless the answer itself makes it wait on.

    A written order is never given by telephone: a hold for a signature stays until it is here.
    """
    spec = asked.BY_NUMBER.get(row.number)
    still_waits = asked.answer_to(spec, answer).still_waits if spec else ""
    for hold in row.holds.filter(released_at__isnull=True):
        if hold.reason == "signature" and how == "telephone":
            continue
        record.change(hold, released_at=record.now, released_by=record.person)
        if still_waits:
            open_hold(
                record,
                case,
                reason=still_waits,
                waits_for="practice",
                words=row.answer,
                stages=hold.stages,
            )


# --- into the order -------------------------------------------------------------------------


def _enter(record: Recorder, case: Case, row: Question, effect: Effect, how: How) -> None:
    """Enter an answer's effect in the order, or keep what somebody has to do with it.

    Stages that are done are never opened again by an answer: what it puts in question is shown.
    """
    before = OrderForm.from_json(case.order)
    form = dataclasses.replace(before, **effect.changes)
    differing = differing_entries(before, form)
    past = [
        stage.key
        for stage in case.stages.filter(state__in=OVER).order_by("position")
        if stage.key in effect.concerns
    ]
    bar = _other_bar(case, effect)
    step, why = effect.step, effect.why
    if not differing and not bar:
        _keep(record, row, [], step, why, [])
        return
    obstacle = _obstacle(record, case, form, differing, effect, past)
    if obstacle:
        _keep(record, row, [], *obstacle, past if obstacle[1] == "past" else [])
        return
    logged = Event.objects.filter(case=case, kind__in=["case.logged", "order.corrected"])
    fields = sorted(differing) + (["bar"] if bar else [])
    record.event(
        "order.corrected",
        case=case,
        subject=str(row.number),
        corrects=logged.order_by("-pk").first(),
        fields=fields,
        answered=how,
        **teeth_before(case, differing),
    )
    if past:
        step, why = step or "look", "past"
    _keep(record, row, fields, step, why, past)
    if differing:
        store_order(record, case, form)
        _box(record, case, before, form)
        grow_again(record, case, form, teeth_too=_other_teeth(before, form))
    if bar:
        plan = Plan.from_json(case.design.data)  # type: ignore[union-attr]
        store_design(record, case, dataclasses.replace(plan, bar=bool(effect.bar)), "")


def _keep(
    record: Recorder, row: Question, fields: list[str], step: Step, why: Why, past: list[str]
) -> None:
    record.change(
        row, changed=fields, awaits=step, awaits_why=why if step else "", in_question=past
    )


def _other_bar(case: Case, effect: Effect) -> bool:
    """Tell whether an answer wants another bar than the case has."""
    has = bool(case.design and case.design.data["bar"])
    return effect.bar is not None and effect.bar != has


def _other_teeth(before: OrderForm, after: OrderForm) -> bool:
    """Tell whether other teeth are replaced or taken out; a depth alone is no other tooth."""

    def teeth(form: OrderForm) -> tuple[frozenset[int], frozenset[int]]:
        return frozenset(form.replaces), frozenset(one.tooth for one in form.extractions)

    return teeth(before) != teeth(after)


def _obstacle(
    record: Recorder,
    case: Case,
    form: OrderForm,
    differing: frozenset[str],
    effect: Effect,
    past: list[str],
) -> tuple[Step, Why] | None:
    """Return what keeps an answer from being entered by itself: who does it, and why."""
    step: Step = "order" if differing else "design"
    drawn = case.design is not None and not case.design.data["provisional"]
    if past and not effect.fact:
        return step, "past"
    if drawn and (not differing or (differing & TEETH and _drawn_otherwise(case, form))):
        return "design", "drawn"
    work = form.work_order()
    if case.state == "packed" and (not differing or work.to_json() != case.work_order):
        return step, "packed"
    if first_error(form, differing, now=record.now) is not None:
        return step, "unfit"
    if case.design is not None:
        plan = Plan.from_json(case.design.data)
        if effect.bar is not None:
            plan = dataclasses.replace(plan, bar=effect.bar)
        if would_lose(case, plan, work) is not None:
            return step, "in-hand"
    return None


def _drawn_otherwise(case: Case, form: OrderForm) -> bool:
    """Tell whether the teeth that the drawn design takes out are not those of the order."""
    drawn = Plan.from_json(case.design.data)  # type: ignore[union-attr]
    return drawn.extracted != {one.tooth for one in form.extractions}


def _box(record: Recorder, case: Case, before: OrderForm, after: OrderForm) -> None:
    """Bring what came in the box in line with what an answer told of it."""
    if before.items == after.items:
        return
    here = [item for item in after.items if item.is_impression and not item.follows_later]
    for row in case.received.filter(state="here", form="impression"):
        told = next((item for item in here if item.kind == row.item), None)
        if told is not None:
            record.change(row, taken_at=told.taken_at, material=told.material)
    for item in after.items:
        if not item.follows_later or item in before.items:
            continue
        expected = case.received.filter(item=item.kind, state="expected").first()
        if expected is not None:
            record.change(expected, expected_on=item.expected_on)
        else:
            record.create(
                Received, case=case, item=item.kind, form=item.form,
                expected_on=item.expected_on, state="expected",
            )  # fmt: skip
    restart_pour_clock(record, case)


# --- what somebody did with it --------------------------------------------------------------


@verb("question.settle", may="hold")
def settle_answer(record: Recorder, *, question: int, words: str) -> dict[str, Any]:
    """Note that what an answer asks for is done, or that it needs nothing.

    A hold that stayed because the practice wanted to be rung is released with it; one that waits
    for agreement to a change of the design is not. Where the practice promised to confirm in
    writing, this notes that the confirmation is here: what waited for it goes on, and the change
    is still to be entered in the order.

    Raises
    ------
    Refusal
        ``no-question``, ``settled`` when somebody was first, ``no-reason`` without words.
    """
    found = Question.objects.filter(pk=question).values_list("case_id", flat=True).first()
    if found is None:
        raise Refusal("no-question", _("There is no such question. Load the page again."))
    case = lock_case(found)
    row = Question.objects.select_for_update().get(pk=question)
    if not row.unsettled:
        raise Refusal("settled", _("Nothing is left to do with this answer. Load the page again."))
    if not words.strip():
        raise Refusal("no-reason", _("Say what was done, or why nothing is needed."), field="words")
    record.event("question.settled", case=case, subject=str(row.number))
    if row.awaits == PROMISED:
        _confirmed(record, case, row, words)
        record.change(case, version=case.version + 1)
        return {"question": row.pk, "case": case.pk}
    settle(record, row, words)
    if row.awaits == "ring" and row.alters:
        # What was said on the telephone is an answer: the same is asked again to take it.
        ask_again(record, case, row)
    elif row.awaits == "ring":
        for hold in row.holds.filter(released_at__isnull=True).exclude(reason="signature"):
            record.change(hold, released_at=record.now, released_by=record.person)
    record.change(case, version=case.version + 1)
    return {"question": row.pk, "case": case.pk}


def _confirmed(record: Recorder, case: Case, row: Question, words: str) -> None:
    """Take the written confirmation that was promised as the answer, and let go what waited."""
    note = "; ".join(part for part in (row.answer_note.strip(), words.strip()) if part)
    record.change(row, awaits="order", awaits_why="words", answer_note=note)
    for hold in row.holds.filter(released_at__isnull=True).exclude(reason="signature"):
        record.change(hold, released_at=record.now, released_by=record.person)
    if agrees(row, "confirm"):
        agreed_now(record, case)
