"""Forgotten and changed passwords."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.contrib.auth import update_session_auth_hash, views
from django.contrib.auth.forms import SetPasswordForm
from django.contrib.auth.models import User
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse_lazy
from django.utils import timezone
from django.utils.translation import gettext as _

from cases.forms.account import PasswordForm
from cases.models import Person
from cases.services.accounts import change_password, password_set
from cases.services.record import Envelope
from cases.views.form_page import posted, show_forms
from cases.views.page import OPEN, LabRequest, envelope, page


@page(may=OPEN, methods=("GET", "POST"))
def change(request: LabRequest) -> HttpResponse:
    """Change one's own password."""
    person = request.visitor.person
    if person is None:
        return redirect("cases:sign-in")
    form = PasswordForm(request.POST or None)
    if request.method == "POST":
        done = posted(form, lambda data: change_password(envelope(request), **data))
        if done is not None:
            if request.user.is_authenticated:
                update_session_auth_hash(request, User.objects.get(person=person))
            messages.success(request, _("Your new password is set."))
            return redirect("cases:account")
    return show_forms(request, "account/password_change.html", form)


class _Reset(views.PasswordResetView):
    template_name = "account/password_reset.html"
    email_template_name = "account/password_reset_mail.txt"
    subject_template_name = "account/password_reset_subject.txt"
    success_url = reverse_lazy("cases:password-reset-sent")

    def form_valid(self, form: Any) -> HttpResponse:
        lab = self.request.lab  # type: ignore[attr-defined]
        self.extra_email_context = {"lab_name": lab.name if lab else "labflow"}
        return super().form_valid(form)


class _Confirm(views.PasswordResetConfirmView):
    template_name = "account/password_reset_confirm.html"
    success_url = reverse_lazy("cases:sign-in")

    def form_valid(self, form: SetPasswordForm) -> HttpResponse:  # type: ignore[type-arg]
        response = super().form_valid(form)
        person = Person.objects.filter(user=self.user).first()
        if person is not None:
            password_set(Envelope("web", timezone.now(), person_id=person.pk))
        messages.success(self.request, _("Your new password is set. Sign in with it."))
        return response


@page(may=OPEN)
def reset_sent(request: LabRequest) -> HttpResponse:
    """Say that a mail is on its way, whether the address is known or not."""
    return render(request, "account/password_reset_sent.html")


reset = page(may=OPEN, methods=("GET", "POST"))(_Reset.as_view())
reset_confirm = page(may=OPEN, methods=("GET", "POST"))(_Confirm.as_view())
