"""Entries for the record of a bath: the file or typed readings, how to read it, what to decide."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from cases.domain.cure.heat_columns import HeatColumn
from cases.domain.cure.instants import FORMS, instants, tells_zone
from cases.domain.cure.time_columns import Rows, TimeColumn
from cases.domain.cure.trace import Recognised
from cases.forms.case_actions import CaseForm
from cases.services.bath_decision import DECISIONS
from cases.services.bath_record import POSITIONS

EXAMPLE = "22:30 23.0\n22:45 52.5\n23:00 74.1"


class ProbeEntries(CaseForm):
    """Where the probe was, and which it was."""

    probe_at = forms.ChoiceField(label=gettext_lazy("Where was the probe?"))
    probe = forms.ChoiceField(
        label=gettext_lazy("Which probe?"),
        required=False,
        help_text=gettext_lazy("Its last check says by how much it reads too high or too low."),
    )

    def __init__(self, *args: Any, probes: Sequence[str], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        positions = [(key, _(words)) for key, words in POSITIONS.items()]
        self.choices_of("probe_at").choices = positions
        self.choices_of("probe").choices = [
            *((name, name) for name in probes),
            ("", _("one that has no check on record")),
        ]

    def choices_of(self, name: str) -> forms.ChoiceField:
        """Return a field that offers choices."""
        found = self.fields[name]
        assert isinstance(found, forms.ChoiceField)  # noqa: S101 - declared above
        return found


class RecordNewForm(ProbeEntries):
    """A logger's file, or readings that somebody wrote down."""

    file = forms.FileField(
        label=gettext_lazy("The logger's file"),
        required=False,
        help_text=gettext_lazy("CSV or XLSX, columns in any order, °C or °F."),
        widget=forms.ClearableFileInput(attrs={"accept": ".csv,.txt,.tsv,.xlsx"}),
    )
    typed = forms.CharField(
        label=gettext_lazy("Or the readings, one a line"),
        required=False,
        help_text=gettext_lazy("The time of day and the degrees Celsius, like 22:30 74.2"),
        widget=forms.Textarea(attrs={"rows": 6, "placeholder": EXAMPLE, "spellcheck": "false"}),
    )
    field_order = ("file", "typed", "probe_at", "probe")

    def clean(self) -> dict[str, Any]:
        """Ask for one of the two."""
        data = super().clean() or {}
        if "file" in self.errors:
            return data
        if not data.get("file") and not (data.get("typed") or "").strip():
            self.add_error("file", _("Choose the logger's file, or type the readings below."))
        elif data.get("file") and (data.get("typed") or "").strip():
            self.add_error("typed", _("Send either the file or typed readings, not both."))
        return data


