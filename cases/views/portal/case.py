"""One case on the practice's side: where it is, what was ordered, answers, how it seated."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.urls import reverse
from django.utils.translation import gettext as _

from cases.domain.casenumber import parse
from cases.domain.order import OrderForm
from cases.forms.portal import AnswerForm, ReportForm
from cases.models import Case
from cases.selectors import portal
from cases.services.answer import answer_question
from cases.services.record import Outcome
from cases.services.report import insert_report
from cases.views.case.order_words import order_rows
from cases.views.form_page import posted, show_forms
from cases.views.notation import notation_of, written_in
from cases.views.page import LabRequest, SeeOther, page, send
from cases.views.portal.practice import asked
from cases.views.portal.words import (
    leaves_words,
    may_answer,
    promise_lines,
    report_lines,
    where_words,
)


def own_case(request: LabRequest, number: str) -> Case:
    """Return the case of an own practice with this number.

    Raises
    ------
    Http404
        There is none, the number is mistyped, or it is another practice's.
    """
    person = request.visitor.person
    try:
        known = str(parse(number))
    except ValueError as error:
        raise Http404(str(error)) from error
    case = portal.own_cases(person).filter(number=known).first() if person else None
    if case is None:
        raise Http404
    return case


def _show(
    request: LabRequest,
    case: Case,
    *,
    answer: AnswerForm | None = None,
    report: ReportForm | None = None,
) -> HttpResponse:
    seen = portal.case_for_practice(case)
    notation = notation_of(request)
    received = OrderForm.from_json(case.prescription.as_received).of_arch(case.arch)  # type: ignore[arg-type]
    questions = []
    for question in seen.questions:
        question.case = case
        mine = answer is not None and answer.question.pk == question.pk
        questions.append(asked(request, question, answer if mine else None))
    may_report = case.state == "sent" and request.visitor.may("report")
    context: dict[str, Any] = {
        "case": case,
        "seen": seen,
        "where": where_words(seen, request.now),
        "leaves": leaves_words(seen, request.now),
        "asked": questions,
        "rows": order_rows(OrderForm.from_json(case.order), received, notation),
        "promises": promise_lines(seen.promises),
        "reports": [(one, report_lines(one)) for one in seen.reports],
        "report_form": (report or ReportForm(auto_id="report_%s")) if may_report else None,
        "notation": notation,
    }
    return show_forms(request, "portal/case.html", answer or report, **context)


@page(may="see-own-practice")
def case(request: LabRequest, number: str) -> HttpResponse:
    """Show the practice one of its cases."""
    return _show(request, own_case(request, number))


@page(may="see-own-practice", methods=("POST",))
def answer(request: LabRequest, number: str, question: int) -> HttpResponse:
    """Store the practice's answer to a question of its case."""
    found = own_case(request, number)
    row = found.questions.filter(pk=question, withdrawn_at__isnull=True).first()
    if row is None:
        raise Http404
    row.case = found
    if not may_answer(row, request.visitor.capabilities):
        raise Http404
    form = AnswerForm(
        request.POST, question=row, notation=written_in(request, request.POST), now=request.now
    )

    def run(data: dict[str, Any]) -> Outcome:
        person = request.visitor.person
        # Who also works in the laboratory answers here for the practice, under the own name.
        rang = person.name if person and request.visitor.may("hold") else ""
        return send(
            request,
            answer_question,
            question=row.pk,
            answer=data["answer"],
            note=form.note(),
            rang=rang,
            entries=form.entries(),
        )

    outcome = posted(form, run)
    if outcome is None:
        return _show(request, found, answer=form)
    words = _("Your answer on %(ref)s is stored. The laboratory sees it at once.")
    if outcome.result["changed"]:
        words = _("Your answer on %(ref)s is stored, and the order is changed by it.")
    messages.success(request, words % {"ref": found.patient_ref})
    if request.POST.get("back") == "practice":
        return SeeOther(reverse("cases:practice"))
    return SeeOther(reverse("cases:practice-case", args=[found.number]))


@page(may="report", methods=("POST",))
def report(request: LabRequest, number: str) -> HttpResponse:
    """Store how the piece seated."""
    found = own_case(request, number)
    form = ReportForm(request.POST, auto_id="report_%s")

    def run(data: dict[str, Any]) -> object:
        return send(request, insert_report, case=found.pk, **data)

    if posted(form, run) is None:
        return _show(request, found, report=form)
    messages.success(request, _("Your report is stored. Thank you: the laboratory learns from it."))
    return SeeOther(reverse("cases:practice-case", args=[found.number]))
