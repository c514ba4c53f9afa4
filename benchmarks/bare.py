"""What the pages are measured against: the same middleware, session and rows, nothing else."""

from __future__ import annotations

from django.db.models import Model
from django.http import HttpResponse
from django.template import Context, Template
from django.urls import include, path

from cases.models import Case, CaseStage
from cases.selectors.open_cases import IN_THE_LAB
from cases.views.page import LabRequest, integer, page

TABLE = Template(
    "<!DOCTYPE html><title>Bare</title><table>{% for row in rows %}<tr>"
    "{% for cell in row %}<td>{{ cell }}</td>{% endfor %}</tr>{% endfor %}</table>"
)


def _cells(*joined: Model | None) -> list[object]:
    return [
        getattr(row, field.attname)
        for row in joined
        if row is not None
        for field in row._meta.concrete_fields
    ]


@page(may="see-cases")
def cases(request: LabRequest) -> HttpResponse:
    """One page of open cases with what they are joined with, one cell a column."""
    found = Case.objects.filter(state__in=IN_THE_LAB).select_related("practice", "design")
    rows = [_cells(row, row.practice, row.design) for row in found.order_by("leaves_at", "pk")[:60]]
    return HttpResponse(TABLE.render(Context({"rows": rows})))


@page(may="work")
def stages(request: LabRequest) -> HttpResponse:
    """As many stages as the bench shows with what they are joined with, one cell a column."""
    found = CaseStage.objects.filter(
        state="planned", ready_at__isnull=False, case__state="open"
    ).select_related("case", "case__design", "assignee", "worker")
    most = integer(request.GET.get("rows")) or 60
    rows = [
        _cells(row, row.case, row.case.design, row.assignee, row.worker)
        for row in found.order_by("ready_at", "pk")[:most]
    ]
    return HttpResponse(TABLE.render(Context({"rows": rows})))


urlpatterns = [
    path("bare/cases/", cases),
    path("bare/stages/", stages),
    path("", include("labflow.urls")),
]
