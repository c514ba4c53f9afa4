"""After a power cut: what it did to each load, and one decision for all of them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.contrib import messages
from django.forms import BoundField
from django.http import Http404, HttpResponse
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from cases.domain.cure.limit_words import of_verdict
from cases.domain.cure.verdict import CAUTION
from cases.forms.cut import CutForm, SeenForm
from cases.models import CutLoad
from cases.selectors.concerned import Concerned, concerned, in_bath_since
from cases.selectors.cuts import MOST_SHOWN, Span, cuts, loads_then
from cases.services.cut import decide_cut, span_of, words_of
from cases.services.cut_finding import Finding, finding
from cases.services.record import Refusal
from cases.views.form_page import posted, show_forms
from cases.views.load.new_dates import dates_view, say_told
from cases.views.page import LabRequest, SeeOther, page, send

SOURCE_WORDS = {
    "live": gettext_noop("From the live temperatures of the bath"),
    "record": gettext_noop("From the bath's record"),
    "seen": gettext_noop("By the program until the power went, and what was seen after it"),
    "nothing": gettext_noop("Nothing is known of this bath"),
    "unheated": gettext_noop("By the clock"),
    "before": gettext_noop("By the clock"),
    "after": gettext_noop("By the clock"),
}
STATE_WORDS = {
    "complete": (gettext_noop("had its time"), "done"),
    "short": (gettext_noop("too short"), "failed"),
    "stopped": (gettext_noop("cut short"), "held"),
    "not_begun": (gettext_noop("not begun"), ""),
}


@dataclass(frozen=True)
class CutLoadLine:
    """One load as the page shows it: how it stands, in words, and its fields of the form."""

    found: Finding
    source: str
    concerned: Concerned
    stages: list[dict[str, str]]
    fields: list[BoundField]


@page(may="countersign", methods=("GET", "POST"))
def new(request: LabRequest) -> HttpResponse:
    """Ask what was seen, say what it did to each load, and take the one decision for all."""
    asked = request.POST if request.method == "POST" else request.GET
    told = "off_at" in asked or "on_at" in asked
    now = Span(None, request.now, request.now)
    seen = SeenForm(asked if told else None, loads=loads_then(now), auto_id="seen-%s")
    span = _span(request, seen) if told else None
    if span is None:
        return _ask(request, seen, loads_then(now))
    loads = loads_then(span)
    # A load that has left its bath since is asked about, too.
    seen = SeenForm(asked, loads=loads, auto_id="seen-%s")
    if not seen.is_valid():
        return _ask(request, seen, loads)
    findings = [finding(row, span, seen.cleaned_data[f"found-{row.number}"]) for row in loads]
    form = CutForm(
        request.POST if request.method == "POST" else None,
        findings=findings,
        initial={
            "off_at": seen.said("off_at"),
            "on_at": seen.said("on_at"),
            **{f"found-{row.number}": seen.cleaned_data[f"found-{row.number}"] for row in loads},
        },
    )
    if request.method == "POST":
        done = posted(form, lambda data: _decide(request, form, data))
        if done is not None:
            return _decided(request, done)
    return show_forms(
        request,
        "load/cut.html",
        form,
        seen=seen,
        span=span,
        lines=[_line(one, span, form) for one in findings],
        caution=_(CAUTION),
        at_bench=request.visitor.door == "bench",
    )


def _span(request: LabRequest, seen: SeenForm) -> Span | None:
    """Return the time without power, or None with its error beside the entry."""
    if not seen.is_valid():
        return None
    try:
        return span_of(seen.said("off_at"), seen.said("on_at"), request.now)
    except Refusal as refusal:
        seen.add_error(refusal.field, refusal.sentence)
        return None


def _ask(request: LabRequest, seen: SeenForm, loads: list[Any]) -> HttpResponse:
    return show_forms(
        request,
        "load/cut_ask.html",
        seen,
        seen=seen,
        loads=loads,
        earlier=cuts()[:MOST_SHOWN],
        at_bench=request.visitor.door == "bench",
    )


def _decide(request: LabRequest, form: CutForm, data: dict[str, Any]) -> dict[str, Any]:
    outcome = send(
        request,
        decide_cut,
        loads=form.entries(),
        words=data["words"],
        off_at=data["off_at"],
        on_at=data["on_at"],
        tell=data["tell"],
    )
    return outcome.result


def _decided(request: LabRequest, result: dict[str, Any]) -> HttpResponse:
    messages.success(request, _("The decision is kept, and all that waits for it has moved."))
    say_told(request, result["told"])
    return SeeOther(reverse("cases:cut", args=[result["cut"]]))


def _line(found: Finding, span: Span, form: CutForm) -> CutLoadLine:
    n = found.load.number
    names = [f"{name}-{n}" for name in ("decision", "minutes", "hot")]
    return CutLoadLine(
        found,
        _(SOURCE_WORDS[found.source]),
        concerned(in_bath_since(found.load, span.since)),
        _stages(found.stages),
        [form[name] for name in names if name in form.fields],
    )


def _stages(stages: Any) -> list[dict[str, str]]:
    return [
        {"words": one["words"], "said": _(STATE_WORDS[one["state"]][0]),
         "tag": STATE_WORDS[one["state"]][1]}
        for one in stages
    ]  # fmt: skip


@page(may="see-cases")
def cut(request: LabRequest, pk: int) -> HttpResponse:
    """Show what was decided after a power cut, with all its loads and cases."""
    row = cuts().filter(pk=pk).first()
    if row is None:
        raise Http404
    span = Span(row.off_at, row.on_at, row.at)
    lines = [_kept(one, span) for one in row.loads.all()]
    moved = {
        flask.case_id: flask.case
        for line in lines
        for flask in line["flasks"]
        if line["row"].decision != "as-is"
    }.values()
    return show_forms(
        request,
        "load/cut_decided.html",
        cut=row,
        lines=lines,
        dates=dates_view(request, moved, _("Delayed by a power cut.")),
        at_bench=request.visitor.door == "bench",
    )


def _kept(row: CutLoad, span: Span) -> dict[str, Any]:
    shared = [
        flask
        for flask in row.load.flasks.all()
        if flask.left_at is None or flask.left_at > span.since
    ]
    return {
        "row": row,
        "decision": _(words_of(row.decision, row.hold_minutes)),
        "source": _(SOURCE_WORDS[row.says["source"]]),
        "stages": _stages(row.says["stages"]),
        "limits": of_verdict(row.says["limits"]) if row.says.get("limits") else "",
        "flasks": shared,
        "number": row.stage + 1,
    }
