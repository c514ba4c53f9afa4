"""Loads of the baths: the list, a new one, and one load from the first flask to the last."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from typing import Any

from django.contrib import messages
from django.core.paginator import Paginator
from django.forms import BaseForm
from django.http import Http404, HttpResponse
from django.urls import reverse
from django.utils.translation import gettext as _

from cases.domain.cure.overheating import ESTIMATE_ONLY
from cases.domain.cure.timing import steps
from cases.forms.load import FlaskForm, LoadNewForm, StartForm
from cases.models import Load
from cases.selectors.cure_settings import program_here, programs_in_use
from cases.selectors.loads import attended, baths_in_use, loads, one_load
from cases.services.load import (
    add_flask,
    cancel_load,
    estimate,
    make_load,
    remove_flask,
)
from cases.services.load_run import start_load, take_out
from cases.services.record import Refusal
from cases.views.form_page import posted, section, show_forms
from cases.views.page import LabRequest, SeeOther, integer, page, send

PER_PAGE = 20


def _to(number: int) -> SeeOther:
    return SeeOther(reverse("cases:load", args=[number]))


@page(may="see-cases")
def all_loads(request: LabRequest) -> HttpResponse:
    """Show the loads, newest first."""
    return _list(request, _new_form(request) if request.visitor.may("work") else None)


@page(may="work", methods=("POST",))
def new_load(request: LabRequest) -> HttpResponse:
    """Begin to gather flasks for a bath."""
    form = _new_form(request)
    made = posted(form, lambda data: send(request, make_load, **data))
    if made is not None:
        return _to(made.result["number"])
    return _list(request, form)


def _new_form(request: LabRequest) -> LoadNewForm:
    return LoadNewForm(request.POST or None, baths=baths_in_use(), programs=programs_in_use())


def _list(request: LabRequest, form: LoadNewForm | None) -> HttpResponse:
    return show_forms(
        request,
        "load/loads.html",
        form,
        rows=Paginator(loads(), PER_PAGE).get_page(request.GET.get("page")),
        at_bench=request.visitor.door == "bench",
    )


@page(may="see-cases")
def load(request: LabRequest, number: int) -> HttpResponse:
    """Show one load."""
    row = one_load(number)
    if row is None:
        raise Http404
    return _show(
        request, row, section(request, "flask", FlaskForm), section(request, "start", StartForm)
    )


@page(may="work", methods=("POST",))
def act(request: LabRequest, number: int) -> HttpResponse:
    """Do with a load what the form says whose name stands in ``what``."""
    row = one_load(number)
    if row is None:
        raise Http404
    flask = section(request, "flask", FlaskForm)
    start = section(request, "start", StartForm)
    form = {"flask": flask, "start": start}.get(request.POST.get("what", ""))
    run = _act(request, row, form)
    if run is None:
        messages.error(request, _("The page was out of date. Look at it again, then choose."))
    if run is None or run():
        return _to(number)
    return _show(request, row, flask, start, form)


def _act(request: LabRequest, row: Load, form: BaseForm | None) -> Callable[[], bool] | None:
    """Return what a posted form does; the call tells whether it was done."""
    known = {"load": row.number, "version": integer(request.POST.get("version")) or 0}
    if form is not None:
        verb = add_flask if isinstance(form, FlaskForm) else start_load
        return lambda: posted(form, lambda data: send(request, verb, **data, **known)) is not None
    plain = {"estimate": estimate, "cancel": cancel_load, "take-out": take_out}
    what = request.POST.get("what", "")
    if what == "remove":
        known["flask"] = integer(request.POST.get("flask")) or 0
        return lambda: _said(request, lambda: send(request, remove_flask, **known))
    if what in plain:
        return lambda: _said(request, lambda: send(request, plain[what], **known))
    return None


def _said(request: LabRequest, run: Callable[[], object]) -> bool:
    """Run a form without entries; a refusal is said on top of the page."""
    try:
        run()
    except Refusal as refusal:
        messages.error(request, refusal.sentence)
    return True


def _show(
    request: LabRequest,
    row: Load,
    flask: BaseForm,
    start: BaseForm,
    refused: BaseForm | None = None,
) -> HttpResponse:
    flasks = row.flasks.all()
    thick = [one.thickest_mm for one in flasks if one.thickest_mm]
    return show_forms(
        request,
        "load/load.html",
        refused,
        load=row,
        flasks=flasks,
        thickest=max(thick, default=None),
        flask_form=flask,
        start_form=start,
        refused=refused,
        steps=_steps(request, row),
        estimate_only=_(ESTIMATE_ONLY),
        unmeasured=sum(one.thickest_mm is None for one in flasks),
        may_work=request.visitor.may("work"),
        over=row.ends_at is not None and request.now >= row.ends_at,
        at_bench=request.visitor.door == "bench",
    )


def _steps(request: LabRequest, row: Load) -> list[dict[str, Any]]:
    """Return the steps of the program with their instants and who is there then."""
    begins = row.starts_at or request.now
    found = steps(program_here(row.program)[0])
    moments = [begins + timedelta(minutes=step.minute) for step in found]
    return [
        {
            "words": step.words[:1].upper() + step.words[1:],
            "at": at,
            "attended": there,
            "past": row.starts_at is not None and at <= request.now,
        }
        for step, at, there in zip(found, moments, attended(moments), strict=True)
    ]
