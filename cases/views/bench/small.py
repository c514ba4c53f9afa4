"""The small forms of a stage's page: hand over, note, mishap, minutes, where it is."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.db.models import Q
from django.forms import BaseForm
from django.http import Http404, HttpResponse
from django.utils.translation import gettext as _

from cases.forms import bench as forms
from cases.models import CaseStage, Thing, WorkSpan
from cases.selectors.bench_stage import technicians
from cases.services.assign import correct_own_time, hand_over
from cases.services.close_case import report_mishap, write_note
from cases.services.labour import confirm_time
from cases.services.places import keep_thing
from cases.services.record import Refusal
from cases.services.things import put_thing
from cases.views.bench.frame import (
    person_of,
    say_refusal,
    stage_or_404,
    to_bench,
    to_stage,
)
from cases.views.bench.stage import keep_photo, show_stage
from cases.views.form_page import posted
from cases.views.page import LabRequest, integer, page, send


def _small(
    request: LabRequest,
    stage: CaseStage,
    name: str,
    form: BaseForm,
    action: Callable[[dict[str, Any]], Any],
    said: str,
) -> HttpResponse:
    """Send a small form; refused, it stands open on the page with what was typed."""
    if posted(form, action) is None:
        status = 409 if getattr(form, "conflict", False) else 422
        kept: dict[str, Any] = {f"{name}_form": form}
        return show_stage(request, stage, opened=name, status=status, **kept)
    messages.success(request, said)
    return to_stage(stage)


def _version(request: LabRequest) -> int:
    return integer(request.POST.get("version")) or 0


@page(may="work", methods=("POST",))
def hand(request: LabRequest, pk: int) -> HttpResponse:
    """Hand the work over in one line."""
    stage = stage_or_404(request, pk)
    people = technicians(person_of(request))
    form = forms.HandOverForm(request.POST, auto_id="hand-over-%s", people=people)
    version = _version(request)

    def go(data: dict[str, Any]) -> Any:
        return send(request, hand_over, stage=pk, version=version, **data)

    return _small(request, stage, "hand_over", form, go, _("Handed over."))


@page(may="note", methods=("POST",))
def note(request: LabRequest, pk: int) -> HttpResponse:
    """Write a note on the case."""
    stage = stage_or_404(request, pk)
    form = forms.NoteForm(request.POST, auto_id="note-%s")

    def go(data: dict[str, Any]) -> Any:
        return send(request, write_note, case=stage.case_id, **data)

    return _small(request, stage, "note", form, go, _("The note is on the case."))


@page(may="work", methods=("POST",))
def mishap(request: LabRequest, pk: int) -> HttpResponse:
    """Report that something broke, fell or went wrong."""
    stage = stage_or_404(request, pk)
    form = forms.MishapForm(request.POST, auto_id="mishap-%s")
    version = _version(request)

    def go(data: dict[str, Any]) -> Any:
        photo = keep_photo(request, request.FILES.get("photo"), stage.case_id, "mishap")
        return send(request, report_mishap, stage=pk, version=version, photo=photo, **data)

    said = _("Noted on the case. Hold it, send it back, or ask the practice if it needs that.")
    return _small(request, stage, "mishap", form, go, said)


@page(may="note", methods=("POST",))
def place(request: LabRequest, pk: int) -> HttpResponse:
    """Note where a thing of the case was put."""
    stage = stage_or_404(request, pk)
    form = forms.PlaceForm(request.POST, auto_id="place-%s")

    def go(data: dict[str, Any]) -> Any:
        return send(request, keep_thing, case=stage.case_id, **data)

    return _small(request, stage, "place", form, go, _("Its place is noted."))


@page(may="note", methods=("POST",))
def put(request: LabRequest, pk: int, thing: int) -> HttpResponse:
    """Note where a cast, a flask or an articulator was put."""
    stage = stage_or_404(request, pk)
    occupied = Q(occupations__case_id=stage.case_id, occupations__freed_at__isnull=True)
    row = Thing.objects.filter(occupied | Q(case_id=stage.case_id), pk=thing).first()
    if row is None:
        raise Http404
    try:
        send(request, put_thing, thing=row.pk, place=request.POST.get("place", ""))
    except Refusal as refusal:
        return show_stage(request, stage, refusal=refusal, opened="place")
    messages.success(request, _("Its place is noted."))
    return to_stage(stage)


def _own_span(request: LabRequest, pk: int) -> WorkSpan:
    span = WorkSpan.objects.filter(pk=pk, person=person_of(request)).select_related("run").first()
    if span is None:
        raise Http404
    return span


@page(may="work", methods=("POST",))
def minutes(request: LabRequest, pk: int) -> HttpResponse:
    """Correct the minutes of one's own span; both values stay."""
    span = _own_span(request, pk)
    stage = stage_or_404(request, span.run.stage_id)
    form = forms.MinutesForm(request.POST, auto_id="minutes-%s")

    def go(data: dict[str, Any]) -> Any:
        reason = data["reason"]
        if data["words"]:
            reason = f"{reason}: {data['words']}"[:60]
        return send(request, correct_own_time, span=pk, minutes=data["minutes"], reason=reason)

    if posted(form, go) is None:
        status = 409 if getattr(form, "conflict", False) else 422
        opened = f"minutes-{pk}"
        return show_stage(request, stage, opened=opened, status=status, minutes_form=form)
    messages.success(request, _("The minutes are corrected; the measured ones stay beside them."))
    return to_stage(stage)


@page(may="work", methods=("POST",))
def confirm(request: LabRequest, pk: int) -> HttpResponse:
    """Say that minutes which the program ended are right."""
    span = _own_span(request, pk)
    try:
        send(request, confirm_time, span=span.pk)
    except Refusal as refusal:
        say_refusal(request, refusal)
    return to_bench()
