"""Checks of a stage: entered one by one, photographed, accepted by somebody else."""

from __future__ import annotations

import uuid
from collections.abc import Callable
from dataclasses import replace
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _

from cases.forms.bench import SignForm
from cases.models import CheckItem, Countersign
from cases.selectors.bench_stage import find_stage, stage_view
from cases.services.check import add_check_photo, concede, enter_checks
from cases.services.countersign import countersign
from cases.services.record import Envelope, Refusal
from cases.services.tablets import identify
from cases.views.bench.check_words import check_row
from cases.views.bench.frame import check_or_404, person_of, stage_or_404, to_stage
from cases.views.bench.stage import (
    concession_form,
    keep_photo,
    show_stage,
    stage_context,
    who_may,
)
from cases.views.notation import notation_of
from cases.views.page import LabRequest, envelope, integer, page, send, status_of


@page(may="work", methods=("POST",))
def enter(request: LabRequest, pk: int) -> HttpResponse:
    """Store what was entered for one check."""
    item = check_or_404(request, pk)
    entry: dict[str, Any] = {"item": item.pk}
    if request.POST.get("yes") in {"yes", "no"}:
        entry["yes"] = request.POST["yes"] == "yes"
    entry["values"] = {
        name.removeprefix("value-"): str(text).strip().replace(",", ".")
        for name, text in request.POST.items()
        if name.startswith("value-")
    }
    # What the design says, confirmed by a press: it stands for the field beside it.
    entry["values"] |= {
        name.removeprefix("confirm-"): str(text)
        for name, text in request.POST.items()
        if name.startswith("confirm-")
    }
    entry["words"] = {
        name.removeprefix("told-"): str(text)
        for name, text in request.POST.items()
        if name.startswith("told-")
    }

    def store() -> None:
        send(request, enter_checks, stage=item.stage_id, version=_version(request), checks=[entry])

    return _answer(request, item, store)


@page(may="work", methods=("POST",))
def photograph(request: LabRequest, pk: int) -> HttpResponse:
    """Add a photograph to one check."""
    item = check_or_404(request, pk)

    def store() -> None:
        upload = request.FILES.get("photo")
        if upload is None:
            raise Refusal("no-file", _("Take the photograph first."), field="photo")
        file = keep_photo(request, upload, item.case_id, "photo")
        send(request, add_check_photo, item=item.pk, version=_version(request), file=file)

    return _answer(request, item, store)


def _version(request: LabRequest) -> int:
    return integer(request.POST.get("version")) or 0


def _answer(request: LabRequest, item: CheckItem, store: Callable[[], None]) -> HttpResponse:
    """Store, then show the check as it stands: a fragment for htmx, else the page."""
    refusal = None
    try:
        store()
    except Refusal as caught:
        refusal = caught
    if not request.htmx:
        if refusal is not None:
            row = stage_or_404(request, item.stage_id)
            return show_stage(request, row, refusal=refusal)
        return to_stage(item.stage_id)
    stage = stage_or_404(request, item.stage_id)
    view = stage_view(stage, request.now)
    context = {
        **stage_context(request, view),
        "row": check_row(view, item.pk, notation_of(request)),
        "concession_form": concession_form(request, view),
        "refusal": refusal,
        "oob": True,
        "new_photo": request.FILES.get("photo") is not None,
    }
    status = status_of(refusal) if refusal else 200
    return render(request, "bench/_check_answer.html", context, status=status)


def _by_colleague(request: LabRequest, data: dict[str, Any]) -> Envelope:
    """Return the envelope of who answers: the colleague who showed a PIN, or who is signed in."""
    sent = envelope(request)
    if data.get("person") is None:
        return sent
    known = replace(sent, submission_id=uuid.uuid5(sent.submission_id, "identify"))
    identify(known, person=data["person"], pin=data["pin"])
    return replace(sent, person_id=data["person"])


@page(may="work", methods=("POST",))
def accept(request: LabRequest, pk: int) -> HttpResponse:
    """Accept a failed check by somebody who did not do the work; the page stays whose it is."""
    item = check_or_404(request, pk)
    stage = stage_or_404(request, item.stage_id)
    view = stage_view(stage, request.now)
    form = concession_form(request, view, request.POST)
    if form.is_valid():
        data = form.cleaned_data
        try:
            concede(
                _by_colleague(request, data),
                item=item.pk,
                version=_version(request),
                reason=data["reason"],
                words=data["words"],
            )
        except Refusal as refusal:
            form.add_error(
                refusal.field if refusal.field in form.fields else None, refusal.sentence
            )
        else:
            messages.success(request, _("Accepted, and kept on the case with name and reason."))
            return to_stage(item.stage_id)
    return show_stage(
        request,
        stage,
        opened=f"concession-{item.pk}",
        status=422,
        concession_form=form,
    )


@page(may="work", methods=("POST",))
def sign(request: LabRequest, pk: int) -> HttpResponse:
    """Sign a student's stage on the same tablet, or return it."""
    asked = Countersign.objects.filter(pk=pk).first()
    stage = (
        find_stage(person_of(request), asked.stage_id, door=request.visitor.door) if asked else None
    )
    if stage is None:
        raise Http404
    view = stage_view(stage, request.now)
    form = SignForm(request.POST, auto_id="sign-%s", people=who_may(request, view))
    if form.is_valid():
        data = form.cleaned_data
        agreed = data["agreed"] == "yes"
        try:
            countersign(
                _by_colleague(request, data), request=pk, agreed=agreed, words=data["words"]
            )
        except Refusal as refusal:
            form.add_error(
                refusal.field if refusal.field in form.fields else None, refusal.sentence
            )
        else:
            words = _("Signed. The next stage may begin.")
            messages.success(request, words if agreed else _("Returned with your words."))
            return to_stage(stage)
    return show_stage(request, stage, status=422, sign_form=form)
