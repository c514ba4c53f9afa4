"""Entries about the plan: shapes only, the services decide."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy

from cases.models import Person


class PinForm(forms.Form):
    """Who does a stage, and from when."""

    person = forms.TypedChoiceField(
        label=gettext_lazy("Who"), required=False, coerce=int, empty_value=None
    )
    begins_at = forms.DateTimeField(
        label=gettext_lazy("From"),
        required=False,
        widget=forms.DateTimeInput({"type": "datetime-local"}, format="%Y-%m-%dT%H:%M"),
        help_text=gettext_lazy("The lab's time. Empty: the planner finds the time."),
        input_formats=["%Y-%m-%dT%H:%M", "%Y-%m-%dT%H:%M:%S"],
    )

    def __init__(self, *args: Any, people: Iterable[Person], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        field = self.fields["person"]
        assert isinstance(field, forms.TypedChoiceField)  # noqa: S101 - declared so above
        field.choices = [
            ("", gettext_lazy("whoever the planner finds")),
            *((person.pk, person.name) for person in people),
        ]


class LoadPinForm(forms.Form):
    """Which flasks go into which bath, and from when."""

    stages = forms.TypedMultipleChoiceField(
        label=gettext_lazy("Flasks"),
        coerce=int,
        widget=forms.CheckboxSelectMultiple,
        error_messages={"required": gettext_lazy("Choose one flask at least.")},
    )
    bath = forms.TypedChoiceField(label=gettext_lazy("Bath"), coerce=int)
    begins_at = forms.DateTimeField(
        label=gettext_lazy("From"),
        widget=forms.DateTimeInput({"type": "datetime-local"}, format="%Y-%m-%dT%H:%M"),
        help_text=gettext_lazy("The lab's time. No other flask goes into this load."),
        input_formats=["%Y-%m-%dT%H:%M", "%Y-%m-%dT%H:%M:%S"],
    )

    def __init__(
        self,
        *args: Any,
        pieces: Iterable[tuple[int, str]],
        baths: Iterable[tuple[int, str]],
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        for name, choices in (("stages", pieces), ("bath", baths)):
            field = self.fields[name]
            assert isinstance(field, forms.ChoiceField)  # noqa: S101 - declared so above
            field.choices = list(choices)
