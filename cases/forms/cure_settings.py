"""Entries for resins, programs of a cure and checks of probes: shapes only."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django import forms
from django.forms import BoundField
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from cases.domain.cure.program import LONGEST_MINUTES, Hold, Program, as_json, problems_by_entry
from cases.forms.lab import DayField, NumberField

STAGES = 5
"""Rows of a program's form. No program of a maker that was read has more."""


class ResinForm(forms.Form):
    """A resin with what its maker's instructions say."""

    name = forms.CharField(label=gettext_lazy("Resin"), max_length=60)
    source = forms.CharField(
        label=gettext_lazy("The maker's instructions"),
        required=False,
        max_length=200,
        help_text=gettext_lazy("Which leaflet, and its edition."),
    )
    compared_on = DayField(label=gettext_lazy("Compared with them on"), required=False)
    ratio_low = NumberField(
        label=gettext_lazy("Powder to liquid, lowest, g to 1 mL"),
        required=False, min_value=0.5, max_value=5,
    )  # fmt: skip
    ratio_high = NumberField(
        label=gettext_lazy("Powder to liquid, highest, g to 1 mL"),
        required=False, min_value=0.5, max_value=5,
    )  # fmt: skip
    dough_from = NumberField(
        label=gettext_lazy("Dough from, minutes after the mix began"),
        required=False, min_value=0, max_value=240,
    )  # fmt: skip
    dough_until = NumberField(
        label=gettext_lazy("Dough until, minutes after the mix began"),
        required=False, min_value=0, max_value=240,
    )  # fmt: skip
    room_c = NumberField(
        label=gettext_lazy("These times hold for a room at, °C"),
        required=False, min_value=5, max_value=45,
        help_text=gettext_lazy("As the maker says it; empty where the maker says nothing."),
    )  # fmt: skip
    bpo_percent = NumberField(
        label=gettext_lazy("Benzoyl peroxide, % of the powder"),
        required=False, min_value=0.05, max_value=5,
        help_text=gettext_lazy("Only where the maker says it. It is used for estimates of heat."),
    )  # fmt: skip
    resumable = forms.BooleanField(
        label=gettext_lazy("The maker allows a cycle that was cut short to be resumed"),
        required=False,
    )
    active = forms.BooleanField(label=gettext_lazy("In use"), required=False, initial=True)

    def body(self) -> dict[str, Any]:
        """Return the cleaned entries as the service takes them."""
        day = self.cleaned_data["compared_on"]
        return {**self.cleaned_data, "compared_on": day.isoformat() if day else ""}


@dataclass(frozen=True)
class StageRow:
    """The entries of one stage."""

    number: int
    fields: tuple[BoundField, ...]
    boil: BoundField


def _minutes(label: Any, help_text: Any = "") -> NumberField:
    return NumberField(
        label=label, required=False, min_value=0, max_value=LONGEST_MINUTES, help_text=help_text
    )


