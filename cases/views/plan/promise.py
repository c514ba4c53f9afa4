"""The promise box: which day may be said at the telephone, and how sure it is."""

from __future__ import annotations

from typing import Any

from django.http import HttpResponse
from django.utils.translation import gettext as _

from cases.domain.order import OrderForm, first_problems
from cases.forms.plan_ask import AskForm
from cases.models import Practice
from cases.selectors.hours import lab_calendar
from cases.selectors.lookup import find_practice, practice_choices
from cases.services.log_case import arches_of, route_for
from cases.services.record import Refusal
from cases.views.form_page import show_forms
from cases.views.notation import written_in
from cases.views.page import LabRequest, page, show
from cases.views.plan.answer import answer_for

FIELDS = {"replaces": "teeth", "extractions": "teeth"}


def _asked(request: LabRequest, form: AskForm) -> dict[str, Any] | None:
    """Return the answer to a form that is right, or None with the reason beside its field."""
    data = form.cleaned_data
    practice: Practice | None = find_practice(data["practice"])
    if practice is None or not practice.ship_weekdays:
        form.add_error("practice", _("No van goes to this practice yet. Enter its days first."))
        return None
    order = OrderForm(
        arch=data["arch"], replaces=tuple(data["teeth"]), appointment_on=data["appointment_on"]
    )
    for problem in first_problems(order, lab_calendar().local_day(request.now)):
        form.add_error(FIELDS.get(problem.field, problem.field), problem.sentence)
    if form.errors:
        return None
    try:
        routes = [route_for(order, arch) for arch in arches_of(order)]
    except (Refusal, ValueError) as error:
        form.add_error("teeth", str(error))
        return None
    return answer_for(
        routes,
        practice,
        now=request.now,
        comes_on=data["comes_on"],
        appointment_on=data["appointment_on"],
        asked=request.GET,
    )


@page(may="log-cases")
def promise(request: LabRequest) -> HttpResponse:
    """Answer a practice that asks by when a piece can be there.

    The days are there at once; how sure they are follows, for it takes seconds.
    """
    form = AskForm(
        request.GET or None,
        practices=[(int(key), name) for key, name in practice_choices()],
        notation=written_in(request, request.GET),
    )
    answer = _asked(request, form) if request.GET and form.is_valid() else None
    if answer is None:
        return show_forms(request, "plan/promise.html", form)
    context = {"answer": answer, "more": _more(request, answer["next"])}
    if request.htmx:
        return show(request, "plan/_answer.html", context)
    return show_forms(request, "plan/promise.html", form, **context)


def _more(request: LabRequest, asked: str) -> str:
    """Return where the rest of an answer is: the same question, and what is asked for next."""
    if not asked:
        return ""
    question = request.GET.copy()
    for name in ("after", "chance"):
        question.pop(name, None)
    return f"{request.path}?{question.urlencode()}&{asked}"
