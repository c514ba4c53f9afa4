"""What will be late by the plan, why, and what would save it."""

from __future__ import annotations

from django.http import HttpResponse

from cases.selectors import plan as plans
from cases.views.page import LabRequest, page, show
from cases.views.plan.words import at_words, late_by, late_words, state_words


@page(may="see-cases")
def late(request: LabRequest) -> HttpResponse:
    """Show each late case with its chain of reasons and its remedies."""
    found = plans.state(request.now)
    rows = list(plans.leaves(found.plan).filter(late_minutes__gt=0)) if found.plan else []
    return show(
        request,
        "plan/late.html",
        {
            "heading": late_words(found.plan, rows),
            "late": [
                {
                    "row": row,
                    "by": late_by(row),
                    "leaves": at_words(row.leaves_at, request.now) if row.leaves_at else "",
                }
                for row in rows[: plans.MOST_LATE]
            ],
            "more": max(0, len(rows) - plans.MOST_LATE),
            "unplanned": plans.without_place(found.plan) if found.plan else [],
            "limits": found.plan.words if found.plan else [],
            "state": found,
            "state_words": state_words(found, request.now),
        },
    )
