"""A flask taken out or opened before its time: who decided, and why."""

from __future__ import annotations

from django.http import Http404, HttpResponse

from cases.forms.load import ShortenForm
from cases.models import CaseStage
from cases.services.cure_shut import COOL, OPEN
from cases.services.load_run import shorten_wait
from cases.views.bench.frame import to_stage
from cases.views.case.door import see_other
from cases.views.form_page import posted, show_forms
from cases.views.page import LabRequest, integer, page, send


@page(may="countersign", methods=("GET", "POST"))
def shorten(request: LabRequest, pk: int) -> HttpResponse:
    """Shorten the wait before the cooling or the opening of one flask, with the reason."""
    stage = CaseStage.objects.select_related("case").filter(pk=pk, key__in=[COOL, OPEN]).first()
    if stage is None:
        raise Http404
    form = ShortenForm(request.POST or None)
    if request.method == "POST":
        version = integer(request.POST.get("version")) or 0
        done = posted(
            form, lambda data: send(request, shorten_wait, stage=pk, version=version, **data)
        )
        if done is not None:
            if request.visitor.may("work"):
                return to_stage(pk)
            return see_other(stage.case)
    return show_forms(request, "load/shorten.html", form, stage=stage)
