"""The clock of the dough: asked for anew by the page of the packing, started and stopped there."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _

from cases.services.dough import note_closed, note_mix
from cases.services.record import Refusal
from cases.views.bench.dough_words import dough_view, mix_form
from cases.views.bench.frame import stage_or_404, to_stage
from cases.views.bench.stage import show_stage
from cases.views.form_page import posted
from cases.views.page import LabRequest, integer, page, send


@page(may="work")
def dough(request: LabRequest, pk: int) -> HttpResponse:
    """Show where the dough is; the page of the stage asks for it anew. No other stage has any."""
    stage = stage_or_404(request, pk)
    view = dough_view(stage, request.now)
    if view is None:
        return HttpResponse(status=204)
    return render(request, "bench/_dough_state.html", {"dough": view, "stage": stage})


@page(may="work", methods=("POST",))
def mixed(request: LabRequest, pk: int) -> HttpResponse:
    """Note that powder and liquid were put together."""
    stage = stage_or_404(request, pk)
    form = mix_form(None, request.POST)
    if form is None:
        refusal = Refusal("no-resin", _("The lab has no resin in use yet. A manager adds it."))
        return show_stage(request, stage, refusal=refusal)
    version = integer(request.POST.get("version")) or 0

    def note(data: dict[str, Any]) -> Any:
        return send(request, note_mix, stage=pk, version=version, **data)

    if posted(form, note) is None:
        return show_stage(request, stage, opened="mix", status=422, mix_form=form)
    messages.success(request, _("The clock of the dough runs."))
    return to_stage(stage)


@page(may="work", methods=("POST",))
def closed(request: LabRequest, pk: int) -> HttpResponse:
    """Note that the flask was closed for the last time."""
    stage = stage_or_404(request, pk)
    version = integer(request.POST.get("version")) or 0
    try:
        send(request, note_closed, stage=pk, version=version)
    except Refusal as refusal:
        return show_stage(request, stage_or_404(request, pk), refusal=refusal)
    return to_stage(stage)
