"""What is asked at the telephone before anything is here: shapes only."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy

from cases.forms.teeth_field import TeethField


class AskForm(forms.Form):
    """A piece that somebody may order: for whom, which teeth, when it comes and is wanted."""

    practice = forms.TypedChoiceField(
        label=gettext_lazy("Practice"),
        coerce=int,
        error_messages={"required": gettext_lazy("Choose the practice.")},
    )
    arch = forms.ChoiceField(
        label=gettext_lazy("Arch"),
        choices=[("upper", gettext_lazy("Upper")), ("lower", gettext_lazy("Lower"))],
    )
    teeth = TeethField(
        label=gettext_lazy("Teeth to replace"),
        max_length=80,
        error_messages={"required": gettext_lazy("Enter at least one tooth.")},
    )
    comes_on = forms.DateField(
        label=gettext_lazy("The impression comes on"),
        required=False,
        widget=forms.DateInput({"type": "date"}, format="%Y-%m-%d"),
        help_text=gettext_lazy("Empty: it is here."),
    )
    appointment_on = forms.DateField(
        label=gettext_lazy("Appointment"),
        required=False,
        widget=forms.DateInput({"type": "date"}, format="%Y-%m-%d"),
        help_text=gettext_lazy("Then the last day for the impression is said, too."),
    )

    def __init__(
        self, *args: Any, practices: list[tuple[int, str]], notation: str, **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        practice = self.fields["practice"]
        assert isinstance(practice, forms.TypedChoiceField)  # noqa: S101 - declared so above
        practice.choices = [("", "—"), *practices]
        teeth = self.fields["teeth"]
        assert isinstance(teeth, TeethField)  # noqa: S101 - declared so above
        teeth.notation = notation
