"""Entries for the feed of a bath: a logger's file, or a token."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from cases.domain.cure.feed import ORDERS


class BindForm(forms.Form):
    """A file that grows, and what it may leave open."""

    file_name = forms.CharField(
        label=gettext_lazy("Name of the file"),
        max_length=120,
        help_text=gettext_lazy("In the folder of feeds, such as bath-1.csv."),
    )
    unit = forms.ChoiceField(
        label=gettext_lazy("Unit"), choices=[("C", "°C"), ("F", "°F")], initial="C"
    )
    order = forms.ChoiceField(label=gettext_lazy("How the date is written"), required=False)
    column = forms.CharField(
        label=gettext_lazy("Name of the bath's column"),
        max_length=60,
        required=False,
        help_text=gettext_lazy("Only where the file has several temperatures."),
    )
    probe = forms.CharField(
        label=gettext_lazy("Which probe measures"),
        max_length=40,
        required=False,
        help_text=gettext_lazy("As it is marked: its last check is then taken into account."),
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        order = self.fields["order"]
        assert isinstance(order, forms.ChoiceField)  # noqa: S101 - declared above
        order.choices = [(key, _(words)) for key, words in ORDERS.items()]


class OpenForm(forms.Form):
    """A token, and the probe whose temperatures come with it."""

    probe = forms.CharField(
        label=gettext_lazy("Which probe measures"),
        max_length=40,
        required=False,
        help_text=gettext_lazy("As it is marked: its last check is then taken into account."),
    )


class EndForm(forms.Form):
    """Nothing to enter: the feed ends."""
