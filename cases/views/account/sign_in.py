"""Signing in and out with a user name and password, and accepting an invitation."""

from __future__ import annotations

from django.conf import settings
from django.contrib import messages
from django.contrib.auth import login, logout
from django.contrib.auth.models import User
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _

from cases.demo import people
from cases.forms.account import InvitationForm, SignInForm
from cases.models import Person
from cases.services.accounts import (
    accept_invitation,
    check_sign_in,
    find_invitation,
    signed_in,
)
from cases.services.record import Envelope, Refusal
from cases.views.form_page import posted, safe_next, show_forms
from cases.views.page import OPEN, LabRequest, envelope, page


def address_of(request: LabRequest) -> str:
    """Return the network address that a request comes from."""
    if settings.BEHIND_PROXY:
        # The last entry is the one that our own proxy wrote; earlier ones are the client's word.
        header: str = request.META.get("HTTP_X_FORWARDED_FOR", "")
        forwarded = header.split(",")[-1].strip()
        if forwarded:
            return forwarded
    return str(request.META.get("REMOTE_ADDR", ""))


def _demo_sign_ins(request: LabRequest) -> str:
    """Return how to come into the invented lab; nothing in any other."""
    if not settings.DEMO or request.lab is None or request.lab.name != people.LAB:
        return ""
    *names, last = people.usernames()
    return _(
        "This laboratory is invented: sign in as %(names)s or %(last)s, each with the password "
        "%(password)s; the PIN of every technician at a bench is %(pin)s."
    ) % {
        "names": ", ".join(names),
        "last": last,
        "password": people.PASSWORD,
        "pin": people.PIN,
    }


def let_in(request: LabRequest, user: User) -> None:
    """Begin the session of a person and write it down."""
    person = Person.objects.get(user=user)
    login(request, user)
    signed_in(Envelope("web", request.now, person_id=person.pk))


@page(may=OPEN, methods=("GET", "POST"))
def sign_in(request: LabRequest) -> HttpResponse:
    """Ask for user name and password; an enrolled tablet asks for a name and a PIN instead."""
    if request.lab is None:
        return redirect("cases:first-run")
    if request.visitor.tablet is not None:
        return redirect("cases:bench-names")
    if request.visitor.person is not None and request.method == "GET":
        return redirect(safe_next(request))
    form = SignInForm(request.POST or None)
    if request.method == "POST":
        user = posted(
            form,
            lambda data: check_sign_in(**data, address=address_of(request), now=request.now),
        )
        if user is not None:
            let_in(request, user)
            return redirect(safe_next(request))
    where = request.POST.get("next") or request.GET.get("next") or ""
    return show_forms(
        request, "account/sign_in.html", form, next=where, demo=_demo_sign_ins(request)
    )


@page(may=OPEN, methods=("POST",))
def sign_out(request: LabRequest) -> HttpResponse:
    """End the session of this browser."""
    logout(request)
    messages.success(request, _("You are signed out."))
    return redirect("cases:sign-in")


@page(may=OPEN, methods=("GET", "POST"))
def invitation(request: LabRequest, token: str) -> HttpResponse:
    """Let an invited person choose a user name and password, once."""
    try:
        row = find_invitation(token, request.now)
    except Refusal as refusal:
        return render(request, "account/invitation_over.html", {"refusal": refusal}, status=410)
    known = row.person.user
    first = {"username": known.username if known else "", "email": row.email}
    form = InvitationForm(request.POST or None, initial=first)
    if request.method == "POST":
        outcome = posted(
            form, lambda data: accept_invitation(envelope(request), token=token, **data)
        )
        if outcome is not None:
            let_in(request, User.objects.get(person=row.person))
            messages.success(request, _("Welcome. This is what concerns you."))
            return redirect("cases:home")
    return show_forms(request, "account/invitation.html", form, invitation=row)
