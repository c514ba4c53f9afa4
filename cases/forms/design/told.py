"""The entries of what was told or seen on the cast, which nobody can reckon."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django import forms
from django.utils.translation import gettext as _

from cases.domain.design import Design
from cases.domain.told import ALLOY_NAMED, DRAWING, TOLD


def add_told(form: forms.Form) -> None:
    """Add the boxes, whether a drawing came, and the alloy that was named."""
    form.fields["told"] = forms.MultipleChoiceField(
        label=_("So it was told, or is seen"),
        choices=[(word, _(said)) for word, said in TOLD.items()],
        required=False,
        widget=forms.CheckboxSelectMultiple,
    )
    form.fields["drawing"] = forms.ChoiceField(
        label=_("A drawing of the piece"),
        choices=[("", _("Nobody said")), *((word, _(said)) for word, said in DRAWING.items())],
        required=False,
    )
    form.fields["alloy_named"] = forms.ChoiceField(
        label=_("Alloy that the practice named, for an allergy"),
        choices=[("", _("None was named")), *((key, _(name)) for key, name in ALLOY_NAMED.items())],
        required=False,
    )


def initial_of(design: Design) -> dict[str, Any]:
    """Return what a design says was told as its entries show it."""
    return {
        "told": sorted(design.told & TOLD.keys()),
        "drawing": next(iter(design.told & DRAWING.keys()), ""),
        "alloy_named": next(iter(design.told & ALLOY_NAMED.keys()), ""),
    }


def told_of(data: Mapping[str, Any]) -> frozenset[str]:
    """Return what valid entries say was told."""
    words = {*data["told"], data["drawing"], data["alloy_named"]}
    return frozenset(words - {""})
