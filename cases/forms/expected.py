"""Until when a hold is expected to last: the same field at the desk and at the bench."""

from __future__ import annotations

from datetime import date

from django import forms
from django.utils.translation import gettext_lazy


def expected_field() -> forms.DateField:
    """Return the day on which a hold is expected to end; it may be left out."""
    return forms.DateField(
        label=gettext_lazy("Expected until"),
        help_text=gettext_lazy("The plan reckons with this day. Leave it empty if nobody can say."),
        required=False,
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
        error_messages={"invalid": gettext_lazy("Enter a day, or leave it empty.")},
    )


def expected_day(day: date | None) -> str:
    """Return the day as a service takes it."""
    return day.isoformat() if day else ""
