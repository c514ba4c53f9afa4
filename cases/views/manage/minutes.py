"""Minutes that the program ended by itself and that somebody has to confirm or correct."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import Http404, HttpResponse
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from cases.forms.manage import MinutesForm
from cases.models import WorkSpan
from cases.selectors import flow
from cases.services.assign import correct_any_time
from cases.views.form_page import posted, show_forms
from cases.views.notation import notation_of
from cases.views.page import LabRequest, SeeOther, page, send

PER_PAGE = 20


def measured(span: WorkSpan) -> int:
    """Return the whole minutes from the begin of a stretch to its end."""
    assert span.ended_at is not None  # noqa: S101 - only ended ones are shown
    return round((span.ended_at - span.began_at).total_seconds() / 60)


def _row(span: WorkSpan, form: MinutesForm | None) -> dict[str, Any]:
    minutes = measured(span)
    fresh = form or MinutesForm(auto_id=f"span{span.pk}_%s", initial={"minutes": minutes})
    return {"span": span, "minutes": minutes, "form": fresh}


def _show(
    request: LabRequest, *, form: MinutesForm | None = None, pk: int | None = None
) -> HttpResponse:
    rows = Paginator(flow.minutes_to_confirm(), PER_PAGE).get_page(request.GET.get("page"))
    n = rows.paginator.count
    said = ngettext(
        "One stretch of work was ended by the program.",
        "%(n)s stretches of work were ended by the program.",
        n,
    )
    return show_forms(
        request,
        "manage/minutes.html",
        form,
        heading=said % {"n": n} if n else _("All minutes are confirmed."),
        rows=rows,
        spans=[_row(span, form if span.pk == pk else None) for span in rows],
        refused_elsewhere=form is not None and pk not in {span.pk for span in rows},
        notation=notation_of(request),
    )


@page(may="correct-times")
def minutes(request: LabRequest) -> HttpResponse:
    """Show the stretches to confirm."""
    return _show(request)


@page(may="correct-times", methods=("POST",))
def correct(request: LabRequest, pk: int) -> HttpResponse:
    """Correct one stretch; what was measured stays beside it."""
    span = WorkSpan.objects.filter(pk=pk).select_related("person").first()
    if span is None:
        raise Http404
    form = MinutesForm(request.POST, auto_id=f"span{pk}_%s")

    def run(data: dict[str, Any]) -> object:
        return send(
            request, correct_any_time, span=pk, minutes=data["minutes"], reason=data["reason"]
        )

    if posted(form, run) is None:
        return _show(request, form=form, pk=pk)
    said = _("%(n)s minutes are stored for %(who)s.")
    parts = {"n": f"{form.cleaned_data['minutes']:g}", "who": span.person.name}
    messages.success(request, said % parts)
    return SeeOther(reverse("cases:minutes"))