class RecordReadForm(ProbeEntries):
    """How a table is to be read. Only what can be read in one way is chosen beforehand."""

    time = forms.ChoiceField(
        label=gettext_lazy("When was each reading taken?"), widget=forms.RadioSelect
    )
    heat = forms.ChoiceField(
        label=gettext_lazy("Which column is the temperature?"), widget=forms.RadioSelect
    )
    began_on = forms.DateField(
        label=gettext_lazy("Day of the first reading"),
        required=False,
        help_text=gettext_lazy("Only where the file has no date."),
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
    )
    began_at = forms.TimeField(
        label=gettext_lazy("Time of the first reading"),
        required=False,
        help_text=gettext_lazy("Only where the file has no time of day."),
        widget=forms.TimeInput(attrs={"type": "time"}, format="%H:%M"),
    )
    clock_back = forms.BooleanField(
        label=gettext_lazy("The clock went back by an hour during this record"), required=False
    )
    leave_out = forms.BooleanField(label="", required=False)
    field_order = (
        "time", "heat", "leave_out", "began_on", "began_at", "clock_back", "probe_at", "probe",
    )  # fmt: skip

    def __init__(self, *args: Any, rows: Rows, found: Recognised, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.bad = found.bad
        first = rows[found.earliest_row]
        times = [(time_key(one), time_words(one, first)) for one in found.times]
        heats = [(heat_key(one), heat_words(one, first)) for one in found.heats]
        for name, choices in (("time", times), ("heat", heats)):
            self.choices_of(name).choices = choices
            if len(choices) == 1:
                self.fields[name].initial = choices[0][0]
        wrong = sorted({one.row for bad in found.bad.values() for one in bad})
        if wrong:
            numbers = ", ".join(str(row) for row in wrong)
            self.fields["leave_out"].label = ngettext(
                "Leave out row %(numbers)s as a bad reading",
                "Leave out rows %(numbers)s as bad readings",
                len(wrong),
            ) % {"numbers": numbers}
        else:
            del self.fields["leave_out"]
        if all(FORMS[one.form].dated for one in found.times):
            del self.fields["began_on"], self.fields["began_at"]
        elif all(FORMS[one.form].dated or FORMS[one.form].wraps for one in found.times):
            del self.fields["began_at"]

    def clean(self) -> dict[str, Any]:
        """Ask when it began where the file does not say so."""
        data = super().clean() or {}
        form = FORMS.get(str(data.get("time", "")).partition("|")[0])
        if form is None or form.dated:
            return data
        if "began_on" not in self.errors and not data.get("began_on"):
            self.add_error("began_on", _("The file does not say the day. Enter it."))
        if not form.wraps and "began_at" not in self.errors and not data.get("began_at"):
            self.add_error("began_at", _("The file tells elapsed time only. Enter when it began."))
        return data

    def choice(self) -> dict[str, Any]:
        """Return the entries as ``services.bath_record.Choice`` takes them."""
        data = self.cleaned_data
        form, columns = data["time"].split("|")
        column, unit = data["heat"].split("|")
        began = ""
        if data.get("began_on"):
            clock = data["began_at"].isoformat() if data.get("began_at") else "00:00:00"
            began = f"{data['began_on'].isoformat()}T{clock}"
        taken = tuple(int(n) for n in columns.split(","))
        bad = self.bad.get((form, taken, int(column), "F" if unit == "F" else "C"), ())
        left = {"leave_out": [one.row for one in bad]} if bad and data["leave_out"] else {}
        return {
            "form": form,
            "columns": list(taken),
            "column": int(column),
            "unit": unit,
            "clock_back": data["clock_back"],
            "began": began,
            **left,
        }


def time_key(time: TimeColumn) -> str:
    """Return the value of a choice of instants."""
    return f"{time.form}|{','.join(str(n) for n in time.columns)}"


def heat_key(heat: HeatColumn) -> str:
    """Return the value of a choice of temperatures."""
    return f"{heat.column}|{heat.unit}"


def time_words(time: TimeColumn, first: Sequence[str]) -> str:
    """Say which column tells the instants, how, what its first cell says, and how long it runs."""
    cells = [first[n] for n in time.columns]
    _seconds, started = instants(FORMS[time.form], [cells])
    minutes = round(time.lasts_s / 60)
    told = {
        "name": time.name, "form": _(FORMS[time.form].words), "cell": " ".join(cells),
        "long": f"{minutes // 60}:{minutes % 60:02}",
    }  # fmt: skip
    if started:
        universal = " UTC" if tells_zone(FORMS[time.form], cells) else ""
        return _(
            "%(name)s: %(form)s; the first reading is of %(started)s, the last %(long)s h later"
        ) % {**told, "started": started.replace("T", ", ") + universal}
    return _("%(name)s: %(form)s; the first is %(cell)s, the last %(long)s h later") % told


def heat_words(heat: HeatColumn, first: Sequence[str]) -> str:
    """Say which column is a temperature, in which unit, and what its first cell says."""
    return _("%(name)s in °%(unit)s; the first is %(cell)s") % {
        "name": heat.name,
        "unit": heat.unit,
        "cell": first[heat.column],
    }


class DecideForm(CaseForm):
    """What is done about a record."""

    decision = forms.ChoiceField(
        label=gettext_lazy("What is to be done?"), widget=forms.RadioSelect
    )
    minutes = forms.FloatField(
        label=gettext_lazy("To extend: minutes at its own temperature"),
        required=False,
        help_text=gettext_lazy("The end of the load and all that waits for it move with it."),
        widget=forms.NumberInput({"inputmode": "numeric", "step": "1"}),
    )
    hot_at = forms.CharField(
        label=gettext_lazy("To extend: from when on it has that temperature"),
        required=False,
        help_text=gettext_lazy("Empty: now."),
        widget=forms.DateTimeInput({"type": "datetime-local"}),
    )
    words = forms.CharField(
        label=gettext_lazy("Why"),
        required=False,
        max_length=400,
        widget=forms.Textarea(attrs={"rows": 3}),
    )

    tell = forms.BooleanField(
        label=gettext_lazy("To repeat or scrap: tell the practices whose date cannot be kept"),
        required=False,
        initial=True,
        help_text=gettext_lazy("They read: a part of the work is done again, a new date follows."),
    )

    def __init__(self, *args: Any, extend: bool, back: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if not back:
            del self.fields["tell"]
        if not extend:
            del self.fields["minutes"], self.fields["hot_at"]
        field = self.fields["decision"]
        assert isinstance(field, forms.ChoiceField)  # noqa: S101 - declared above
        field.choices = [
            (key, _(words)) for key, words in DECISIONS.items() if extend or key != "extend"
        ]
