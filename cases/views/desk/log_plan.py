"""The plan's own answer to the day of a case that is being logged."""

from __future__ import annotations

from django.http import HttpResponse
from django.urls import reverse
from django.utils.translation import gettext as _

from cases.forms.intake_order import read_order
from cases.views.desk.log import bound
from cases.views.desk.panel import DAYS, practice_of, routes_of
from cases.views.page import LabRequest, page, show
from cases.views.plan.answer import answer_for

NOT_YET = {"lines": [], "needed": "", "worked_out": False, "next": ""}


@page(may="log-cases", methods=("POST",))
def ask_plan(request: LabRequest) -> HttpResponse:
    """Say which day is safe for what is entered so far; first the days, then how sure they are."""
    form, chosen = bound(request, looking=True)
    order, practice = read_order(form), practice_of(form, chosen)
    told = bool(form.cleaned_data.get("arch")) and not form.errors.keys() & DAYS
    routes = routes_of(order) if told else []
    if practice is None or not practice.ship_weekdays or not routes:
        words = _("Choose practice and arch first; then the plan can be asked.")
        return show(request, "plan/_answer.html", {"answer": {"sentence": words, **NOT_YET}})
    answer = answer_for(
        routes,
        practice,
        now=request.now,
        appointment_on=order.appointment_on,
        needed_on=order.needed_on,
        asked=request.GET,
    )
    context = {"answer": answer, "ask_url": reverse("cases:log-ask-plan")}
    return show(request, "plan/_answer.html", context)
