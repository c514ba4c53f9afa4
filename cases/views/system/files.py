"""Pictures of cases, handed out only to who may see the case."""

from __future__ import annotations

from django.http import Http404, HttpResponse

from cases.models import File
from cases.selectors.visible import visible_cases
from cases.services.files import path_of
from cases.views.page import OPEN, LabRequest, page


def may_see(request: LabRequest, file: File) -> bool:
    """Tell whether the visitor may see a file: people of the lab every one of a case, people
    of a practice what is shown to them of their own cases."""
    visitor = request.visitor
    if visitor.person is None:
        return False
    if visitor.may("see-cases"):
        return True
    if not file.visible_to_practice or file.case_id is None:
        return False
    return visible_cases(visitor.person, door=visitor.door).filter(pk=file.case_id).exists()


@page(may=OPEN)
def file(request: LabRequest, pk: int) -> HttpResponse:
    """Hand out the bytes of a picture or a paper."""
    row = File.objects.filter(pk=pk).first()
    if row is None or not may_see(request, row):
        raise Http404
    path = path_of(row)
    if not path.is_file():
        raise Http404
    response = HttpResponse(path.read_bytes(), content_type=row.content_type)
    response["Content-Disposition"] = f'inline; filename="{row.kind}-{row.pk}{path.suffix}"'
    response["Content-Security-Policy"] = "default-src 'none'; sandbox"
    response["X-Content-Type-Options"] = "nosniff"
    # Bytes under a hash never change; who signs out must not find them in the browser's shelf.
    response["Cache-Control"] = "private, no-store"
    return response
