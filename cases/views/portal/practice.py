"""The practice's first page: what the laboratory asks, and where each case is."""

from __future__ import annotations

from typing import Any

from django.core.paginator import Paginator
from django.http import HttpResponse
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from cases.forms.portal import AnswerForm
from cases.models import Question
from cases.selectors import portal
from cases.views.notation import notation_of
from cases.views.page import LabRequest, page, show
from cases.views.portal.words import line, may_answer, wants_words

PER_PAGE = 30
LATEST_SENT = 5


def asked(
    request: LabRequest, question: Question, form: AnswerForm | None = None
) -> dict[str, Any]:
    """Return a question for the page: with its form for who may answer it."""
    may = may_answer(question, request.visitor.capabilities)
    if may and form is None:
        form = AnswerForm(question=question, notation=notation_of(request), now=request.now)
    return {
        "question": question,
        "form": form if may else None,
        "wants": "" if may else wants_words(question),
    }


def _heading(mine: int, others: int, here: int) -> str:
    """Say how many questions this person may answer, how many others must, and what is here."""
    said = []
    if mine:
        words = ngettext(
            "One question waits for your answer.", "%(n)s questions wait for your answer.", mine
        )
        said.append(words % {"n": mine})
    if others:
        words = ngettext(
            "One question waits for a dentist.", "%(n)s questions wait for a dentist.", others
        )
        said.append(words % {"n": others})
    if not said:
        said.append(_("Nothing waits for you."))
    if here:
        words = ngettext(
            "One case is in the laboratory.", "%(n)s cases are in the laboratory.", here
        )
        said.append(words % {"n": here})
    return " ".join(said)


@page(may="see-own-practice")
def practice(request: LabRequest) -> HttpResponse:
    """Show what is asked of the practice, then its cases in the laboratory."""
    person = request.visitor.person
    assert person is not None  # noqa: S101 - ``page`` let nobody else in
    questions = portal.open_questions(person)
    shown = [asked(request, question) for question in questions]
    mine = sum(1 for one in shown if one["form"])
    here = Paginator(portal.here_cases(person), PER_PAGE).get_page(request.GET.get("page"))
    unreported = portal.unreported(person) if request.visitor.may("report") else []
    latest = portal.closed_cases(person).exclude(pk__in=[case.pk for case in unreported])
    sent = portal.see(latest[:LATEST_SENT])
    context = {
        "heading": _heading(mine, len(shown) - mine, here.paginator.count),
        "asked": shown,
        "here": here,
        "lines": [line(one, request.now) for one in portal.see(here)],
        "sent": [line(one, request.now) for one in sent],
        "unreported": unreported,
        "several": len(portal.practices_of(person)) > 1,
        "notation": notation_of(request),
    }
    return show(request, "portal/practice.html", context)


@page(may="see-own-practice")
def sent(request: LabRequest) -> HttpResponse:
    """Show the practice's cases that have left, the latest first."""
    person = request.visitor.person
    assert person is not None  # noqa: S101 - ``page`` let nobody else in
    gone = Paginator(portal.closed_cases(person), PER_PAGE).get_page(request.GET.get("page"))
    context = {
        "here": gone,
        "lines": [line(one, request.now) for one in portal.see(gone)],
        "several": len(portal.practices_of(person)) > 1,
        "notation": notation_of(request),
    }
    return show(request, "portal/sent.html", context)
