"""What the practice agreed to of a case's design, and where another design alters it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any, Final, cast

from cases.domain.design import Arch
from cases.domain.design import Design as Plan
from cases.domain.design_change import Alteration, alterations
from cases.domain.order import OrderForm
from cases.models import Case, Event, Question

DRAWING, IN_WRITING = 9, 25
"""The question about a drawing, and the one about a change that the practice asked for."""
PROMISED: Final = "written"
"""What an answer awaits while the written word that it promised is still to come."""
YES: Final = {DRAWING: "yes", IN_WRITING: "confirm"}


@dataclass(frozen=True)
class Agreed:
    """The version of a design that changes are held against.

    ``said`` tells whether the practice agreed to it in so many words; otherwise it is the first
    that was finished, for the practice ordered that. ``plan`` has the teeth of an order that was
    corrected since.
    """

    version: int
    plan: Plan
    said: bool
    draft: bool


def answer_key(question: Question) -> str:
    """Return the key of the answer that was given to a question; empty while it is open."""
    if question.answered_at is None:
        return ""
    given = (one["key"] for one in question.answers if one["words"][:400] == question.answer)
    return next(given, "")


def agrees(question: Question, answer: str) -> bool:
    """Tell whether an answer is the practice's yes to the design that it was asked about.

    "I confirm in writing" is one only where the design was changed: asked by hand, the question
    is about the order. Promised on the telephone it is none until it is here.
    """
    if question.number == IN_WRITING and (not question.alters or question.awaits == PROMISED):
        return False
    return YES.get(question.number) == answer


def agreed_versions(case: Case) -> list[int]:
    """Return the versions that the practice said yes to, in the order of its answers (one
    query; one more for questions that were asked before they kept their version)."""
    return [version for version, _at in _yeses(case)]


def _yeses(case: Case) -> list[tuple[int, datetime]]:
    """Return the versions that the practice said yes to, each with when, oldest first."""
    asked = case.questions.filter(
        number__in=YES, answered_at__isnull=False, withdrawn_at__isnull=True
    ).order_by("answered_at", "pk")
    return [
        (_version_asked(case, one), cast(datetime, one.answered_at))
        for one in asked
        if agrees(one, answer_key(one))
    ]


def _version_asked(case: Case, question: Question) -> int:
    if question.design_version:
        return question.design_version
    stood = case.designs.filter(made_at__lte=question.asked_at).order_by("-version")
    return stood.values_list("version", flat=True).first() or 0


def agreed_design(case: Case, now_corrected: Iterable[dict[str, Any]] = ()) -> Agreed | None:
    """Return what the practice agreed to last, else the first finished design; None while nothing
    is finished and nothing agreed (three queries).

    ``now_corrected``: the facts of corrections that are being made and are not written yet.
    """
    rows = {row.version: row for row in case.designs.all() if not row.data["provisional"]}
    said = [(number, at) for number, at in _yeses(case) if number in rows]
    finished = [number for number, row in sorted(rows.items()) if not row.data["draft"]]
    if not said and not finished:
        return None
    number, since = said[-1] if said else (finished[0], rows[finished[0]].made_at)
    data = rows[number].data
    plan = _as_ordered(case, Plan.from_json(data), since, now_corrected)
    return Agreed(number, plan, said=bool(said), draft=bool(data["draft"]))


def _as_ordered(
    case: Case, plan: Plan, since: datetime, now_corrected: Iterable[dict[str, Any]]
) -> Plan:
    """Return a plan with the teeth of the order where that was corrected after ``since``.

    An older order is what the plan was drawn and agreed to by: where they differ, the plan is
    the later word.
    """
    corrected = (
        Event.objects.filter(case=case, kind="order.corrected", happened_at__gt=since)
        .order_by("pk")
        .values_list("facts", flat=True)
    )
    order = OrderForm.from_json(case.order).of_arch(cast(Arch, case.arch))
    fields = _corrected_teeth([*corrected, *now_corrected], case.order)
    if not fields:
        return plan
    taken = frozenset(one.tooth for one in order.extractions)
    extracted = taken if "extractions" in fields else plan.extracted
    # Every tooth taken out at delivery is replaced, as an expected design has it.
    replaced = frozenset(order.replaces) | taken if "replaces" in fields else (
        plan.replaced - (plan.extracted - extracted) | (extracted - plan.extracted)
    )  # fmt: skip
    no_more = (plan.replaced - replaced) | (plan.extracted - extracted)
    missing = (plan.missing - no_more) | replaced | extracted
    return replace(plan, replaced=replaced, extracted=extracted, missing=missing)


def _corrected_teeth(facts: Iterable[dict[str, Any]], order: dict[str, Any]) -> frozenset[str]:
    """Return which teeth corrections, oldest first, left other than they were before the first.

    A correction that was taken back corrected nothing. One of an older program does not say what
    stood before it, and counts.
    """
    before: dict[str, Any] = {}
    for one in facts:
        for field in frozenset({"replaces", "extractions"}) & set(one.get("fields", ())):
            before.setdefault(field, one.get("was", {}).get(field))
    return frozenset(
        field
        for field, was in before.items()
        if was is None or sorted(map(str, was)) != sorted(map(str, order[field]))
    )


def agreed_plans(case: Case) -> tuple[Plan, ...]:
    """Return the drawn designs that the practice said yes to (two queries)."""
    rows = case.designs.filter(version__in=agreed_versions(case))
    return tuple(Plan.from_json(row.data) for row in rows if not row.data["provisional"])


def altered_from(agreed: Agreed | None, plan: Plan) -> tuple[Alteration, ...]:
    """Return where a design alters what was agreed; nothing while nothing is."""
    return alterations(agreed.plan, plan) if agreed is not None else ()


def mark_of(altered: tuple[Alteration, ...]) -> list[dict[str, Any]]:
    """Return alterations as a question keeps them: key and teeth of each."""
    return [{"key": one.key, "teeth": sorted(one.teeth)} for one in altered]
