"""Print a paper, keep it as it was printed, and read it again."""

from __future__ import annotations

import dataclasses
import uuid
from collections.abc import Callable

from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.text import slugify

from cases.documents.boxes import box_facts
from cases.documents.delivery_note import delivery_note_pdf
from cases.documents.facts import CaseFacts, House, arch_of, case_facts
from cases.documents.label import label_pdf
from cases.documents.lists import DayRow, day_print_pdf
from cases.documents.ticket import ticket_pdf
from cases.documents.type import CannotPrint, DoesNotFit
from cases.models import Case, Shipment
from cases.selectors.dispatch import find_box, open_case_keys
from cases.selectors.open_cases import Row, rows_of
from cases.selectors.papers import case_for_paper, paper_of, papers_for
from cases.selectors.visible import find_case, visible_cases
from cases.services.files import path_of
from cases.services.papers import PDF, keep_paper, store_pdf
from cases.services.record import Envelope
from cases.views.desk.row_words import row_words
from cases.views.page import LabRequest, envelope, page, show


class NotPrinted(Exception):
    """A paper that cannot be drawn; the sentence says which text stands in the way."""


def drawn(draw: Callable[[], bytes]) -> bytes:
    """Draw a paper, or raise NotPrinted with the sentence for people."""
    try:
        return draw()
    except (CannotPrint, DoesNotFit) as error:
        raise NotPrinted(str(error)) from error


def not_printed(request: LabRequest, fault: NotPrinted) -> HttpResponse:
    """Say why nothing was printed."""
    return render(request, "dispatch/not_printed.html", {"sentence": str(fault)}, status=422)


def keep(
    request: LabRequest,
    pdf: Callable[[], bytes],
    *,
    kind: str,
    number: str,
    case: int | None = None,
    shipment: int | None = None,
    design: int | None = None,
    sent_as: Envelope | None = None,
) -> int:
    """Draw and keep a paper once for each submission; returns its primary key."""
    sent = sent_as or envelope(request)
    person = request.visitor.person
    earlier = paper_of(sent.submission_id, person) if person else None
    if earlier is not None:
        return earlier
    stored = vars(store_pdf(drawn(pdf)))
    outcome = keep_paper(
        sent,
        kind=kind,
        number=number,
        stored=stored,
        case=case,
        shipment=shipment,
        design=design,
    )
    return int(outcome.result["paper"])


def note_pdf(request: LabRequest, box: Shipment, *, carrier: str = "") -> bytes:
    """Draw the note of a box as it is now; NotPrinted when a text stands in the way."""
    house = House.of(request.lab)
    return drawn(lambda: delivery_note_pdf(box_facts(box, house, carrier=carrier), house))


def keep_note(request: LabRequest, box: Shipment, pdf: bytes) -> int:
    """Keep a drawn note; the same note is not kept twice."""
    stored = store_pdf(pdf)
    notes = [paper for paper in box.papers.all() if paper.kind == "note"]
    latest = max(notes, key=lambda paper: paper.pk, default=None)
    if latest is not None and latest.file.sha256 == stored.sha256:
        return latest.pk
    sent = envelope(request)
    own = uuid.uuid5(sent.submission_id, stored.sha256)
    return keep(
        request,
        lambda: pdf,
        kind="note",
        number=box.number,
        shipment=box.pk,
        sent_as=dataclasses.replace(sent, submission_id=own),
    )


def _case_or_404(request: LabRequest, number: str) -> Case:
    visitor = request.visitor
    assert visitor.person is not None  # noqa: S101  (page() let nobody else in)
    try:
        seen = find_case(visitor.person, number, door=visitor.door)
    except ValueError:
        seen = None
    cases = visible_cases(visitor.person, door=visitor.door)
    case = case_for_paper(cases, seen.number) if seen else None
    if case is None:
        raise Http404
    return case


def _of_case(
    request: LabRequest, number: str, kind: str, draw: Callable[[CaseFacts, House], bytes]
) -> HttpResponse:
    case = _case_or_404(request, number)
    house = House.of(request.lab)
    try:
        kept = keep(
            request,
            lambda: draw(case_facts(case, house), house),
            kind=kind,
            number=case.number,
            case=case.pk,
            design=case.design.version if case.design else None,
        )
    except NotPrinted as fault:
        return not_printed(request, fault)
    return redirect("cases:paper", pk=kept)


@page(may="dispatch", methods=("POST",))
def ticket(request: LabRequest, number: str) -> HttpResponse:
    """Print the ticket of a case."""
    return _of_case(request, number, "ticket", ticket_pdf)


@page(may="dispatch", methods=("POST",))
def label(request: LabRequest, number: str) -> HttpResponse:
    """Print the label of a case's pan."""
    return _of_case(request, number, "label", label_pdf)


@page(may="dispatch", methods=("POST",))
def note(request: LabRequest, number: str) -> HttpResponse:
    """Print the delivery note of a box with its chairside sheets."""
    box = find_box(number)
    if box is None or not box.contents.all():
        raise Http404
    try:
        kept = keep_note(request, box, note_pdf(request, box))
    except NotPrinted as fault:
        return not_printed(request, fault)
    return redirect("cases:paper", pk=kept)


def _day_row(row: Row, request: LabRequest, house: House) -> DayRow:
    words = row_words(row, request.now)
    case = words.case
    return DayRow(
        number=case.number,
        arch=arch_of(case),
        practice=case.practice.name,
        patient_ref=case.patient_ref,
        stage=" ".join(part for part in (words.stage, words.beside) if part),
        who=words.person,
        leaves=house.instant(case.leaves_at) or house.day(case.promised_on),
        marks=", ".join(mark.words for mark in words.marks),
    )


@page(may="dispatch", methods=("GET", "POST"))
def day_print(request: LabRequest) -> HttpResponse:
    """Ask for, and then draw, every open case with where it stands."""
    if request.method != "POST":
        return show(request, "dispatch/day.html", {"count": len(open_case_keys())})
    house = House.of(request.lab)

    def draw() -> bytes:
        rows = tuple(_day_row(row, request, house) for row in rows_of(open_case_keys()))
        return day_print_pdf(rows, house, now=request.now)

    day = timezone.localdate(request.now).isoformat()
    try:
        kept = keep(request, draw, kind="day", number=day)
    except NotPrinted as fault:
        return not_printed(request, fault)
    return redirect("cases:paper", pk=kept)


@page(may="dispatch")
def paper(request: LabRequest, pk: int) -> HttpResponse:
    """Show a paper as it was printed."""
    visitor = request.visitor
    assert visitor.person is not None  # noqa: S101  (page() let nobody else in)
    papers = papers_for(visitor.person, door=visitor.door).select_related("file")
    found = papers.filter(pk=pk).first()
    if found is None or not path_of(found.file).exists():
        raise Http404
    name = slugify(f"{found.kind}-{found.number}")
    return HttpResponse(
        path_of(found.file).read_bytes(),
        content_type=PDF,
        headers={"Content-Disposition": f'inline; filename="{name}.pdf"'},
    )
