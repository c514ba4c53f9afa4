"""Invitations: the link, shown once, and by mail where there is an address."""

from __future__ import annotations

from smtplib import SMTPException

from django.contrib import messages
from django.core.mail import send_mail
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils.translation import gettext as _

from cases.models import Person
from cases.services.accounts import invite
from cases.views.page import LabRequest, envelope


def invitation_link(request: LabRequest, person: Person, email: str) -> str:
    """Invite a person; return the link, which is stored nowhere. A mail goes out once.

    Raises
    ------
    Refusal
        When the person cannot be invited.
    """
    outcome, token = invite(envelope(request), person=person.pk, email=email)
    link = request.build_absolute_uri(reverse("cases:invitation", args=[token]))
    if email and not outcome.repeated:
        _mail(request, person, email, link)
    return link


def _mail(request: LabRequest, person: Person, email: str, link: str) -> None:
    lab = request.lab.name if request.lab else "labflow"
    text = render_to_string("lab/invitation_mail.txt", {"lab": lab, "person": person, "link": link})
    try:
        send_mail(_("Your sign-in at %(lab)s") % {"lab": lab}, text, None, [email])
    except (SMTPException, OSError):
        messages.warning(
            request, _("The mail could not be sent. Hand the link over in another way.")
        )
    else:
        messages.success(request, _("The mail is sent to %(email)s.") % {"email": email})
