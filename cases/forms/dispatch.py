"""Entries of the van's pages: shapes only, the services decide."""

from __future__ import annotations

from datetime import date
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from cases.models import Practice


class PickUpForm(forms.Form):
    """Something to be fetched from a practice."""

    practice = forms.ModelChoiceField(
        label=_("Practice"), queryset=Practice.objects.filter(active=True), empty_label=None
    )
    words = forms.CharField(
        label=_("What is to be fetched"),
        max_length=120,
        help_text=_("Such as: impression, old piece to repair. No patient's name."),
    )

    def entries(self, day: date) -> dict[str, Any]:
        """Return what the service takes."""
        data = self.cleaned_data
        return {"practice": data["practice"].pk, "day": day.isoformat(), "words": data["words"]}


class CarrierForm(forms.Form):
    """Handing a box to the carrier."""

    carrier_ref = forms.CharField(
        label=_("Carrier's reference"),
        max_length=60,
        required=False,
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
        help_text=_("Parcel or receipt number. Leave it empty for the lab's own van."),
    )


class UnpackForm(forms.Form):
    """Taking a case out of its box."""

    reason = forms.CharField(label=_("Why is it taken out?"), max_length=200)
