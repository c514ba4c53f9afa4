"""The people of the laboratory."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.forms import BaseForm
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from cases.forms.lab import WeekForm
from cases.forms.lab_people import (
    AbsenceForm,
    HandOnForm,
    InviteForm,
    OvertimeForm,
    PersonForm,
    PinForm,
    SkillsForm,
)
from cases.models import Person, Skill
from cases.selectors.lab import open_invitation
from cases.selectors.people import lab_people, people_list, technicians, work_on_the_list
from cases.services import people as services
from cases.services.assign import hand_on_work
from cases.services.record import Refusal
from cases.views.form_page import posted, section
from cases.views.lab.invite import invitation_link
from cases.views.lab.steps import show_step
from cases.views.page import LabRequest, envelope, page, send

SAVED = {
    "roles": gettext_lazy("Name and roles are saved."),
    "skills": gettext_lazy("The skills are saved."),
    "shifts": gettext_lazy("The shifts are saved."),
    "overtime": gettext_lazy("The overtime is saved; the next plan keeps to it."),
    "absence": gettext_lazy("The absence is entered."),
    "pin": gettext_lazy("The new PIN is set."),
}


@page(may="settings", methods=("GET", "POST"))
def people(request: LabRequest) -> HttpResponse:
    """Show who works here; add somebody."""
    form = PersonForm(request.POST or None)
    if request.method == "POST":
        done = posted(form, lambda data: send(request, services.add_person, **data))
        if done:
            messages.success(request, _("Now skills, shifts and a PIN."))
            return redirect("cases:person", done.result["person"])
    rows = people_list(timezone.localdate(request.now))
    return show_step(request, "lab/people.html", form, step="cases:people", rows=rows)


def _forms(request: LabRequest, row: Person) -> dict[str, BaseForm]:
    """Return the forms of a person's page; the one that was sent is bound."""
    shifts = [(shift.weekday, shift.begins, shift.ends) for shift in row.shifts.all()]
    roles = [role for role in row.roles if role in services.LAB_ROLES]
    first = {"name": row.name, "roles": roles, "is_student": row.is_student}
    others = technicians().exclude(pk=row.pk).values_list("pk", "name")
    return {
        "roles": section(request, "roles", PersonForm, initial=first),
        "skills": section(
            request, "skills", SkillsForm, person=row, skills=list(Skill.objects.all())
        ),
        "shifts": section(request, "shifts", WeekForm, initial=WeekForm.initial_of(shifts)),
        "overtime": section(
            request,
            "overtime",
            OvertimeForm,
            lab=_overtime_of_the_lab(request),
            initial=OvertimeForm.initial_of(row.overtime_minutes),
        ),
        "absence": section(request, "absence", AbsenceForm),
        "hand_on": section(request, "hand_on", HandOnForm, people=list(others)),
        "pin": section(request, "pin", PinForm),
        "invite": section(
            request, "invite", InviteForm, initial={"email": row.user.email if row.user else ""}
        ),
    }


def _overtime_of_the_lab(request: LabRequest) -> str:
    """Return in words what holds of those of whom nothing is said."""
    lab = request.lab
    if lab is None or not lab.plan_overtime:
        return _("as the laboratory says: none, it is only named as what would save a late case")
    minutes = lab.plan_overtime_minutes
    return ngettext(
        "as the laboratory says: %(n)s minute after a shift",
        "as the laboratory says: %(n)s minutes after a shift",
        minutes,
    ) % {"n": minutes}


def _actions(
    request: LabRequest, row: Person, forms: dict[str, Any]
) -> dict[str, Callable[[dict[str, Any]], Any]]:
    """Return what each form of a person's page does with its cleaned entries."""
    pk = row.pk
    return {
        "roles": lambda data: send(request, services.change_person, person=pk, **data),
        "skills": lambda _data: send(
            request, services.set_skills, person=pk, skills=forms["skills"].chosen()
        ),
        "shifts": lambda _data: send(
            request, services.set_shifts, person=pk, shifts=forms["shifts"].spans()
        ),
        "overtime": lambda _data: send(
            request, services.set_overtime, person=pk, minutes=forms["overtime"].chosen()
        ),
        "absence": lambda data: send(
            request,
            services.add_absence,
            person=pk,
            first_on=data["first_on"].isoformat(),
            last_on=data["last_on"].isoformat(),
            words=data["words"],
        ),
        "hand_on": lambda data: send(request, hand_on_work, person=pk, to=data["to"]),
        "pin": lambda data: services.set_pin(envelope(request), person=pk, **data),
        "invite": lambda data: invitation_link(request, row, data["email"]),
    }


@page(may="settings", methods=("GET", "POST"))
def person(request: LabRequest, pk: int) -> HttpResponse:
    """Show one person: roles, skills, shifts, absences, PIN, sign-in."""
    row = get_object_or_404(lab_people().select_related("user"), pk=pk)
    forms = _forms(request, row)
    what = request.POST.get("what", "")
    link = ""
    if request.method == "POST":
        if what not in forms:
            raise Http404
        done = posted(forms[what], _actions(request, row, forms)[what])
        if done and what == "invite":
            link = done
        elif done:
            messages.success(request, _saved_words(what, done))
            return redirect("cases:person", pk)
    today = timezone.localdate(request.now)
    return show_step(
        request,
        "lab/person.html",
        forms.get(what),
        step="cases:people",
        row=row,
        forms=forms,
        link=link,
        absences=row.absences.filter(last_on__gte=today),
        work=work_on_the_list(row),
        invitation=open_invitation(row),
    )


def _saved_words(what: str, outcome: Any) -> str:
    if what == "hand_on":
        return _("%(n)s stages are handed on.") % {"n": outcome.result["moved"]}
    return str(SAVED[what])


def _do(request: LabRequest, verb: Any, words: str, **body: Any) -> None:
    try:
        send(request, verb, **body)
    except Refusal as refusal:
        messages.error(request, refusal.sentence)
    else:
        messages.success(request, words)


@page(may="settings", methods=("POST",))
def absence_remove(request: LabRequest, pk: int, absence: int) -> HttpResponse:
    """Take an absence back."""
    _do(request, services.remove_absence, _("The absence is taken back."), absence=absence)
    return redirect("cases:person", pk)


@page(may="settings", methods=("POST",))
def person_deactivate(request: LabRequest, pk: int) -> HttpResponse:
    """Let a person in no more."""
    words = _("This person cannot come in any more. What they did stays under their name.")
    _do(request, services.deactivate, words, person=pk)
    return redirect("cases:person", pk)


@page(may="settings", methods=("POST",))
def person_activate(request: LabRequest, pk: int) -> HttpResponse:
    """Let a person in again."""
    _do(request, services.activate, _("This person can come in again."), person=pk)
    return redirect("cases:person", pk)
