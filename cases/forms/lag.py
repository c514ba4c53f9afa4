"""Entries for a run that measures the lag of a bath: two probes, one table or two."""

from __future__ import annotations

from datetime import date
from typing import Any

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from cases.domain.cure.instants import FORMS, instants
from cases.domain.cure.time_columns import Rows
from cases.domain.cure.trace import Recognised
from cases.forms.bath_record import heat_key, heat_words, time_key, time_words
from cases.forms.case_actions import CaseForm
from cases.forms.lab import DayField

EXAMPLE = "22:30 23.0 22.8\n22:40 40.1 31.0\n22:50 57.0 45.2"
ACCEPT = {"accept": ".csv,.txt,.tsv,.xlsx"}


class LagNewForm(CaseForm):
    """One table with both columns, one file each, or typed readings."""

    file = forms.FileField(
        label=gettext_lazy("The logger's file"),
        required=False,
        help_text=gettext_lazy("With the bath and the flask, or the bath alone. CSV or XLSX."),
        widget=forms.ClearableFileInput(attrs=ACCEPT),
    )
    flask_file = forms.FileField(
        label=gettext_lazy("The flask's own file"),
        required=False,
        help_text=gettext_lazy("Only where the flask's probe has a logger of its own."),
        widget=forms.ClearableFileInput(attrs=ACCEPT),
    )
    typed = forms.CharField(
        label=gettext_lazy("Or the readings, one a line"),
        required=False,
        help_text=gettext_lazy("The time, the bath and the flask in °C, like 22:30 74.2 61.5"),
        widget=forms.Textarea(attrs={"rows": 6, "placeholder": EXAMPLE, "spellcheck": "false"}),
    )

    def clean(self) -> dict[str, Any]:
        """Ask for one way of the two."""
        data = super().clean() or {}
        if self.errors:
            return data
        typed = (data.get("typed") or "").strip()
        if not data.get("file") and not typed:
            self.add_error("file", _("Choose the logger's file, or type the readings below."))
        elif typed and (data.get("file") or data.get("flask_file")):
            self.add_error("typed", _("Send either files or typed readings, not both."))
        return data


class LagReadForm(CaseForm):
    """How the two are to be read. Only what can be read in one way is chosen beforehand."""

    time = forms.ChoiceField(
        label=gettext_lazy("When was each reading taken?"), widget=forms.RadioSelect
    )
    bath = forms.ChoiceField(label=gettext_lazy("Which column is the bath?"))
    flask_time = forms.ChoiceField(
        label=gettext_lazy("And each reading of the flask?"), widget=forms.RadioSelect
    )
    flask = forms.ChoiceField(label=gettext_lazy("Which column is the flask?"))
    ran_on = DayField(label=gettext_lazy("Day of the run"))

    def __init__(
        self, *args: Any, table: tuple[Rows, Recognised], other: tuple[Rows, Recognised] | None,
        **kwargs: Any,
    ) -> None:  # fmt: skip
        super().__init__(*args, **kwargs)
        day = _day(*table)
        if day is not None:
            self.initial["ran_on"] = day
        self._offer("time", "bath", *table, clock=other is not None)
        self._offer("flask_time", "flask", *(other or table), clock=other is not None)
        if other is None:
            del self.fields["flask_time"]
            columns = list(dict.fromkeys(heat.column for heat in table[1].heats))
            if len(columns) == 2:
                # The bath leads while both are heated: a person still says which is which.
                first, second = (
                    next(heat for heat in table[1].heats if heat.column == column)
                    for column in columns
                )
                self.fields["bath"].initial = heat_key(first)
                self.fields["flask"].initial = heat_key(second)

    def _offer(
        self, time: str, heat: str, rows: Rows, found: Recognised, *, clock: bool
    ) -> None:  # fmt: skip
        first = rows[found.earliest_row]
        # Two loggers are put side by side by the clock; elapsed time has none.
        times = {
            (one.columns, FORMS[one.form].seconds([first[n] for n in one.columns])): one
            for one in reversed(found.times)
            if not clock or FORMS[one.form].dated or FORMS[one.form].wraps
        }
        offered = {
            # Two forms that say the same instant are one choice.
            time: [(time_key(one), time_words(one, first)) for one in reversed(times.values())],
            heat: [(heat_key(one), heat_words(one, first)) for one in found.heats],
        }
        for name, choices in offered.items():
            field = self.fields[name]
            assert isinstance(field, forms.ChoiceField)  # noqa: S101 - declared above
            field.choices = choices
            if len(choices) == 1:
                field.initial = choices[0][0]

    def body(self) -> dict[str, Any]:
        """Return the cleaned entries as the service takes them."""
        data = self.cleaned_data
        return {
            "choice": _choice(data["time"], data["bath"]),
            "flask_choice": _choice(data.get("flask_time") or data["time"], data["flask"]),
            "ran_on": data["ran_on"].isoformat(),
        }


def _day(rows: Rows, found: Recognised) -> date | None:
    """Return the day of the first reading, where it can be read in one way only."""
    first = rows[found.earliest_row]
    days = {
        started[:10]
        for one in found.times
        if (started := instants(FORMS[one.form], [[first[n] for n in one.columns]])[1])
    }
    return date.fromisoformat(days.pop()) if len(days) == 1 else None


def _choice(time: str, heat: str) -> dict[str, Any]:
    form, columns = time.split("|")
    column, unit = heat.split("|")
    return {
        "form": form,
        "columns": [int(n) for n in columns.split(",")],
        "column": int(column),
        "unit": unit,
    }
