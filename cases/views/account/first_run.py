"""The first page of an empty installation: the laboratory and its first manager."""

from __future__ import annotations

from django.contrib import messages
from django.contrib.auth import login
from django.http import HttpResponse
from django.shortcuts import redirect
from django.utils.translation import gettext as _

from cases.forms.account import FirstRunForm
from cases.models import Person
from cases.services.setup import set_up
from cases.views.form_page import posted, show_forms
from cases.views.page import OPEN, LabRequest, envelope, page


@page(may=OPEN, methods=("GET", "POST"))
def first_run(request: LabRequest) -> HttpResponse:
    """Set the laboratory up, sign its manager in, and go on to the rest of the steps."""
    if request.lab is not None and request.method == "GET":
        return redirect("cases:home")
    first = {"zone": "Europe/Vienna", "notation": "fdi", "required_profile": "longest"}
    form = FirstRunForm(request.POST or None, initial=first)
    if request.method == "POST":
        outcome = posted(form, lambda data: set_up(envelope(request), **data))
        if outcome is not None:
            person = Person.objects.select_related("user").get(pk=outcome.result["manager"])
            login(request, person.user)
            messages.success(
                request, _("The laboratory is set up. Go on with the people who work in it.")
            )
            return redirect("cases:lab")
    return show_forms(request, "account/first_run.html", form)
