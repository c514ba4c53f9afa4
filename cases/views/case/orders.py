"""Pages about the order: correcting it, a new impression, what followed later, making it again."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404
from django.urls import reverse
from django.utils.translation import gettext as _

from cases.forms.case_actions import CameForm
from cases.forms.case_order import CorrectForm, NewImpressionForm, RemakeForm
from cases.models import Received
from cases.services.correct_order import correct_order
from cases.services.new_impression import take_new_impression
from cases.services.received import later_item_came
from cases.services.record import Outcome
from cases.services.remake import remake_case
from cases.views.case.actions import version_of
from cases.views.case.door import Action, act, show_action, the_case
from cases.views.case.history_words import ITEM_WORDS
from cases.views.form_page import posted
from cases.views.notation import written_in
from cases.views.page import LabRequest, SeeOther, integer, page, send


@page(may="log-cases", methods=("GET", "POST"))
def correct(request: LabRequest, number: str) -> HttpResponse:
    """Correct entries of the order by a later entry."""
    case = the_case(request, number)
    form = CorrectForm(
        request.POST or None,
        case=case,
        notation=written_in(request, request.POST),
        entering=integer(request.GET.get("answer")),
    )

    def run(data: dict[str, Any]) -> object:
        return send(
            request,
            correct_order,
            case=case.pk,
            version=version_of(request, case.version),
            changes=form.changes(),
            reason=data["reason"],
            patient_ref=data["patient_ref"].strip().upper(),
            answers=[int(pk) for pk in data.get("answers", ())],
        )

    action = Action(
        _("Correct what was entered wrongly."),
        _("Keep the correction"),
        _("The order is corrected. What was received stands beside it."),
        _("The prescription as received stays. Stages and checks follow the corrected order."),
        template="case/correct.html",
    )
    return act(request, case, form, action, run, anchor="order", version=case.version)


@page(may="log-cases", methods=("GET", "POST"))
def new_impression(request: LabRequest, number: str) -> HttpResponse:
    """Log a new impression: the old casts are void."""
    case = the_case(request, number)
    form = NewImpressionForm(request.POST or None)

    def run(data: dict[str, Any]) -> object:
        return send(
            request,
            take_new_impression,
            case=case.pk,
            version=version_of(request, case.version),
            items=form.items(),
            disinfection=form.disinfection(),
            words=data["words"],
        )

    action = Action(
        _("A new impression came."),
        _("Begin again from it"),
        _("The old casts are void. The work begins again from the new impression."),
        _("The casts of the old one become void and every stage after unpacking is done again. "
          "The pour clock starts when the new one was taken."),
    )  # fmt: skip
    return act(request, case, form, action, run, anchor="now", version=case.version)


@page(may="log-cases", methods=("GET", "POST"))
def came(request: LabRequest, number: str, pk: int) -> HttpResponse:
    """Note that what followed later is here."""
    case = the_case(request, number)
    received = get_object_or_404(Received, pk=pk, case=case)
    form = CameForm(request.POST or None, received=received)
    if request.method == "POST":
        form = CameForm(request.POST, received=received)

    def run(data: dict[str, Any]) -> object:
        taken = data.get("taken_at")
        return send(
            request,
            later_item_came,
            received=received.pk,
            material=data.get("material") or "",
            pour_limit_minutes=data.get("pour_limit_minutes"),
            taken_at=taken.isoformat() if taken else None,
        )

    item = _(ITEM_WORDS.get(received.item, received.item))
    action = Action(
        _("It has come: %(item)s.") % {"item": item},
        _("It is here"),
        _("It is noted. What waited for it can go on."),
    )
    return act(request, case, form, action, run, anchor="order")


@page(may="close-cases", methods=("GET", "POST"))
def remake(request: LabRequest, number: str) -> HttpResponse:
    """Have a sent or open piece made again, as a new case linked to this one."""
    case = the_case(request, number)
    if case.state == "cancelled":
        raise Http404
    form = RemakeForm(request.POST or None)
    action = Action(
        _("Make it again."),
        _("Open the new case"),
        _("It is made again."),
        _("A new case with its own number; both show the link. A case that is still open is "
          "closed by it."),
        template="case/remake.html",
    )  # fmt: skip

    def run(data: dict[str, Any]) -> Outcome:
        new = data["start"] == "new-impression"
        days = {name: data[name].isoformat() if data[name] else None
                for name in ("appointment_on", "needed_on", "ship_on")}  # fmt: skip
        return send(
            request,
            remake_case,
            case=case.pk,
            version=version_of(request, case.version),
            reason=data["reason"],
            origin=data["origin"],
            start=data["start"],
            items=form.items() if new else [],
            disinfection=form.disinfection() if new else {},
            **days,
        )

    if request.method == "POST":
        outcome = posted(form, run)
        if outcome is not None:
            messages.success(request, action.done)
            return SeeOther(reverse("cases:case", args=[outcome.result["number"]]))
    return show_action(request, case, form, action, version=case.version)
