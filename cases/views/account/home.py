"""Where somebody lands who opens the laboratory's address, and their own page."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils.translation import gettext as _

from cases.domain.teeth import SYSTEMS
from cases.domain.toothwords import NUMBERINGS
from cases.forms.account import NOTATIONS
from cases.views.form_page import show_forms
from cases.views.notation import choose, labs_notation
from cases.views.page import OPEN, LabRequest, SeeOther, page

LANDING = (
    ("see-flow", "cases:today"),
    ("log-cases", "cases:desk"),
    ("work", "cases:bench"),
    ("see-own-practice", "cases:practice"),
)
"""First page by what a person may do; who has several roles gets the first that fits."""


@page(may=OPEN)
def home(request: LabRequest) -> HttpResponse:
    """Lead everybody to the page that answers their question."""
    visitor = request.visitor
    if request.lab is None:
        return redirect("cases:first-run")
    if visitor.tablet is not None and visitor.person is None:
        return redirect("cases:bench-names")
    for capability, name in LANDING:
        if visitor.may(capability):
            return redirect(name)
    return redirect("cases:account" if visitor.person else "cases:sign-in")


@page(may=OPEN, methods=("GET", "POST"))
def account(request: LabRequest) -> HttpResponse:
    """Show a person what the laboratory knows them by, and what they can change."""
    person = request.visitor.person
    if person is None:
        return redirect("cases:sign-in")
    wanted = request.POST.get("numbering", "")
    if wanted in SYSTEMS:
        choose(request, wanted)
        said = _("Teeth are now written in %(name)s.") % {"name": NUMBERINGS[wanted]}
        messages.success(request, said)
        return SeeOther(reverse("cases:account"))
    return show_forms(
        request,
        "account/account.html",
        person=person,
        user=person.user,
        numberings=NOTATIONS,
        papers_in=NUMBERINGS[labs_notation(request)],
    )
