"""Entries for a load that is held longer, and for the decision after a power cut."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import Any

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from cases.forms.case_actions import CaseForm
from cases.models import Load
from cases.services.cut import CHOICES, COLDEST_C, HOTTEST_C, OUT_CHOICES
from cases.services.cut_finding import Finding

WALL_CLOCK = "%Y-%m-%dT%H:%M"


class LongerForm(forms.Form):
    """How much longer the present stage of a load is held, and why."""

    minutes = forms.FloatField(
        label=gettext_lazy("How many minutes longer"),
        error_messages={
            "required": gettext_lazy("Enter the minutes."),
            "invalid": gettext_lazy("Enter the minutes as a number."),
        },
        widget=forms.NumberInput({"inputmode": "numeric", "step": "1", "min": "1"}),
    )
    words = forms.CharField(
        label=gettext_lazy("Why, and who decided"),
        required=False,
        max_length=400,
        widget=forms.Textarea({"rows": 2}),
    )


def _moment(label: Any, help_text: Any = "") -> forms.DateTimeField:
    return forms.DateTimeField(
        label=label,
        required=False,
        help_text=help_text,
        error_messages={"invalid": gettext_lazy("Enter a day and a time.")},
        widget=forms.DateTimeInput({"type": "datetime-local"}, format=WALL_CLOCK),
    )


def _celsius(load: Load) -> forms.FloatField:
    return forms.FloatField(
        label=_("%(bath)s was at, in °C") % {"bath": load.bath.name},
        required=False,
        min_value=COLDEST_C,
        max_value=HOTTEST_C,
        help_text=_("When the power was back, or when you looked; empty if nobody read it."),
        widget=forms.NumberInput({"inputmode": "decimal", "step": "0.1"}),
    )


class SeenForm(CaseForm):
    """What people saw of a power cut: when it went, when it was back, how warm the baths were."""

    off_at = _moment(gettext_lazy("The power went at"))
    on_at = _moment(
        gettext_lazy("It was back at"), gettext_lazy("Enter what you know; one time at least.")
    )

    def __init__(self, *args: Any, loads: Sequence[Load], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for load in loads:
            self.fields[f"found-{load.number}"] = _celsius(load)

    def said(self, name: str) -> str:
        """Return an instant as the service takes it; empty where nobody entered one."""
        at: datetime | None = self.cleaned_data.get(name)
        return at.isoformat() if at else ""


class CutForm(CaseForm):
    """What is done with each load after a cut, and why."""

    off_at = forms.CharField(required=False, widget=forms.HiddenInput)
    on_at = forms.CharField(required=False, widget=forms.HiddenInput)
    words = forms.CharField(
        label=gettext_lazy("Why so, in a few words"),
        required=False,
        max_length=400,
        widget=forms.Textarea({"rows": 3}),
    )
    tell = forms.BooleanField(
        label=gettext_lazy("Tell the practices whose date can no longer be kept"),
        required=False,
        initial=True,
        help_text=gettext_lazy("They read: work delayed by a power cut, a new date follows."),
    )

    def __init__(self, *args: Any, findings: Sequence[Finding], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.findings = findings
        for found in findings:
            self._add(found)

    def _add(self, found: Finding) -> None:
        load = found.load
        n = load.number
        words = CHOICES if load.state == "running" else OUT_CHOICES
        for name, value in (
            ("version", load.version),
            ("stage", found.stage),
        ):
            self.fields[f"{name}-{n}"] = forms.IntegerField(widget=forms.HiddenInput, initial=value)
        self.fields[f"found-{n}"] = forms.FloatField(required=False, widget=forms.HiddenInput)
        self.fields[f"decision-{n}"] = forms.ChoiceField(
            label=_("What is done with load %(number)d?") % {"number": n},
            choices=[(key, _(words[key])) for key in found.offers],
            widget=forms.RadioSelect,
        )
        if "longer" in found.offers:
            self.fields[f"minutes-{n}"] = forms.FloatField(
                label=_("To hold it longer: minutes at its own temperature"),
                required=False,
                initial=None if found.minutes is None else round(found.minutes),
                widget=forms.NumberInput({"inputmode": "numeric", "step": "1"}),
            )
        if {"longer", "repeat"} & set(found.offers) and load.state == "running":
            self.fields[f"hot-{n}"] = _moment(
                _("To resume it: from when on the bath is at that temperature"), _("Empty: now.")
            )

    def entries(self) -> list[dict[str, Any]]:
        """Return what was decided of each load, as the service takes it."""
        data = self.cleaned_data
        made = []
        for found in self.findings:
            n = found.load.number
            hot: datetime | None = data.get(f"hot-{n}")
            made.append(
                {
                    "load": n,
                    "version": data[f"version-{n}"],
                    "stage": data[f"stage-{n}"],
                    "found_c": data.get(f"found-{n}"),
                    "decision": data[f"decision-{n}"],
                    "minutes": data.get(f"minutes-{n}"),
                    "hot_at": hot.isoformat() if hot else "",
                }
            )
        return made
