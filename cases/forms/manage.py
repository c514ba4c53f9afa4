"""Entries of the manager's day: a countersign and a correction of minutes."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from cases.domain.reasons import TIME_CORRECTED

SIGN, RETURN = "sign", "return"
MOST_MINUTES = 24 * 60


class CountersignForm(forms.Form):
    """Sign a student's stage, or return it with what has to be better."""

    decision = forms.ChoiceField(
        choices=[(SIGN, gettext_lazy("Sign")), (RETURN, gettext_lazy("Return"))],
        error_messages={
            "required": gettext_lazy("Sign it or return it."),
            "invalid_choice": gettext_lazy("Sign it or return it."),
        },
    )
    words = forms.CharField(
        label=gettext_lazy("What has to be better"),
        required=False,
        max_length=200,
        widget=forms.Textarea({"rows": 2}),
        help_text=gettext_lazy("Needed when you return it."),
    )


class MinutesForm(forms.Form):
    """The minutes that a stretch of work really took, and why they differ."""

    minutes = forms.FloatField(
        label=gettext_lazy("Minutes"),
        min_value=0,
        max_value=MOST_MINUTES,
        localize=True,
        widget=forms.TextInput({"inputmode": "decimal", "autocomplete": "off"}),
    )
    reason = forms.ChoiceField(label=gettext_lazy("Why"))

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        why: Any = self.fields["reason"]
        offered = [(reason.key, _(reason.words)) for reason in TIME_CORRECTED.reasons]
        why.choices = [("", _("Choose")), *offered]
