"""What every bench page shares: the list at the left, where to go after a form."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import Http404
from django.urls import reverse
from django.utils.translation import ngettext

from cases.models import CaseStage, CheckItem, Person
from cases.selectors.bench import Bench, bench_of, undoable
from cases.selectors.bench_stage import find_check, find_stage
from cases.services.record import Refusal
from cases.services.undo import UNDO_FOR
from cases.views.notation import notation_of
from cases.views.page import LabRequest, SeeOther


def to_stage(stage: CaseStage | int) -> SeeOther:
    """Go (back) to the page of a stage."""
    pk = stage if isinstance(stage, int) else stage.pk
    return SeeOther(reverse("cases:bench-stage", args=[pk]))


def to_bench() -> SeeOther:
    """Go to the list of one's work."""
    return SeeOther(reverse("cases:bench"))


def person_of(request: LabRequest) -> Person:
    """Return who is at the bench; the page decorator lets nobody else come here."""
    if request.visitor.person is None:
        raise Http404
    return request.visitor.person


def stage_or_404(request: LabRequest, pk: int) -> CaseStage:
    """Return a stage that the visitor may see."""
    stage = find_stage(person_of(request), pk, door=request.visitor.door)
    if stage is None:
        raise Http404
    return stage


def check_or_404(request: LabRequest, pk: int) -> CheckItem:
    """Return a check that the visitor may see."""
    item = find_check(person_of(request), pk, door=request.visitor.door)
    if item is None:
        raise Http404
    return item


def station_of(request: LabRequest) -> str:
    """Return the key of the station where the tablet stands, or nothing."""
    tablet = request.visitor.tablet
    return tablet.station.key if tablet and tablet.station else ""


def bench_context(request: LabRequest) -> dict[str, Any]:
    """Return what the list at the left and the messages above the work show."""
    person = person_of(request)
    everywhere = "everywhere" in request.GET
    bench = bench_of(person, request.now, station=station_of(request), everywhere=everywhere)
    return {
        "bench": bench,
        "load_now": next((load for load in bench.to_load if load.is_now(request.now)), None),
        "notation": notation_of(request),
        "station": request.visitor.tablet.station if request.visitor.tablet else None,
        "everywhere": everywhere,
        "list_words": _list_words(bench),
        "undo": _undo(person, request),
        "now": request.now,
    }


def _list_words(bench: Bench) -> str:
    count = len(bench.in_hand) + len(bench.given) + len(bench.free)
    words = ngettext("Your work: %(n)s case", "Your work: %(n)s cases", count)
    return words % {"n": count}


def _undo(person: Person, request: LabRequest) -> dict[str, Any] | None:
    """Return what can still be taken back, and until when."""
    found = undoable(person, request.now)
    if found is None:
        return None
    return {
        "stage": found.stages[0],
        "stages": found.stages,
        "kind": found.event.kind,
        "until": found.event.received_at + UNDO_FOR,
    }


def say_refusal(request: LabRequest, refusal: Refusal) -> None:
    """Show a refusal's sentence on the page that comes next."""
    messages.error(request, refusal.sentence)
