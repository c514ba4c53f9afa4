"""Entries of the limits of the design's rules: one number each, an empty one means the usual."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from django import forms
from django.utils.translation import gettext as _

from cases.domain.design_review import RULES
from cases.domain.limit import Limit
from cases.domain.rule_limits import Changed, LimitRefused, changed_by
from cases.domain.rule_spec import Rule
from cases.services.rule_limits import limit_field


class LimitField(forms.FloatField):
    """A number; a decimal comma is understood. Its bounds are the domain's to refuse."""

    def to_python(self, value: Any) -> float | None:  # type: ignore[override]
        """Read the number."""
        return super().to_python(str(value).replace(",", ".") if value is not None else value)


class LimitsForm(forms.Form):
    """Every limit of every rule. What the page showed travels with it, so that only what was
    touched is sent and nobody takes back what another person changed meanwhile."""

    def __init__(self, data: Mapping[str, Any] | None, *, changed: Changed) -> None:
        super().__init__(data)
        self.stored = changed
        for rule, limit in every_limit():
            value = changed.get(rule.id, {}).get(limit.name, limit.value)
            self.fields[limit_field(rule.id, limit.name)] = LimitField(
                label=_(limit.words),
                required=False,
                initial=f"{value:g}",
                show_hidden_initial=True,
                help_text=bounds_words(limit),
                widget=forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"}),
            )

    def values(self) -> dict[str, dict[str, float]]:
        """Return the limits that were touched, an emptied one at its usual value."""
        touched: dict[str, dict[str, float]] = {}
        for rule, limit in every_limit():
            name = limit_field(rule.id, limit.name)
            if name in self.changed_data and name in self.cleaned_data:
                typed = self.cleaned_data[name]
                value = float(limit.value) if typed is None else typed
                touched.setdefault(rule.id, {})[limit.name] = value
        return touched

    def clean(self) -> dict[str, Any]:
        """Refuse every value that the domain refuses, each beside its field."""
        data = super().clean() or {}
        for rule, ones in self.values().items():
            for limit, value in ones.items():
                try:
                    changed_by(self.stored, {rule: {**ones, limit: value}})
                except LimitRefused as refused:
                    if refused.limit == limit:
                        self.add_error(limit_field(rule, limit), str(refused))
        return data


def every_limit() -> Iterator[tuple[Rule, Limit]]:
    """Yield each limit with its rule, in the order of the rules."""
    for rule in RULES.values():
        for limit in rule.limits:
            yield rule, limit


def bounds_words(limit: Limit) -> str:
    """Say between what a limit may lie, in which unit, and what is usual."""
    return _("%(low)g to %(high)g%(unit)s; usual: %(usual)g%(unit)s") % {
        "low": limit.low,
        "high": limit.high,
        "usual": limit.value,
        "unit": limit.said_unit,
    }
