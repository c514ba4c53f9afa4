"""Entries of the limits of the cure: one number each, an empty one means the usual; and why."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from cases.domain.cure.settings import CURE_LIMITS, Changed, CureLimit, in_force, problems
from cases.forms.rule_limits import LimitField


class CureLimitsForm(forms.Form):
    """Every limit of the cure, and the reason. What the page showed travels with it, so that only
    what was touched is sent and nobody takes back what another person changed meanwhile."""

    reason = forms.CharField(
        label=gettext_lazy("Why it is changed"),
        max_length=200,
        help_text=gettext_lazy("Stays in the record with your name, the old and the new value."),
    )

    def __init__(self, data: Mapping[str, Any] | None, *, changed: Changed) -> None:
        super().__init__(data)
        self.stored = changed
        for key, value in in_force(changed).items():
            limit = CURE_LIMITS[key]
            self.fields[key] = LimitField(
                label=f"{_(limit.words)} ({_(limit.unit)})",
                required=False,
                initial=f"{value:g}",
                show_hidden_initial=True,
                help_text=bounds_words(limit),
                widget=forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"}),
            )
        self.order_fields([*CURE_LIMITS, "reason"])

    def values(self) -> Changed:
        """Return the limits that were touched, an emptied one at its usual value."""
        return {
            key: float(limit.value) if self.cleaned_data[key] is None else self.cleaned_data[key]
            for key, limit in CURE_LIMITS.items()
            if key in self.changed_data and key in self.cleaned_data
        }

    def clean(self) -> dict[str, Any]:
        """Refuse every value that the domain refuses, each beside its field."""
        data = super().clean() or {}
        for key, words in problems(self.stored, self.values()).items():
            self.add_error(key, words)
        return data


def bounds_words(limit: CureLimit) -> str:
    """Say between what a limit may lie, and what is usual."""
    return _("%(low)g to %(high)s; usual: %(usual)s") % {
        "low": limit.low,
        "high": limit.said(limit.high),
        "usual": limit.said(limit.value),
    }
