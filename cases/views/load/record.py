"""The record of a bath for one load: sent, read as a person confirms it, judged, decided upon."""

from __future__ import annotations

from datetime import datetime
from typing import Any
from urllib.parse import urlencode

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _

from cases.domain.cure.cells import heading
from cases.domain.cure.chart import BathChart, Stretch, lines, to_svg
from cases.domain.cure.limit_words import of_verdict
from cases.domain.cure.program import read_program
from cases.domain.cure.time_columns import Rows
from cases.domain.cure.trace import Recognised, recognise
from cases.domain.cure.verdict import CAUTION, MODEL_VERSION, VERDICT_WORDS
from cases.forms.bath_record import DecideForm, RecordNewForm, RecordReadForm
from cases.models import BathRecord, CutLoad, Load, ProbeCheck
from cases.selectors.concerned import cases_in_bath, concerned, cured_in, sent_back
from cases.selectors.cure_records import records_of
from cases.services.bath_decision import (
    DECISIONS,
    REASON,
    decide_bath_record,
    may_extend,
    minutes_offered,
)
from cases.services.bath_raw import raw_of, take_in_file, take_in_typed
from cases.services.bath_record import POSITIONS, keep_bath_record, load_of
from cases.services.bath_table import rows_of
from cases.services.cure_again import BACK_TO
from cases.services.cut import words_of
from cases.views.form_page import posted, show_forms
from cases.views.load.heat import live_of
from cases.views.load.new_dates import dates_view, say_told
from cases.views.load.said import TAGS, probe_words
from cases.views.page import LabRequest, SeeOther, page, send

FIRST_ROWS = 6
MOST_CELLS = 8
NAMES = "bath-record-names"
"""Where the session keeps what files were called: the name may hold a person's."""
MOST_NAMES = 20


def _load(number: int) -> Load:
    found = load_of(number)
    if found is None:
        raise Http404
    return found


def _probes(load: Load) -> list[str]:
    names = ProbeCheck.objects.filter(bath=load.bath).values_list("probe", flat=True)
    return list(dict.fromkeys(names))


def _to(address: str, *args: Any, query: dict[str, str] | None = None) -> HttpResponse:
    where = reverse(f"cases:{address}", args=args)
    return SeeOther(f"{where}?{urlencode(query)}" if query else where)


@page(may="note", methods=("GET", "POST"))
def new(request: LabRequest, number: int) -> HttpResponse:
    """Take in a logger's file or typed readings; what was sent is kept before it is read."""
    load = _load(number)
    probes = _probes(load)
    sent = (request.POST, request.FILES) if request.method == "POST" else ()
    form = RecordNewForm(*sent, probes=probes, initial={"probe": probes[0] if probes else ""})
    sha256 = posted(form, _take_in) if sent else None
    if sha256 is None:
        return show_forms(
            request,
            "load/record_new.html",
            form,
            load=load,
            records=records_of(load),
            live=live_of(load, request.now),
        )
    if form.cleaned_data["file"]:
        names = request.session.get(NAMES, {})
        names[sha256] = form.cleaned_data["file"].name[:120]
        request.session[NAMES] = dict(list(names.items())[-MOST_NAMES:])
    query = {name: form.cleaned_data[name] for name in ("probe_at", "probe")}
    return _to("bath-record-read", number, sha256, query=query)


def _take_in(data: dict[str, Any]) -> str:
    return take_in_file(data["file"]) if data["file"] else take_in_typed(data["typed"])


@page(may="note", methods=("GET", "POST"))
def read(request: LabRequest, number: int, sha256: str) -> HttpResponse:
    """Show what was recognised; read, judge and keep it as the person confirms."""
    load, raw = _load(number), raw_of(sha256)
    if raw is None:
        raise Http404
    rows = rows_of(raw.data, typed=raw.how == "typed")
    found = recognise(rows, typed=raw.how == "typed")
    went_in = load.starts_at or load.placed_at
    form = RecordReadForm(
        request.POST if request.method == "POST" else None,
        rows=rows,
        found=found,
        probes=_probes(load),
        initial={
            "probe_at": request.GET.get("probe_at", ""),
            "probe": request.GET.get("probe", ""),
            "began_on": timezone.localtime(went_in).date() if went_in else None,
        },
    )
    if request.method == "POST":
        kept = posted(form, lambda data: _keep(request, load, sha256, form, data))
        if kept is not None:
            return _to("bath-record", number, kept)
    return show_forms(
        request,
        "load/record_read.html",
        form,
        load=load,
        raw=raw,
        file_name=request.session.get(NAMES, {}).get(sha256, ""),
        questions=found.questions,
        went_in=went_in,
        **_first_rows(rows, found),
    )


def _keep(
    request: LabRequest, load: Load, sha256: str, form: RecordReadForm, data: dict[str, Any]
) -> int:
    outcome = send(
        request,
        keep_bath_record,
        load=load.number,
        sha256=sha256,
        choice=form.choice(),
        probe_at=data["probe_at"],
        probe=data["probe"],
        file_name=request.session.get(NAMES, {}).get(sha256, ""),
    )
    key: int = outcome.result["record"]
    return key


def _first_rows(rows: Rows, found: Recognised) -> dict[str, Any]:
    """Return the head of the table and its first rows, as much as fits on a screen."""
    first = found.first_row
    width = min(len(rows[first]), MOST_CELLS)
    head = heading(rows, first)[:width]
    names = [
        head[n] if n < len(head) and head[n] else _("column %(n)d") % {"n": n + 1}
        for n in range(width)
    ]
    told = [row for row in rows[first:] if row]
    body = [[cell[:40] for cell in row[:width]] for row in told[:FIRST_ROWS]]
    return {"names": names, "body": body, "count": len(told)}


