"""One stage for several cases at once."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from cases.models import Load
from cases.selectors.bench import Work, ready_batch
from cases.selectors.bench_batch import BatchNeed, batch_needs
from cases.selectors.cure_records import SHUT, cured_in_loads
from cases.services.batch import finish_many, start_many, undo_many
from cases.services.record import Refusal
from cases.views.bench.frame import bench_context, person_of, say_refusal, to_bench
from cases.views.bench.stage import keep_photo, things_used
from cases.views.page import LabRequest, SeeOther, integer, page, send, status_of


@page(may="work", methods=("GET", "POST"))
def batch(request: LabRequest, key: str) -> HttpResponse:
    """Choose cases at the same stage; start or finish them together."""
    works = ready_batch(person_of(request), key, request.now)
    if request.method == "GET":
        return _show(request, key, works)
    finishing = request.POST.get("do") == "finish"
    chosen = {int(pk) for pk in request.POST.getlist("stage") if pk.isdecimal()}
    try:
        if finishing:
            send(request, finish_many, stages=_entries(request, works, chosen))
        else:
            send(request, start_many, stages=_entries(request, works, chosen, photos=True))
    except Refusal as refusal:
        return _show(request, key, works, refusal=refusal, chosen=chosen)
    count = len(chosen)
    if finishing:
        words = ngettext("%(n)s case is passed.", "%(n)s cases are passed.", count)
        messages.success(request, words % {"n": count})
        return to_bench()
    words = ngettext(
        "%(n)s case is in your hands.",
        "%(n)s cases are in your hands; they share the minutes equally.",
        count,
    )
    messages.success(request, words % {"n": count})
    return SeeOther(request.path)


@page(may="work", methods=("POST",))
def undo(request: LabRequest, key: str) -> HttpResponse:
    """Take the last start or finish of several cases back, all of them."""
    stages = [
        {"stage": int(pk), "version": integer(request.POST.get(f"version-{pk}")) or 0}
        for pk in request.POST.getlist("stage")
        if pk.isdecimal()
    ]
    try:
        send(request, undo_many, stages=stages)
    except Refusal as refusal:
        say_refusal(request, refusal)
        return to_bench()
    words = ngettext("%(n)s case is as before.", "%(n)s cases are as before.", len(stages))
    messages.success(request, words % {"n": len(stages)})
    return SeeOther(reverse("cases:bench-batch", args=[key]))


def _entries(
    request: LabRequest, works: list[Work], chosen: set[int], *, photos: bool = False
) -> list[dict[str, Any]]:
    """Return what the form says of each chosen stage; versions are those the form carried."""
    cases = {work.stage.pk: work.stage.case_id for work in works}
    entries: list[dict[str, Any]] = []
    for pk in sorted(chosen):
        entry: dict[str, Any] = {
            "stage": pk,
            "version": integer(request.POST.get(f"version-{pk}")) or 0,
            "things_used": things_used(request, str(pk)),
        }
        upload = request.FILES.get(f"photo-{pk}")
        if photos and upload is not None and pk in cases:
            kind = f"before-{works[0].stage.key}"
            entry["photo"] = keep_photo(request, upload, cases[pk], kind, part=f"photo-{pk}")
        entries.append(entry)
    return entries


def _show(
    request: LabRequest,
    key: str,
    works: list[Work],
    *,
    refusal: Refusal | None = None,
    chosen: set[int] | None = None,
) -> HttpResponse:
    if not works:
        if refusal is None:
            raise Http404
        messages.error(request, refusal.sentence)
        return to_bench()
    needs = batch_needs(works)
    cured = cured_in_loads([one.stage.case_id for one in works]) if key in SHUT else {}
    ready = [need for need in needs if need.work.stage.state == "planned"]
    running = [need for need in needs if need.work.stage.state == "running"]
    context = {
        **bench_context(request),
        "key": key,
        "name": _(works[0].stage.name),
        "ready": [_row(need, request, chosen, refusal, cured) for need in ready],
        "running": [_row(need, request, chosen, refusal, cured) for need in running],
        "refusal": refusal,
    }
    status = status_of(refusal) if refusal else 200
    return render(request, "bench/batch.html", context, status=status)


def _row(
    need: BatchNeed,
    request: LabRequest,
    chosen: set[int] | None,
    refusal: Refusal | None,
    cured: dict[int, Load],
) -> dict[str, Any]:
    pk = need.work.stage.pk
    used = things_used(request, str(pk))
    return {
        "stage": need.work.stage,
        "cured_in": cured.get(need.work.stage.case_id),
        "things": [
            {
                "kind": kind,
                "value": used.get(kind, ""),
                "error": refusal.sentence
                if refusal is not None and refusal.field == f"{kind}-{pk}"
                else "",
            }
            for kind in need.things
        ],
        "photo_first": need.photo_first,
        "left": need.left,
        "failed": need.failed,
        "chosen": chosen is None or pk in chosen,
    }
