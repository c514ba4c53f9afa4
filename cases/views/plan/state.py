"""How the planner stands, looked at again while it works; and an end to its search."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import redirect
from django.urls import reverse

from cases.selectors import plan as plans
from cases.services.planner import ask_to_stop, budget
from cases.views.page import LabRequest, SeeOther, page, show
from cases.views.plan.words import state_words


@page(may="see-cases")
def state(request: LabRequest) -> HttpResponse:
    """Show the line that says how old the plan is and how far the search has come.

    Only as a part of a page of the plan; who comes by the address itself is led to the plan.
    """
    if not request.htmx:
        return redirect("cases:plan")
    found = plans.state(request.now)
    return show(
        request,
        "plan/_state.html",
        {
            "state": found,
            "state_words": state_words(found, request.now),
            "budget": budget(),
            "may_pin": request.visitor.may("assign"),
        },
    )


@page(may="assign", methods=("POST",))
def stop(request: LabRequest) -> HttpResponse:
    """End the search for a better plan; the best so far is kept."""
    ask_to_stop()
    return SeeOther(reverse("cases:plan"))
