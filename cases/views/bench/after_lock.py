"""What a tablet put down when it locked: the question whether the work went on."""

from __future__ import annotations

from datetime import datetime, timedelta

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.utils.dateparse import parse_time
from django.utils.translation import gettext as _

from cases.models import WorkSpan
from cases.selectors.labour import put_down_by_a_lock
from cases.services.labour import confirm_time, stopped_at, went_on
from cases.services.record import Refusal
from cases.views.bench.frame import bench_context, person_of, to_bench
from cases.views.page import LabRequest, SeeOther, page, send, status_of


@page(may="work", methods=("GET", "POST"))
def put_down(request: LabRequest) -> HttpResponse:
    """Ask about each stage whether its hands went on; the first thing after the PIN."""
    asked = list(put_down_by_a_lock(person_of(request)))
    if request.method == "GET":
        return _show(request, asked) if asked else to_bench()
    chosen = [span for span in asked if str(span.pk) in request.POST.getlist("span")]
    if not chosen:
        messages.info(request, _("This was answered already."))
        return SeeOther(request.path)
    try:
        said = _answer(request, chosen)
    except Refusal as refusal:
        return _show(request, asked, refusal=refusal, about=chosen)
    messages.success(request, said)
    return SeeOther(request.path) if len(asked) > len(chosen) else to_bench()


def _answer(request: LabRequest, chosen: list[WorkSpan]) -> str:
    """Send the answer; return what was stored, in words."""
    span = chosen[0]
    name = {"name": _(span.run.stage.name)}
    match request.POST.get("do"):
        case "on":
            send(request, went_on, spans=[one.pk for one in chosen])
            if len(chosen) > 1:
                return _("They run on; the time since then counts.")
            return _("%(name)s runs on; the time since then counts.") % name
        case "then":
            send(request, confirm_time, span=span.pk)
            return _("%(name)s stays put down; its minutes are right.") % name
        case _other:
            until = _instant(request.POST.get("until", ""), span)
            send(request, stopped_at, span=span.pk, until=until.isoformat())
            return _("%(name)s stays put down; its minutes are corrected.") % name


def _instant(text: str, span: WorkSpan) -> datetime:
    """Return the first instant since the work began at which the wall clock shows ``text``.

    Raises
    ------
    Refusal
        For anything that is no time of day.
    """
    try:
        wall = parse_time(text.strip())
    except ValueError:
        wall = None
    if wall is None:
        raise Refusal("bad-time", _("Enter a time of day, such as 10:25."), field="until")
    began = timezone.localtime(span.began_at)
    found = datetime.combine(began.date(), wall, tzinfo=began.tzinfo)
    if found < began.replace(second=0, microsecond=0):
        found += timedelta(days=1)
    # The minute in which it began counts from its begin.
    return max(found, began)


def _show(
    request: LabRequest,
    asked: list[WorkSpan],
    *,
    refusal: Refusal | None = None,
    about: list[WorkSpan] | None = None,
) -> HttpResponse:
    refused = {span.pk for span in about or ()}
    rows = [
        {
            "span": span,
            "stage": span.run.stage,
            "may_go_on": span.run.stage.state == "paused" and not span.taken_up,  # type: ignore[attr-defined]
            "error": refusal.sentence if refusal is not None and refused == {span.pk} else "",
            "until": request.POST.get("until", "") if refused == {span.pk} else "",
        }
        for span in asked
    ]
    context = {
        **bench_context(request),
        "asked": rows,
        "all_may_go_on": len(rows) > 1 and all(row["may_go_on"] for row in rows),
        "refusal": refusal if len(refused) != 1 else None,
    }
    status = status_of(refusal) if refusal else 200
    return render(request, "bench/put_down.html", context, status=status)
