"""What is left to do with an answer of the practice: why, and the page on which it is done."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from cases.models import Case, Question
from cases.selectors.design_agreed import agreed_design
from cases.views.case.order_words import FIELD_WORDS

WHY = {
    "words": gettext_noop("It is said in words: somebody has to read it."),
    "missing": gettext_noop("The answer does not carry everything that the order needs."),
    "in-writing": gettext_noop(
        "It was said on the telephone, and this wants the written word. Until it is here the work "
        "goes by what is in writing."
    ),
    "drawn": gettext_noop("The design is drawn already: who drew it brings it in line."),
    "day": gettext_noop("The practice has named a day. Choose the day on which it leaves."),
    "limit": gettext_noop(
        "How long this material keeps is not known. Read it on the packet, or pour at once."
    ),
    "past": gettext_noop("It came after work that it concerns. Look at the piece."),
    "packed": gettext_noop("The piece is packed. Take it out of its box first."),
    "in-hand": gettext_noop("Somebody has work in hand that would fall away with it."),
    "unfit": gettext_noop("It does not fit the rest of the order. Ask the practice again."),
    "refused": gettext_noop(
        "The practice refused the change of the design. The work it concerns stands still until "
        "the design goes back to what was agreed, or something else is asked."
    ),
    "conflict": gettext_noop("An allergy was told before. Ask the dentist which of the two is so."),
}
"""Why an answer is not done with by itself (``cases.domain.answer_order.Why``)."""

PUT_BACK = gettext_noop("Put the design back")
RING = gettext_noop("The practice asks you to ring.")

STEPS = {
    "order": gettext_noop("Enter the answer in the order"),
    "design": gettext_noop("Bring the design in line with the answer"),
    "promise": gettext_noop("Choose the day on which it leaves"),
    "remake": gettext_noop("Have it made again, as answered"),
    "ring": gettext_noop("Ring the practice"),
    "look": gettext_noop("Look at the answer"),
    "written": gettext_noop("Note that the written confirmation is here"),
}
"""What somebody has to do with it, as the words of a button."""

PAGES = {
    "order": ("order-correct", "log-cases"),
    "design": ("case-design", "work"),
    "promise": ("case-promise", "log-cases"),
    "remake": ("case-remake", "close-cases"),
}
"""The page on which a step is done, and who may."""


@dataclass(frozen=True)
class AnswerLine:
    """An answer with which something is left to do.

    ``url`` leads to where ``step`` is done; for who may not do it there, and where the work it
    concerns is over, to where it is read first. ``enter_url`` is where ``enter`` is done.
    """

    question: Question
    why: str
    step: str
    url: str
    settle_url: str
    enter: str
    enter_url: str
    changed: str
    in_question: str


def back_url(case: Case) -> str:
    """Return where the design is put back to what was agreed; empty where that is unfinished."""
    agreed = agreed_design(case)
    if agreed is None or agreed.draft:
        return ""
    return reverse("cases:case-design-back", args=[case.number, agreed.version])


def answer_line(
    question: Question, case: Case, names: dict[str, str], may: Collection[str]
) -> AnswerLine:
    """Say what is left to do with an answer, for somebody with these capabilities."""
    settle = reverse("cases:answer-settle", args=[case.number, question.pk])
    name, capability = PAGES.get(question.awaits, ("", ""))
    enter_url = ""
    if name and capability in may:
        enter_url = reverse(f"cases:{name}", args=[case.number])
        if question.awaits == "order":
            enter_url = f"{enter_url}?answer={question.pk}"
    step = enter = _(STEPS.get(question.awaits, STEPS["look"]))
    if question.awaits_why == "refused" and "hold" in may and (back := back_url(case)):
        enter_url, step, enter = back, _(PUT_BACK), _(PUT_BACK)
    late = question.awaits_why == "past"
    if late:
        # The order must not say of a finished piece what it is not: somebody looks at it first.
        step = _("Look at the piece: an answer came late")
    why = RING if question.awaits == "ring" else WHY.get(question.awaits_why, WHY["words"])
    return AnswerLine(
        question,
        _(why),
        step,
        settle if late else (enter_url or settle),
        settle,
        enter,
        enter_url,
        ", ".join(_(FIELD_WORDS.get(field, field)) for field in question.changed),
        ", ".join(names.get(key, key) for key in question.in_question),
    )
