"""Somebody is away: everything on their list is handed on in one action."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from cases.forms.away import AwayForm
from cases.selectors.open_cases import work_lists
from cases.services.assign import hand_on_work
from cases.views.form_page import posted, show_forms
from cases.views.page import LabRequest, SeeOther, page, send


@page(may="assign", methods=("GET", "POST"))
def away(request: LabRequest) -> HttpResponse:
    """Choose who is away and hand their work on."""
    if request.method == "POST":
        form = AwayForm(request.POST)
        outcome = posted(form, lambda data: _hand_on(request, data))
        if outcome is not None:
            moved = outcome.result["moved"]
            who = form.cleaned_data["person"].name
            words = ngettext(
                "One stage was handed on from %(who)s.",
                "%(n)s stages were handed on from %(who)s.",
                moved,
            ) % {"n": moved, "who": who}
            if not moved:
                words = _("%(who)s had nothing on the list.") % {"who": who}
            messages.success(request, words)
            return SeeOther(reverse("cases:away"))
    else:
        form = AwayForm(initial={"person": request.GET.get("person")})
    return show_forms(request, "desk/away.html", form, lists=work_lists())


def _hand_on(request: LabRequest, data: dict[str, Any]) -> Any:
    to = data["to"].pk if data["to"] else None
    return send(request, hand_on_work, person=data["person"].pk, to=to)