@page(may="see-cases", methods=("GET", "POST"))
def record(request: LabRequest, number: int, pk: int) -> HttpResponse:
    """Show a verdict as it was kept, with its chart; set what is done about it, once."""
    row = _row(number, pk)
    found = concerned(cured_in(row.load))
    form = DecideForm(
        request.POST if request.method == "POST" else None,
        extend=may_extend(row),
        back=bool(found.shut),
        initial={"minutes": minutes_offered(row)},
    )
    if request.method == "POST":
        done = posted(form, lambda data: _decide(request, row, data))
        if done is not None:
            _say_decided(request, done)
            return _to("bath-record", number, pk)
        found = concerned(cured_in(row.load))
    chart = chart_of(row)
    return show_forms(
        request,
        "load/record.html",
        form,
        load=row.load,
        row=row,
        words=_(VERDICT_WORDS[row.verdict["verdict"]]),
        tag=TAGS[row.verdict["verdict"]],
        stages=[
            {**one, "said": _(VERDICT_WORDS[one["verdict"]]), "tag": TAGS[one["verdict"]]}
            for one in row.verdict["stages"]
        ],
        chart=to_svg(chart, ident="bath-chart"),
        chart_shaded=bool(chart.outside),
        lines=[(_hours(one.second), one) for one in lines(chart)],
        limits=of_verdict(row.verdict["limits"]),
        started=datetime.fromisoformat(row.started),
        position=_(POSITIONS[row.probe_at]),
        probe_said=probe_words(row.verdict["probe"]),
        decision=_(DECISIONS[row.decision]) if row.decision else "",
        after_cut=_after_cut(row),
        may_decide=not row.decision and request.visitor.may("countersign"),
        concerned=found,
        goes_back=",".join(str(case.pk) for case in found.shut),
        **_after(request, row),
        runs=any(flag["code"] == "runs" for flag in row.verdict["flags"]),
        another_model=row.model_version != MODEL_VERSION,
        model_now=MODEL_VERSION,
        caution=_(CAUTION),
    )


def _decide(request: LabRequest, row: BathRecord, data: dict[str, Any]) -> dict[str, Any]:
    said = request.POST.get("goes_back")
    cases = None if said is None else [int(one) for one in said.split(",") if one.isdecimal()]
    outcome = send(request, decide_bath_record, row=row.pk, goes_back=cases, **data)
    return outcome.result


def _say_decided(request: LabRequest, result: dict[str, Any]) -> None:
    words = _("The decision is kept.")
    if result["back"]:
        words = _("The decision is kept. Back to do again: %(numbers)s.") % {
            "numbers": ", ".join(result["back"])
        }
    messages.success(request, words)
    say_told(request, result["told"])


def _after(request: LabRequest, row: BathRecord) -> dict[str, Any]:
    """Return what became of the cases of a decision: sent back, left where they are, new dates."""
    if row.decision not in {*BACK_TO, "extend"} or row.decided_at is None:
        return {}
    cases = cases_in_bath(row.load)
    back = sent_back(cases, REASON, row.decided_at) if row.decision in BACK_TO else set()
    moved = [case for case in cases if row.decision == "extend" or case.pk in back]
    return {
        "stayed": [case for case in cases if case not in moved and case.state != "cancelled"],
        "dates": dates_view(request, moved, _("A part of the work is done again.")),
    }


def _after_cut(row: BathRecord) -> dict[str, Any] | None:
    """Return what was decided after a power cut by this record, last of all."""
    held = CutLoad.objects.filter(record=row).select_related("cut__by").last()
    if held is None:
        return None
    return {"cut": held.cut, "words": _(words_of(held.decision, held.hold_minutes))}


def _row(number: int, pk: int) -> BathRecord:
    wanted = BathRecord.objects.select_related("load__bath", "load__program__resin", "by")
    row = wanted.filter(pk=pk, load__number=number).first()
    if row is None:
        raise Http404
    return row


def _hours(seconds: float) -> str:
    minutes = round(seconds / 60)
    sign = "−" if minutes < 0 else ""
    return f"{sign}{abs(minutes) // 60}:{abs(minutes) % 60:02}"


def chart_of(row: BathRecord) -> BathChart:
    """Return the chart of a record, from what was kept of it and nothing else."""
    kept = row.verdict
    program = [
        (kept["program_at_s"] + 60 * minute, celsius)
        for minute, celsius in read_program(kept["program"]).points()
    ]
    stretches = tuple(
        Stretch(number, one["celsius"], one["from_s"], one["until_s"])
        for number, one in enumerate(kept["stages"], start=1)
        if one["from_s"] is not None
    )
    gaps = [(since, until) for since, until in kept["gaps"]]
    held = kept.get("window")
    window = (held["since_s"], held["until_s"]) if held else None
    return BathChart([(s, c) for s, c in row.points], program, stretches, gaps, window)


@page(may="see-cases")
def raw_file(request: LabRequest, number: int, pk: int) -> HttpResponse:
    """Hand out a record as it came in, to people of the lab."""
    row = _row(number, pk)
    raw = raw_of(row.sha256)
    if raw is None:
        raise Http404
    ending = "txt" if raw.how == "typed" else "xlsx" if raw.data.startswith(b"PK") else "csv"
    response = HttpResponse(raw.data, content_type="application/octet-stream")
    name = f"load-{row.load.number}-record-{row.pk}.{ending}"
    response["Content-Disposition"] = f'attachment; filename="{name}"'
    response["Content-Security-Policy"] = "default-src 'none'; sandbox"
    response["X-Content-Type-Options"] = "nosniff"
    response["Cache-Control"] = "private, no-store"
    return response
