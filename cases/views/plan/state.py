"""How the planner stands, looked at again while it works; and an end to its search."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect
from django.utils.translation import gettext as _

from cases.selectors import plan as plans
from cases.services.planner import ask_to_stop
from cases.views.form_page import safe_next
from cases.views.page import LabRequest, SeeOther, integer, page, show
from cases.views.plan.words import standing


@page(may="see-cases")
def state(request: LabRequest) -> HttpResponse:
    """Show the line that says how old the plan is, how far the search has come, and whether
    another plan stands than the page shows.

    Only as a part of a page of the plan; who comes by the address itself is led to the plan.
    """
    if not request.htmx:
        return redirect("cases:plan")
    found = plans.state(request.now)
    context = standing(request, found)
    # Without one the page shows that there is none yet.
    shown = integer(request.GET.get("shown")) or ""
    newer = found.plan is not None and found.plan.pk != shown
    return show(request, "plan/_state.html", {**context, "shown": shown, "newer": newer})


@page(may="assign", methods=("POST",))
def stop(request: LabRequest) -> HttpResponse:
    """End the search for a better plan; the best so far is kept, and its line says so on the page
    where it was asked for."""
    if not ask_to_stop():
        messages.info(request, _("The search was over already; its best plan is kept."))
    return SeeOther(safe_next(request, "cases:plan"))
