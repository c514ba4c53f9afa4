"""The page of one stage: what must be true before it is passed, and its turns."""

from __future__ import annotations

import uuid
from dataclasses import replace
from typing import IO, Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from cases.domain import cautions
from cases.domain.bench_tables import tables
from cases.domain.design import Design
from cases.forms import bench as forms
from cases.models import CaseStage
from cases.selectors.bench_stage import StageView, colleagues, stage_view, technicians
from cases.selectors.cure_records import SHUT, cured_in_loads
from cases.services.cure_shut import why_shut
from cases.services.files import attach_file, take_in
from cases.services.record import Refusal, Verb
from cases.services.stage import (
    ONE_TAP,
    finish_stage,
    pause_stage,
    resume_stage,
    stage_came_back,
    start_stage,
)
from cases.services.undo import undo_stage
from cases.views.bench.check_words import check_rows, heading, in_the_way
from cases.views.bench.design_words import Words
from cases.views.bench.dough_words import dough_context
from cases.views.bench.frame import (
    bench_context,
    person_of,
    say_refusal,
    stage_or_404,
    to_bench,
    to_stage,
)
from cases.views.load.said import newest_of
from cases.views.notation import notation_of
from cases.views.page import LabRequest, envelope, integer, page, send, status_of


@page(may="work")
def stage(request: LabRequest, pk: int) -> HttpResponse:
    """Show one stage."""
    return show_stage(request, stage_or_404(request, pk))


def show_stage(
    request: LabRequest,
    row: CaseStage,
    *,
    refusal: Refusal | None = None,
    opened: str = "",
    status: int = 200,
    **forms_kept: Any,
) -> HttpResponse:
    """Render the page of a stage; ``opened`` names the small form that stands open."""
    view = stage_view(row, request.now)
    context = {
        **bench_context(request),
        **stage_context(request, view),
        **small_forms(request, view),
        **dough_context(row, request.now),
        **cured_context(row),
        **forms_kept,
        "refusal": refusal,
        "opened": opened,
    }
    if refusal is not None:
        status = status_of(refusal)
    return render(request, "bench/stage.html", context, status=status)


def cured_context(row: CaseStage) -> dict[str, Any]:
    """Return what the bath's record says of a flask that this stage cools or opens."""
    load = cured_in_loads([row.case_id]).get(row.case_id) if row.key in SHUT else None
    return {"bath_load": load, "load_said": newest_of(load) if load is not None else None}


def stage_context(request: LabRequest, view: StageView) -> dict[str, Any]:
    """Return what the page says of the stage itself."""
    person = person_of(request)
    row = view.stage
    design = Design.from_json(view.case.design.data) if view.case.design else None
    rows = check_rows(view, notation_of(request))
    ready_at = row.ready_at
    mine = row.state == "running" and row.worker_id == person.pk
    planned = row.state == "planned"
    shut = why_shut(view.case, row, request.now) if planned and ready_at is not None else None
    # A load that was taken out late keeps its flasks shut for longer than the route waits.
    until = max(filter(None, (ready_at, shut.until if shut else None)), default=None)
    waits = until is not None and until > request.now
    return {
        "view": view,
        "case": view.case,
        "stage": row,
        "rows": rows,
        "heading": heading(view, rows),
        "way": in_the_way(rows),
        "design_lines": Words(view.case, design, notation_of(request)).at(row.key),
        "design_tables": tables(design, row.key, view.kept) if design is not None else (),
        "cautions": cautions.for_stage(row.key),
        "cautions_defer": cautions.DEFER,
        "mine": mine,
        "one_tap": row.kind in ONE_TAP,
        "waits": waits and planned,
        "until": until,
        "shut": shut,
        "may_begin": shut is None
        and (not waits or (row.may_from is not None and row.may_from <= request.now)),
        "needs_design": row.key == "survey" and (design is None or design.provisional),
        "alone": who_may(request, view) is None,
        "my_minutes": round(
            sum(view.minutes[span.pk].minutes for span in view.spans if span.pk in view.minutes)
        ),
        "shared": max((one.shared_with for one in view.minutes.values()), default=0),
    }


def small_forms(request: LabRequest, view: StageView) -> dict[str, Any]:
    """Return the small forms of the page, empty."""
    person = person_of(request)
    others = technicians(person)
    return {
        "hand_over_form": forms.HandOverForm(auto_id="hand-over-%s", people=others),
        "note_form": forms.NoteForm(auto_id="note-%s"),
        "mishap_form": forms.MishapForm(auto_id="mishap-%s"),
        "place_form": forms.PlaceForm(auto_id="place-%s"),
        "minutes_form": forms.MinutesForm(auto_id="minutes-%s"),
        "concession_form": concession_form(request, view),
        "sign_form": forms.SignForm(auto_id="sign-%s", people=who_may(request, view)),
    }


def who_may(request: LabRequest, view: StageView) -> list[Any] | None:
    """Return the colleagues to choose from; None when who is signed in may answer alone."""
    person = person_of(request)
    if not view.did_work(person) and not person.is_student:
        return None
    return colleagues(person)


