"""What will be late by the plan, why, and what would save it."""

from __future__ import annotations

from django.core.paginator import Paginator
from django.http import HttpResponse

from cases.selectors import plan as plans
from cases.views.page import LabRequest, page, show
from cases.views.plan.words import late_by, late_words, leaves_words, standing

PER_PAGE = 30


@page(may="see-cases")
def late(request: LabRequest) -> HttpResponse:
    """Show each late case with its chain of reasons and its remedies."""
    found = plans.state(request.now)
    rows = list(plans.leaves(found.plan).filter(late_minutes__gt=0)) if found.plan else []
    shown = Paginator(rows, PER_PAGE).get_page(request.GET.get("page"))
    return show(
        request,
        "plan/late.html",
        {
            "heading": late_words(found.plan, rows),
            "late": [
                {
                    "row": row,
                    "by": late_by(row),
                    "leaves": leaves_words(row, request.now),
                }
                for row in shown
            ],
            "shown": shown,
            "unplanned": plans.without_place(found.plan) if found.plan else [],
            "limits": found.plan.words if found.plan else [],
            **standing(request, found),
        },
    )
