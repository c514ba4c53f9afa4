"""Entries about practices, dentists and receptions."""

from __future__ import annotations

from datetime import time
from typing import Any

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from cases.domain.order_choices import BORDERS, POLISH
from cases.forms.lab import WEEKDAYS

NO_USUAL = ("", gettext_lazy("nothing usual: it is asked each time"))


def usual(choices: tuple[tuple[str, str], ...]) -> list[tuple[str, Any]]:
    """Return the choices in the reader's language, with an empty one first."""
    return [NO_USUAL, *((value, _(words)) for value, words in choices)]


class PracticeForm(forms.Form):
    """A practice: where it is, how boxes travel to it, what it usually orders."""

    name = forms.CharField(label=gettext_lazy("Name"), max_length=80)
    code = forms.CharField(
        label=gettext_lazy("Code"),
        max_length=8,
        required=False,
        help_text=gettext_lazy("1 to 8 letters and digits; left empty it is made from the name."),
        widget=forms.TextInput(attrs={"autocapitalize": "characters", "autocomplete": "off"}),
    )
    address = forms.CharField(
        label=gettext_lazy("Address"), required=False, widget=forms.Textarea(attrs={"rows": 3})
    )
    phone = forms.CharField(
        label=gettext_lazy("Telephone"),
        required=False,
        max_length=40,
        widget=forms.TextInput(attrs={"inputmode": "tel"}),
    )
    van_route = forms.CharField(
        label=gettext_lazy("Van route"),
        required=False,
        max_length=40,
        help_text=gettext_lazy("Such as North, or Post."),
    )
    ship_weekdays = forms.TypedMultipleChoiceField(
        label=gettext_lazy("Days on which a box leaves"),
        choices=WEEKDAYS,
        coerce=int,
        widget=forms.CheckboxSelectMultiple,
    )
    transit_days = forms.IntegerField(
        label=gettext_lazy("Working days until it is there"),
        min_value=0,
        max_value=30,
        help_text=gettext_lazy("0: on the same day."),
    )
    cut_off = forms.TimeField(
        label=gettext_lazy("The van leaves at"),
        input_formats=["%H:%M", "%H.%M", "%H"],
        widget=forms.TimeInput(attrs={"type": "time"}, format="%H:%M"),
    )
    usual_borders = forms.ChoiceField(
        label=gettext_lazy("Borders, usually"), required=False, choices=lambda: usual(BORDERS)
    )
    usual_polish = forms.ChoiceField(
        label=gettext_lazy("Polish, usually"), required=False, choices=lambda: usual(POLISH)
    )

    def clean_cut_off(self) -> str:
        """Return the time as services take it."""
        at: time = self.cleaned_data["cut_off"]
        return at.isoformat("minutes")


class DentistForm(forms.Form):
    """A dentist and where they work."""

    name = forms.CharField(label=gettext_lazy("Name"), max_length=80)
    licence = forms.CharField(
        label=gettext_lazy("Licence number"), required=False, max_length=40,
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )  # fmt: skip
    practices = forms.TypedMultipleChoiceField(
        label=gettext_lazy("Works at"), coerce=int, widget=forms.CheckboxSelectMultiple
    )

    def __init__(self, *args: Any, practices: list[tuple[int, str]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["practices"].choices = practices  # type: ignore[attr-defined]


class DentistChangeForm(DentistForm):
    """A dentist who is known already."""

    active = forms.BooleanField(label=gettext_lazy("Prescribes for us"), required=False)


class ReceptionForm(forms.Form):
    """Somebody of a practice's reception."""

    name = forms.CharField(label=gettext_lazy("Name"), max_length=60)
