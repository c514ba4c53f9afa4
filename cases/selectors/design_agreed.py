"""What the practice agreed to of a case's design, and where another design alters it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

from cases.domain.design import Design as Plan
from cases.domain.design_change import Alteration, alterations
from cases.models import Case, Question

DRAWING, IN_WRITING = 9, 25
"""The question about a drawing, and the one about a change that the practice asked for."""
YES: Final = {DRAWING: "yes", IN_WRITING: "confirm"}


@dataclass(frozen=True)
class Agreed:
    """The version of a design that changes are held against.

    ``said`` tells whether the practice agreed to it in so many words; otherwise it is the first
    that was finished, for the practice ordered that.
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
    is about the order.
    """
    if question.number == IN_WRITING and not question.alters:
        return False
    return YES.get(question.number) == answer


def agreed_versions(case: Case) -> list[int]:
    """Return the versions that the practice said yes to, in the order of its answers (one
    query; one more for questions that were asked before they kept their version)."""
    asked = case.questions.filter(
        number__in=YES, answered_at__isnull=False, withdrawn_at__isnull=True
    ).order_by("answered_at", "pk")
    return [_version_asked(case, one) for one in asked if agrees(one, answer_key(one))]


def _version_asked(case: Case, question: Question) -> int:
    if question.design_version:
        return question.design_version
    stood = case.designs.filter(made_at__lte=question.asked_at).order_by("-version")
    return stood.values_list("version", flat=True).first() or 0


def agreed_design(case: Case) -> Agreed | None:
    """Return what the practice agreed to last, else the first finished design; None while nothing
    is finished and nothing agreed (two queries)."""
    rows = {row.version: row for row in case.designs.all() if not row.data["provisional"]}
    said = [number for number in agreed_versions(case) if number in rows]
    finished = [number for number, row in sorted(rows.items()) if not row.data["draft"]]
    number = said[-1] if said else next(iter(finished), None)
    if number is None:
        return None
    data = rows[number].data
    return Agreed(number, Plan.from_json(data), said=bool(said), draft=bool(data["draft"]))


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
