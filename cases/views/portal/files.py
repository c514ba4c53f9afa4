"""Photographs and the delivery note, for who may see the case they belong to."""

from __future__ import annotations

from django.http import FileResponse, Http404, HttpResponseBase

from cases.models import File
from cases.selectors import portal
from cases.services.files import path_of
from cases.views.page import LabRequest, page
from cases.views.portal.case import own_case


def _serve(file: File, name: str) -> HttpResponseBase:
    path = path_of(file)
    if not path.is_file():
        raise Http404
    return FileResponse(path.open("rb"), content_type=file.content_type, filename=name)


@page(may="see-own-practice")
def photograph(request: LabRequest, number: str, file: int) -> HttpResponseBase:
    """Show a photograph that the laboratory made visible to the practice."""
    case = own_case(request, number)
    found = portal.visible_photographs(case).filter(pk=file).first()
    if found is None:
        raise Http404
    return _serve(found, f"{case.number}-{found.pk}.jpg")


@page(may="see-own-practice")
def delivery_note(request: LabRequest, number: str) -> HttpResponseBase:
    """Show the delivery note that went with the box, with its chairside sheets."""
    case = own_case(request, number)
    paper = portal.delivery_note(case)
    if paper is None:
        raise Http404
    return _serve(paper.file, f"{paper.kind}-{paper.number}.pdf")
