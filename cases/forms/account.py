"""Entries of the pages by which people come in: shapes only, the services decide."""

from __future__ import annotations

from zoneinfo import available_timezones

from django import forms
from django.utils.translation import gettext_lazy as _

from cases.domain.order_profiles import REQUIRED_PROFILES

PASSWORD = {"autocomplete": "new-password"}


def zone_choices() -> list[tuple[str, str]]:
    """Return the time zones by continent and city, as people look for them."""
    named = sorted(zone for zone in available_timezones() if "/" in zone)
    kept = [zone for zone in named if not zone.startswith(("Etc/", "posix/", "right/", "SystemV/"))]
    return [("UTC", "UTC"), *((zone, zone.replace("_", " ")) for zone in kept)]


NOTATIONS = (
    ("fdi", _("FDI: 11 to 48")),
    ("universal", _("Universal: 1 to 32")),
    ("palmer", _("Palmer: quadrant and 1 to 8, such as UR6")),
)
PAPERS = (("a5", _("A5")), ("letter-half", _("Half a Letter sheet")))


def profile_choices() -> list[tuple[str, str]]:
    """Return the lists of required entries by authority."""
    return [(key, profile.authority) for key, profile in REQUIRED_PROFILES.items()]


class SignInForm(forms.Form):
    """User name and password."""

    username = forms.CharField(
        label=_("User name"),
        max_length=150,
        widget=forms.TextInput(
            attrs={"autocomplete": "username", "autocapitalize": "none", "spellcheck": "false"}
        ),
    )
    password = forms.CharField(
        label=_("Password"),
        strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password"}),
    )


class LabForm(forms.Form):
    """The laboratory's own profile."""

    name = forms.CharField(
        label=_("Name of the laboratory"),
        max_length=80,
        help_text=_("It leads every page and paper."),
    )
    address = forms.CharField(
        label=_("Address"),
        required=False,
        widget=forms.Textarea(attrs={"rows": 3, "autocomplete": "street-address"}),
    )
    zone = forms.ChoiceField(
        label=_("Time zone"),
        choices=zone_choices,
        help_text=_("Opening hours, the van and every time on a screen are meant in it."),
    )
    notation = forms.ChoiceField(label=_("How teeth are numbered"), choices=NOTATIONS)
    paper = forms.ChoiceField(label=_("Paper of the case ticket"), choices=PAPERS)
    required_profile = forms.ChoiceField(
        label=_("What an order must have"),
        choices=profile_choices,
        help_text=_(
            "By the authority the laboratory answers to. This is no legal advice: ask the "
            "authority."
        ),
    )


class FirstRunForm(LabForm):
    """The laboratory's profile and its first manager."""

    manager = forms.CharField(label=_("Your name"), max_length=60)
    username = forms.CharField(
        label=_("User name"),
        max_length=150,
        widget=forms.TextInput(attrs={"autocomplete": "username", "autocapitalize": "none"}),
    )
    email = forms.EmailField(
        label=_("E-mail"),
        required=False,
        help_text=_("Only used to set a forgotten password anew."),
    )
    password = forms.CharField(
        label=_("Password"),
        strip=False,
        help_text=_("At least 10 signs; a sentence is good."),
        widget=forms.PasswordInput(attrs=PASSWORD),
    )


class InvitationForm(forms.Form):
    """What an invited person chooses."""

    username = forms.CharField(
        label=_("User name"),
        max_length=150,
        widget=forms.TextInput(attrs={"autocomplete": "username", "autocapitalize": "none"}),
    )
    email = forms.EmailField(
        label=_("E-mail"),
        required=False,
        help_text=_("Only used to set a forgotten password anew."),
    )
    password = forms.CharField(
        label=_("Password"),
        strip=False,
        help_text=_("At least 10 signs; a sentence is good."),
        widget=forms.PasswordInput(attrs=PASSWORD),
    )


class PasswordForm(forms.Form):
    """The present password and a new one."""

    old = forms.CharField(
        label=_("Present password"),
        strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password"}),
    )
    new = forms.CharField(
        label=_("New password"),
        strip=False,
        help_text=_("At least 10 signs; a sentence is good."),
        widget=forms.PasswordInput(attrs=PASSWORD),
    )


PIN_WIDGET = {"inputmode": "numeric", "pattern": "[0-9]*", "autocomplete": "off"}


class OwnPinForm(forms.Form):
    """The present PIN and a new one."""

    old = forms.CharField(
        label=_("Present PIN"), max_length=8, widget=forms.PasswordInput(attrs=PIN_WIDGET)
    )
    new = forms.CharField(
        label=_("New PIN"),
        max_length=8,
        help_text=_("4 to 8 digits."),
        widget=forms.PasswordInput(attrs=PIN_WIDGET),
    )


class BenchPinForm(forms.Form):
    """The PIN that opens a tablet."""

    pin = forms.CharField(label=_("PIN"), max_length=20)