class ProgramForm(forms.Form):
    """A program of a cure; a stage is a row, and rows that are left empty do not count."""

    name = forms.CharField(label=gettext_lazy("Program"), max_length=60)
    source = forms.CharField(
        label=gettext_lazy("The maker's instructions"),
        max_length=200,
        help_text=gettext_lazy("Which leaflet, and its edition."),
    )
    compared_on = DayField(label=gettext_lazy("Compared with them on"), required=False)
    bench_rest_minutes = _minutes(
        gettext_lazy("Rest under the clamp before, minutes"),
        gettext_lazy("So long packed flasks wait for the bath; empty: as the route says."),
    )
    bench_cool_minutes = _minutes(gettext_lazy("Cool in air after, minutes"))
    water_cool_minutes = _minutes(gettext_lazy("Then in tap water, minutes"))
    largest_mm = NumberField(
        label=gettext_lazy("Thickest section allowed, mm"),
        required=False,
        help_text=gettext_lazy("Empty where the maker says nothing."),
    )
    note = forms.CharField(
        label=gettext_lazy("Note"),
        required=False,
        max_length=400,
        widget=forms.Textarea(attrs={"rows": 2}),
    )

    def __init__(
        self, *args: Any, altitude_m: float, first: Program | None = None, again: bool = False,
        **kwargs: Any,
    ) -> None:  # fmt: skip
        # ``first`` fills the form; ``again`` asks for a further version, with its reason.
        super().__init__(*args, **kwargs)
        self.initial = _initial(first) if first else {}
        self.altitude_m, self.first = altitude_m, first
        for n in range(1, STAGES + 1):
            self.fields[f"celsius-{n}"] = NumberField(label=_("°C"), required=False)
            self.fields[f"minutes-{n}"] = NumberField(label=_("Held, minutes"), required=False)
            self.fields[f"ramp_minutes-{n}"] = NumberField(
                label=_("Rise to it, minutes"), required=False
            )
            self.fields[f"boil-{n}"] = forms.BooleanField(label=_("Boil"), required=False)
        if again:
            self.fields["name"].disabled = True
            self.fields["reason"] = forms.CharField(label=_("Why it is changed"), max_length=200)

    def stage_rows(self) -> list[StageRow]:
        """Return the entries of the stages, a row each."""
        return [
            StageRow(
                n,
                tuple(self[f"{what}-{n}"] for what in ("celsius", "minutes", "ramp_minutes")),
                self[f"boil-{n}"],
            )
            for n in range(1, STAGES + 1)
        ]

    def rest(self) -> list[BoundField]:
        """Return the entries that stand below the stages."""
        names = ("bench_rest_minutes", "bench_cool_minutes", "water_cool_minutes", "largest_mm")
        return [self[name] for name in names]

    def last(self) -> list[BoundField]:
        """Return the entries that say where the program comes from."""
        names = ("source", "compared_on", "note", "reason")
        return [self[name] for name in names if name in self.fields]

    def clean(self) -> dict[str, Any]:
        """Refuse a program that the domain refuses, each sentence beside its entry."""
        data = super().clean() or {}
        data["stages"] = self._stages(data)
        if not self.errors:
            for entry, sentence in problems_by_entry(self.program(), self.altitude_m):
                self.add_error(entry, sentence)
        return data

    def _stages(self, data: dict[str, Any]) -> tuple[Hold, ...]:
        """Return the stages that were filled in; a row that is half filled is an error."""
        found: list[Hold] = []
        ended = False
        for n in range(1, STAGES + 1):
            names = {"celsius": _("Enter °C."), "minutes": _("Enter minutes.")}
            given = [data.get(f"{what}-{n}") for what in (*names, "ramp_minutes")]
            if all(value is None for value in given) and not data.get(f"boil-{n}"):
                ended = True
                continue
            if ended:
                self.add_error(f"celsius-{n}", _("The row above is empty. Leave no row out."))
            for what, sentence in names.items():
                name = f"{what}-{n}"
                if data.get(name) is None and name not in self.errors:
                    self.add_error(name, sentence)
            if None not in given[:2]:
                found.append(
                    Hold(given[0], given[1], given[2] or 0.0, boil=bool(data.get(f"boil-{n}")))  # type: ignore[arg-type]
                )
        return tuple(found)

    def program(self) -> Program:
        """Return the program that was entered."""
        data = self.cleaned_data
        day = data.get("compared_on")
        return Program(
            name=data["name"].strip(),
            stages=data["stages"],
            source=data["source"].strip(),
            status="" if day or not self.first else self.first.status,
            bench_rest_minutes=data["bench_rest_minutes"] or 0.0,
            bench_cool_minutes=data["bench_cool_minutes"] or 0.0,
            water_cool_minutes=data["water_cool_minutes"] or 0.0,
            largest_mm=data["largest_mm"],
            compared_on=day.isoformat() if day else "",
            note=data["note"].strip(),
        )

    def body(self) -> dict[str, Any]:
        """Return the cleaned entries as the service takes them."""
        return {"program": as_json(self.program()), "reason": self.cleaned_data.get("reason", "")}


def _initial(program: Program) -> dict[str, Any]:
    first: dict[str, Any] = {
        "name": program.name, "source": program.source, "compared_on": program.compared_on,
        "bench_rest_minutes": program.bench_rest_minutes,
        "bench_cool_minutes": program.bench_cool_minutes,
        "water_cool_minutes": program.water_cool_minutes,
        "largest_mm": program.largest_mm, "note": program.note,
    }  # fmt: skip
    for n, stage in enumerate(program.stages, start=1):
        first |= {
            f"celsius-{n}": stage.celsius, f"minutes-{n}": stage.minutes,
            f"ramp_minutes-{n}": stage.ramp_minutes, f"boil-{n}": stage.boil,
        }  # fmt: skip
    return {
        key: f"{value:g}" if isinstance(value, float) else value for key, value in first.items()
    }


class ProbeForm(forms.Form):
    """A probe held against a reference."""

    probe = forms.CharField(
        label=gettext_lazy("Probe"), max_length=40, help_text=gettext_lazy("As it is marked.")
    )
    checked_on = DayField(label=gettext_lazy("Checked on"))
    reads_high_k = NumberField(
        label=gettext_lazy("It reads high by, K"),
        min_value=-20,
        max_value=20,
        help_text=gettext_lazy("Below zero where it reads low. A kelvin is as large as a °C."),
    )
    against = forms.CharField(
        label=gettext_lazy("Against"),
        max_length=120,
        help_text=gettext_lazy("Which reference thermometer, and at which °C."),
    )

    def body(self) -> dict[str, Any]:
        """Return the cleaned entries as the service takes them."""
        return {**self.cleaned_data, "checked_on": self.cleaned_data["checked_on"].isoformat()}
