"""The present stage of a load held longer: by how much, why, and who decided."""

from __future__ import annotations

from datetime import timedelta

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.urls import reverse
from django.utils.timezone import localtime
from django.utils.translation import gettext as _

from cases.domain.cure.longer import end_minute, stage_at, why_not_longer
from cases.forms.cut import LongerForm
from cases.models import Load
from cases.selectors.loads import as_run, one_load
from cases.services.load_longer import hold_longer
from cases.views.form_page import posted, show_forms
from cases.views.page import LabRequest, SeeOther, integer, page, send


@page(may="countersign", methods=("GET", "POST"))
def longer(request: LabRequest, number: int) -> HttpResponse:
    """Have the present stage of a load in its bath held longer."""
    row = one_load(number)
    if row is None:
        raise Http404
    form = LongerForm(request.POST if request.method == "POST" else None)
    if request.method == "POST":
        known = {"load": number, "version": integer(request.POST.get("version")) or 0}
        done = posted(form, lambda data: send(request, hold_longer, **known, **data))
        if done is not None:
            row.refresh_from_db()
            said = _("Load %(number)d is held longer: the program now ends at %(at)s.")
            at = f"{localtime(row.ends_at):%H:%M}" if row.ends_at else ""
            messages.success(request, said % {"number": number, "at": at})
            return SeeOther(reverse("cases:load", args=[number]))
    return show_forms(request, "load/longer.html", form, load=row, **_stage(request, row))


def _stage(request: LabRequest, row: Load) -> dict[str, object]:
    """Return the present stage in words, until when it runs, and why it cannot be held longer."""
    if row.state != "running" or row.starts_at is None:
        return {"stage": "", "why_not": ""}
    program = as_run(row)
    n = stage_at(program, (request.now - row.starts_at).total_seconds() / 60)
    told = {"number": n + 1, "celsius": f"{program.stages[n].celsius:.0f}"}
    return {
        "stage": _("Stage %(number)d, %(celsius)s °C") % told,
        "until": row.starts_at + timedelta(minutes=end_minute(program, n)),
        "why_not": why_not_longer(program.stages[n], n + 1, resumable=row.program.resin.resumable),
    }
