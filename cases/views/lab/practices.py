"""Practices, their dentists and their receptions."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.forms import BaseForm
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from cases.forms.lab_people import InviteForm
from cases.forms.lab_practices import (
    DentistChangeForm,
    DentistForm,
    PracticeForm,
    ReceptionForm,
)
from cases.models import Dentist, Person, Practice
from cases.selectors.lab import dentists_of, practice_list, reception_of
from cases.services import practices as services
from cases.services.record import Refusal
from cases.views.form_page import posted, section
from cases.views.lab.invite import invitation_link
from cases.views.lab.steps import show_step
from cases.views.page import LabRequest, integer, page, send

USUAL = {"ship_weekdays": [0, 1, 2, 3, 4], "transit_days": 0, "cut_off": "16:00"}
SAVED = {
    "practice": gettext_lazy("The practice is saved."),
    "dentist": gettext_lazy("The dentist is added."),
    "reception": gettext_lazy("Added. Now send an invitation."),
}


@page(may="settings")
def practices(request: LabRequest) -> HttpResponse:
    """Show the practices."""
    return show_step(request, "lab/practices.html", step="cases:practices", rows=practice_list())


@page(may="settings", methods=("GET", "POST"))
def practice_new(request: LabRequest) -> HttpResponse:
    """Add a practice."""
    form = PracticeForm(request.POST or None, initial=USUAL)
    if request.method == "POST":
        done = posted(form, lambda data: send(request, services.add_practice, **data))
        if done:
            messages.success(request, _("The practice is added. Now its dentists."))
            return redirect("cases:practice-settings", done.result["practice"])
    return show_step(request, "lab/practice_new.html", form, step="cases:practices")


def _choices() -> list[tuple[int, str]]:
    return list(Practice.objects.filter(active=True).values_list("pk", "name"))


def _forms(request: LabRequest, row: Practice) -> dict[str, BaseForm]:
    first = {name: getattr(row, name) for name in PracticeForm.base_fields}
    return {
        "practice": section(request, "practice", PracticeForm, initial=first),
        "dentist": section(
            request,
            "dentist",
            DentistForm,
            practices=_choices(),
            initial={"practices": [row.pk]},
        ),
        "reception": section(request, "reception", ReceptionForm),
        "invite": section(request, "invite", InviteForm),
    }


def _invited(request: LabRequest, row: Practice) -> Person:
    """Return the person of this practice whom an invitation is for; 404 for any other."""
    member = row.members.select_related("person").filter(
        person__pk=integer(request.POST.get("person")) or 0
    )
    found = member.first()
    if found is None:
        raise Http404
    return found.person


def _actions(request: LabRequest, row: Practice) -> dict[str, Callable[[dict[str, Any]], Any]]:
    return {
        "practice": lambda data: send(request, services.change_practice, practice=row.pk, **data),
        "dentist": lambda data: send(request, services.add_dentist, **data),
        "reception": lambda data: send(request, services.add_reception, practice=row.pk, **data),
        "invite": lambda data: invitation_link(request, _invited(request, row), data["email"]),
    }


@page(may="settings", methods=("GET", "POST"))
def practice(request: LabRequest, pk: int) -> HttpResponse:
    """Show one practice: how boxes travel to it, its dentists, its reception."""
    row = get_object_or_404(Practice, pk=pk)
    forms = _forms(request, row)
    what = request.POST.get("what", "")
    link = ""
    if request.method == "POST":
        if what not in forms:
            raise Http404
        done = posted(forms[what], _actions(request, row)[what])
        if done and what == "invite":
            link = done
        elif done:
            messages.success(request, SAVED[what])
            return redirect("cases:practice-settings", pk)
    return show_step(
        request,
        "lab/practice.html",
        forms.get(what),
        step="cases:practices",
        row=row,
        forms=forms,
        link=link,
        invited=integer(request.POST.get("person")) if what == "invite" else None,
        dentists=dentists_of(row),
        reception=reception_of(row),
    )


@page(may="settings", methods=("GET", "POST"))
def dentist(request: LabRequest, pk: int) -> HttpResponse:
    """Change a dentist: name, licence, practices."""
    row = get_object_or_404(Dentist, pk=pk)
    held = list(row.places.values_list("practice", flat=True))
    first = {
        "name": row.name,
        "licence": row.licence,
        "active": row.active,
        "practices": held,
    }
    form = DentistChangeForm(request.POST or None, initial=first, practices=_choices())
    if request.method == "POST":
        done = posted(form, lambda data: send(request, services.change_dentist, dentist=pk, **data))
        if done:
            messages.success(request, _("The dentist is saved."))
            return redirect("cases:practice-settings", form.cleaned_data["practices"][0])
    back = held[0] if held else None
    return show_step(request, "lab/dentist.html", form, step="cases:practices", row=row, back=back)


def _do(request: LabRequest, verb: Any, words: str, **body: Any) -> None:
    try:
        send(request, verb, **body)
    except Refusal as refusal:
        messages.error(request, refusal.sentence)
    else:
        messages.success(request, words)


@page(may="settings", methods=("POST",))
def dentist_sign_in(request: LabRequest, pk: int, dentist: int) -> HttpResponse:
    """Give a dentist a sign-in; the invitation comes next."""
    words = _("The dentist can be invited now.")
    _do(request, services.give_dentist_sign_in, words, dentist=dentist)
    return redirect("cases:practice-settings", pk)


@page(may="settings", methods=("POST",))
def reception_remove(request: LabRequest, pk: int, person: int) -> HttpResponse:
    """Let somebody of the reception in no more."""
    words = _("This person sees nothing of the practice any more.")
    _do(request, services.remove_reception, words, practice=pk, person=person)
    return redirect("cases:practice-settings", pk)


@page(may="settings", methods=("POST",))
def practice_close(request: LabRequest, pk: int) -> HttpResponse:
    """Take a practice off the lists."""
    _do(request, services.close_practice, _("The practice is off the lists."), practice=pk)
    return redirect("cases:practice-settings", pk)


@page(may="settings", methods=("POST",))
def practice_open(request: LabRequest, pk: int) -> HttpResponse:
    """Put a practice on the lists again."""
    _do(request, services.open_practice, _("The practice is on the lists again."), practice=pk)
    return redirect("cases:practice-settings", pk)
