"""What the plan has now for the hands at this bench, when it is something else than is shown."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import render

from cases.selectors.bench_plan import bath_of, loads_to_put_in, planned_now
from cases.views.bench.frame import person_of, to_bench
from cases.views.notation import notation_of
from cases.views.page import LabRequest, integer, page


@page(may="work")
def plan_now(request: LabRequest) -> HttpResponse:
    """Say what the plan has first by now; nothing while the page shows that already.

    Only as a part of the bench's own page; who comes by the address is led there.
    """
    if not request.htmx:
        return to_bench()
    now = request.now
    shown = integer(request.GET.get("shown"))
    row = planned_now(person_of(request), now)
    if row is not None and row.stage_id == shown:
        row = None
    # A bath that leaves without a flask costs a day: that is said to busy hands, too.
    loads = [load for load in loads_to_put_in(person_of(request), now) if load.is_now(now)]
    return render(
        request,
        "bench/_plan_now.html",
        {
            "row": row,
            "load": next(iter(loads), None),
            "now": now,
            "shown": shown,
            "bath_at": bath_of(row, now) if row else None,
            "notation": notation_of(request),
        },
    )
