"""A design that alters what the practice agreed to: asked, held, let go, or refused.

A change is held against what was agreed (``cases.selectors.design_agreed``), not against the
version before it, so that going back to that asks nothing and lets everything go. What a practice
refuses stands still until the design is put back, or until something else is asked.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

from django.utils.translation import gettext as _

from cases.domain import questions as asked
from cases.domain.design import Design as Plan
from cases.domain.design_change import Alteration, stages_of
from cases.domain.teeth import teeth_of_arch
from cases.domain.toothwords import named_row
from cases.models import Case, Question
from cases.selectors.design_agreed import (
    DRAWING,
    IN_WRITING,
    PROMISED,
    agreed_design,
    agrees,
    altered_from,
    answer_key,
    mark_of,
)
from cases.services.hold import ask, open_hold, settle
from cases.services.record import Recorder

OPEN_STATES = ("planned", "running", "paused", "countersign", "away")
KEEP = "keep"
"""The answer that refuses a change."""


def reconcile(record: Recorder, case: Case, plan: Plan, asked_by: str = "lab") -> int | None:
    """Ask, hold and let go as a finished design wants it; return the question that is open.

    ``asked_by``: who wished the change, ``lab`` or ``practice``.
    """
    corrected = [one.facts for one in record.events if one.kind == "order.corrected"]
    altered = altered_from(agreed_design(case, corrected), plan)
    standing = standing_questions(case)
    if not altered:
        words = _("The design is what was agreed.")
        for question in standing:
            _close(record, case, question, words)
        return None
    last = standing[-1] if standing else None
    same = last is not None and last.alters == mark_of(altered)
    stands = last is not None and (last.awaits == PROMISED or answer_key(last) in ("", KEEP))
    if last is not None and same and stands:
        # Nothing else is asked than what is asked already, was refused, or will be confirmed in
        # writing. "Yes, but …" is none of them: the version that minds it is shown again.
        _hold_more(record, case, last, altered)
        return last.pk if last.answered_at is None else None
    for question in standing:
        _close(record, case, question, _("Asked anew about the design as it is drawn now."))
    by_bench = asked_by != "practice" or any(one.number == DRAWING for one in standing)
    return _ask(record, case, DRAWING if by_bench else IN_WRITING, plan, altered)


def standing_questions(case: Case) -> list[Question]:
    """Return the questions about a change that are open, or were not answered by a yes and
    still hold something or want something done; oldest first (two queries)."""
    rows = case.questions.filter(number__in=(DRAWING, IN_WRITING), withdrawn_at__isnull=True)
    found = [one for one in rows.order_by("pk").prefetch_related("holds") if one.alters]
    return [
        one
        for one in found
        if one.answered_at is None
        or (
            not agrees(one, answer_key(one))
            and (one.unsettled or any(hold.released_at is None for hold in one.holds.all()))
        )
    ]


def _waiting(case: Case, altered: Iterable[Alteration]) -> list[str]:
    """Return the unfinished stages that look at what is altered, in the order of the route.

    Where all of them are over and were left standing, nothing further is begun.
    """
    ahead = list(
        case.stages.filter(state__in=OPEN_STATES).order_by("position").values_list("key", "kind")
    )
    touched = stages_of(altered)
    found = [key for key, _kind in ahead if key in touched]
    return found or [key for key, kind in ahead if kind == "attended"][:1]


def _ask(
    record: Recorder, case: Case, number: int, plan: Plan, altered: Sequence[Alteration]
) -> int:
    row = teeth_of_arch(case.arch)
    said = "; ".join(
        f"{_(one.words)}: {named_row(plan.number_at(t) for t in row if t in one.teeth)}"
        for one in altered
    )
    record.event("question.asked", case=case, subject=str(number))
    # It stops what the change touches, and not what the question stops elsewhere.
    spec = replace(asked.question(number), stops=())
    question = ask(record, case, spec, {}, stops=_waiting(case, altered), reason="agreement")
    words = f"{question.words} {said}."[:400]
    record.change(question, words=words, alters=mark_of(tuple(altered)))
    return question.pk


def _hold_more(
    record: Recorder, case: Case, question: Question, altered: Iterable[Alteration]
) -> None:
    """Hold stages that a question did not hold yet, for what the last hold of it waits for."""
    holds = [hold for hold in question.holds.all() if hold.released_at is None]
    held = {key for hold in holds for key in hold.stages}
    more = [key for key in _waiting(case, altered) if key not in held]
    if not more:
        return
    last = holds[-1] if holds else None
    open_hold(
        record,
        case,
        reason=last.reason if last else "agreement",
        waits_for=last.waits_for if last else "practice",
        words=last.words if last else question.words,
        stages=more,
        question=question,
    )


def hold_reopened(record: Recorder, case: Case) -> None:
    """Hold stages that were opened again and look at what the practice has not agreed to."""
    for question in standing_questions(case):
        marks = question.alters
        altered = [Alteration(one["key"], "", frozenset(one["teeth"])) for one in marks]
        _hold_more(record, case, question, altered)


def after_order(record: Recorder, case: Case) -> None:
    """Hold what is asked about the design against the order as it now stands.

    What the order says as well is asked no more, and what a corrected order opens again waits with
    the rest. An order alone asks nothing: that is for who draws.
    """
    if standing_questions(case):
        # Who wished the change is read from the question that stands.
        agreed_now(record, case, asked_by="practice")


def _close(record: Recorder, case: Case, question: Question, words: str) -> None:
    """End a question about a change that is no more, and let go what waited for it."""
    holds = [hold for hold in question.holds.all() if hold.released_at is None]
    if question.answered_at is None:
        record.event("question.withdrawn", case=case, subject=str(question.number))
        record.change(question, withdrawn_at=record.now, answer_note=words)
    elif question.unsettled:
        record.event("question.settled", case=case, subject=str(question.number))
        settle(record, question, words)
    else:
        record.event("case.released", case=case, subject=holds[0].reason, words=words[:200])
    for hold in holds:
        record.change(hold, released_at=record.now, released_by=record.person)


# --- the answer -----------------------------------------------------------------------------


def stand_still(record: Recorder, case: Case, question: Question, answer: str) -> None:
    """Keep what waited for the answer where it is: it was no yes.

    From now on it waits for the laboratory, which puts the design back or changes it.
    """
    agreed = agreed_design(case)
    refused = answer == KEEP
    words = question.answer
    if refused and agreed is not None:
        words = _(
            "The practice refused the change of the design. It goes back to version %(n)s first, "
            "or something else is asked."
        ) % {"n": agreed.version}
    for hold in question.holds.filter(released_at__isnull=True):
        record.change(hold, released_at=record.now, released_by=record.person)
        open_hold(
            record,
            case,
            reason="design-back" if refused else "agreement",
            waits_for="laboratory",
            words=words,
            stages=hold.stages,
            question=question,
        )


def agreed_now(record: Recorder, case: Case, asked_by: str = "lab") -> None:
    """Let go what the practice has just agreed to; ask on where the present design is another."""
    if case.design is None or case.design.data["provisional"] or case.design.data["draft"]:
        return
    reconcile(record, case, Plan.from_json(case.design.data), asked_by)


def ask_again(record: Recorder, case: Case, question: Question) -> None:
    """Ask the same change once more, where the practice wanted to be rung about it."""
    plan = Plan.from_json(case.design.data)  # type: ignore[union-attr]
    altered = altered_from(agreed_design(case), plan)
    for hold in question.holds.filter(released_at__isnull=True):
        record.change(hold, released_at=record.now, released_by=record.person)
    if altered:
        _ask(record, case, question.number, plan, altered)