def concession_form(request: LabRequest, view: StageView, data: Any = None) -> forms.ConcessionForm:
    """Return the form by which somebody who did not do the work accepts a failed check."""
    return forms.ConcessionForm(data, auto_id="concession-%s", people=who_may(request, view))


def _turn(request: LabRequest, pk: int, verb: Verb, **body: Any) -> HttpResponse:
    """Run a verb that takes the stage and its version; stay on the stage's page."""
    row = stage_or_404(request, pk)
    try:
        send(request, verb, stage=pk, version=_version(request), **body)
    except Refusal as refusal:
        return show_stage(request, stage_or_404(request, pk), refusal=refusal)
    return to_stage(row)


def _version(request: LabRequest) -> int:
    return integer(request.POST.get("version")) or 0


def things_used(request: LabRequest, suffix: str = "") -> dict[str, str]:
    """Return the engraved numbers typed, by kind of thing."""
    ends = f"-{suffix}" if suffix else ""
    found = {}
    for kind in ("flask", "articulator", "clamp"):
        typed = request.POST.get(f"thing-{kind}{ends}", "").strip()
        if typed:
            found[kind] = typed
    return found


def keep_photo(
    request: LabRequest, upload: IO[bytes] | None, case_id: int, kind: str, part: str = "photo"
) -> int | None:
    """Store a photograph under a submission of its own, so that the form's id stays free.

    The id is made from the form's, so a form that is sent twice stores one photograph.
    """
    if upload is None:
        return None
    stored = take_in(upload)[0]
    sent = envelope(request)
    photo = replace(sent, submission_id=uuid.uuid5(sent.submission_id, part))
    outcome = attach_file(
        photo,
        case=case_id,
        kind=kind,
        stored={
            "sha256": stored.sha256,
            "size": stored.size,
            "path": stored.path,
            "content_type": stored.content_type,
        },
    )
    return int(outcome.result["file"])


@page(may="work", methods=("POST",))
def start(request: LabRequest, pk: int) -> HttpResponse:
    """Take the stage in hand, with what it needs and the photograph before it."""
    row = stage_or_404(request, pk)
    used = things_used(request)
    try:
        photo = keep_photo(request, request.FILES.get("photo"), row.case_id, f"before-{row.key}")
        send(
            request,
            start_stage,
            stage=pk,
            version=_version(request),
            things_used=used,
            photo=photo,
        )
    except Refusal as refusal:
        return show_stage(request, stage_or_404(request, pk), refusal=refusal, used=used)
    return to_stage(row)


@page(may="work", methods=("POST",))
def pause(request: LabRequest, pk: int) -> HttpResponse:
    """Put the stage down for now."""
    return _turn(request, pk, pause_stage)


@page(may="work", methods=("POST",))
def resume(request: LabRequest, pk: int) -> HttpResponse:
    """Go on with a stage that was put down."""
    return _turn(request, pk, resume_stage)


@page(may="see-cases", methods=("POST",))
def came_back(request: LabRequest, pk: int) -> HttpResponse:
    """Note that a piece is here again from the practice."""
    return _turn(request, pk, stage_came_back)


@page(may="work", methods=("POST",))
def finish(request: LabRequest, pk: int) -> HttpResponse:
    """Pass the stage on when nothing is open or failed."""
    row = stage_or_404(request, pk)
    used = things_used(request)
    try:
        outcome = send(
            request,
            finish_stage,
            stage=pk,
            version=_version(request),
            checks=[],
            things_used=used,
        )
    except Refusal as refusal:
        return show_stage(request, stage_or_404(request, pk), refusal=refusal, used=used)
    if not outcome.result["finished"]:
        messages.warning(request, _left_words(outcome.result))
        return to_stage(row)
    if outcome.result["state"] == "countersign":
        messages.success(
            request,
            _("%(stage)s is done. A colleague signs it before the next stage begins.")
            % {"stage": _(row.name)},
        )
        return to_stage(row)
    return to_bench()


def _left_words(result: dict[str, Any]) -> str:
    failed, left = len(result["failed"]), len(result["open"])
    if failed:
        words = ngettext(
            "It is not passed yet: %(n)s check failed.",
            "It is not passed yet: %(n)s checks failed.",
            failed,
        )
        return words % {"n": failed}
    words = ngettext(
        "It is not passed yet: %(n)s check is open.",
        "It is not passed yet: %(n)s checks are open.",
        left,
    )
    return words % {"n": left}


@page(may="work", methods=("POST",))
def undo(request: LabRequest, pk: int) -> HttpResponse:
    """Take one's last start or finish back, within ten seconds."""
    row = stage_or_404(request, pk)
    try:
        outcome = send(request, undo_stage, stage=pk, version=_version(request))
    except Refusal as refusal:
        say_refusal(request, refusal)
        return to_stage(row)
    if outcome.result["state"] == "planned":
        messages.success(request, _("Taken back: it has not begun."))
    else:
        messages.success(request, _("Taken back: it is in your hands again."))
    return to_stage(row)
