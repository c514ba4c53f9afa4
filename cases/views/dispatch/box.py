"""One box: what is in it, which papers, and has it left?"""

from __future__ import annotations

from dataclasses import dataclass

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from cases.documents.boxes import returns_of
from cases.forms.dispatch import CarrierForm, UnpackForm
from cases.models import Shipment, ShipmentCase
from cases.selectors.dispatch import find_box
from cases.services.dispatch import mark_sent, unpack
from cases.services.record import Refusal
from cases.views.dispatch.days import say_day
from cases.views.dispatch.papers import NotPrinted, keep_note, not_printed, note_pdf
from cases.views.page import LabRequest, page, send, show


@dataclass(frozen=True)
class Inside:
    """A case in the box, what goes back with it, and the form to take it out."""

    row: ShipmentCase
    returns: str
    soak: str
    form: UnpackForm


def box_or_404(number: str) -> Shipment:
    """Return the box, or raise Http404."""
    found = find_box(number)
    if found is None:
        raise Http404
    return found


def _heading(found: Shipment, request: LabRequest) -> str:
    parts = {"number": found.number, "practice": found.practice.name}
    if found.sent_at is not None:
        when = date_format(timezone.localtime(found.sent_at), "D j M H:i")
        return _("Box %(number)s left for %(practice)s on %(when)s.") % {**parts, "when": when}
    if not found.contents.all():
        return _("Box %(number)s for %(practice)s is empty.") % parts
    day = say_day(found.ship_on, timezone.localdate(request.now))
    return _("Box %(number)s for %(practice)s leaves %(day)s.") % {**parts, "day": day}


def _soak(row: ShipmentCase) -> str:
    return next((s.words for s in row.case.stages.all() if s.key == "soak" and s.words), "")


def _show(
    request: LabRequest,
    found: Shipment,
    *,
    refusal: Refusal | None = None,
    carrier: CarrierForm | None = None,
    taken: int | None = None,
) -> HttpResponse:
    rows = list(found.contents.all())
    inside = [
        Inside(
            row,
            ", ".join(returns_of(row, found.number)),
            _soak(row),
            UnpackForm(request.POST if row.case_id == taken else None, prefix=str(row.case_id)),
        )
        for row in rows
    ]
    count = len(rows)
    context = {
        "box": found,
        "heading": _heading(found, request),
        "pieces": ngettext("One piece", "%(n)d pieces", count) % {"n": count},
        "inside": inside,
        "papers": sorted(found.papers.all(), key=lambda paper: -paper.pk),
        "carrier": carrier or CarrierForm(),
    }
    return show(request, "dispatch/box.html", context, refusal=refusal)


@page(may="dispatch")
def box(request: LabRequest, number: str) -> HttpResponse:
    """Show a box."""
    return _show(request, box_or_404(number))


@page(may="dispatch", methods=("POST",))
def send_box(request: LabRequest, number: str) -> HttpResponse:
    """Keep the note as it is now and hand the box to the carrier."""
    found = box_or_404(number)
    form = CarrierForm(request.POST)
    if not form.is_valid():
        return _show(request, found, carrier=form)
    reference = form.cleaned_data["carrier_ref"]
    try:
        # Drawn before and kept after: a note that cannot be printed keeps the box here, and a box
        # that stays keeps no note of having left.
        pdf = note_pdf(request, found, carrier=reference)
        send(request, mark_sent, shipment=found.pk, carrier_ref=reference)
        keep_note(request, found, pdf)
    except NotPrinted as fault:
        return not_printed(request, fault)
    except Refusal as refusal:
        return _show(request, box_or_404(number), refusal=refusal, carrier=form)
    messages.success(request, _("Box %(number)s has left.") % {"number": number})
    return redirect("cases:van")


@page(may="dispatch", methods=("POST",))
def unpack_case(request: LabRequest, number: str, pk: int) -> HttpResponse:
    """Take a case out of a box that has not left."""
    found = box_or_404(number)
    form = UnpackForm(request.POST, prefix=str(pk))
    if not form.is_valid():
        missing = Refusal("no-reason", _("Say why it is taken out."), field="reason")
        return _show(request, found, taken=pk, refusal=missing)
    try:
        send(request, unpack, shipment=found.pk, case=pk, reason=form.cleaned_data["reason"])
    except Refusal as refusal:
        return _show(request, found, taken=pk, refusal=refusal)
    messages.success(request, _("Taken out. It has to be packed again before it leaves."))
    return redirect("cases:box", number=number)
