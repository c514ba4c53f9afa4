"""Entries of the laboratory's own settings: shapes only, the services decide."""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import date, time
from typing import Any

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from cases.domain.cure.program import COLDEST_HOLD_C, HIGHEST_M, HOTTEST_HOLD_C, LOWEST_M
from cases.forms.account import LabForm

WEEKDAYS = (
    (0, gettext_lazy("Monday")),
    (1, gettext_lazy("Tuesday")),
    (2, gettext_lazy("Wednesday")),
    (3, gettext_lazy("Thursday")),
    (4, gettext_lazy("Friday")),
    (5, gettext_lazy("Saturday")),
    (6, gettext_lazy("Sunday")),
)
SPAN = re.compile(r"(\d{1,2})(?:[:.](\d{2}))?\s*(?:-|–|to)\s*(\d{1,2})(?:[:.](\d{2}))?")
MOST_LABELS = 200


class ProfileForm(LabForm):
    """The laboratory's profile with its usages at the bench."""

    altitude_m = forms.IntegerField(
        label=gettext_lazy("Metres above the sea"),
        min_value=int(LOWEST_M),
        max_value=int(HIGHEST_M),
        help_text=gettext_lazy("The higher the laboratory, the cooler its boiling bath."),
    )
    idle_lock_minutes = forms.IntegerField(
        label=gettext_lazy("A tablet locks after so many minutes without a touch"),
        min_value=1,
        max_value=120,
    )
    lock_puts_down = forms.BooleanField(
        label=gettext_lazy("An idle tablet puts running work down"),
        required=False,
        help_text=gettext_lazy(
            "When a tablet locks, what its person has in hand is paused as of then, and they are "
            "asked at the next PIN whether they went on. Without it the work runs on."
        ),
    )
    nudge_after_minutes = forms.IntegerField(
        label=gettext_lazy("Ask whether a stage was forgotten after so many minutes"),
        min_value=10,
        max_value=600,
    )


def _read_span(text: str) -> list[str]:
    """Return ``["08:00", "12:00"]`` for ``8-12``; ValidationError for anything else."""
    found = SPAN.fullmatch(text)
    numbers = [int(number or 0) for number in found.groups()] if found else [24, 0, 0, 0]
    try:
        ends = time(numbers[0], numbers[1]), time(numbers[2], numbers[3])
    except ValueError:
        raise forms.ValidationError(
            _("“%(part)s” is no span of hours. Write 8:00-12:00, 13:00-17:00.") % {"part": text}
        ) from None
    return [end.isoformat("minutes") for end in ends]


class SpansField(forms.CharField):
    """Spans of a day as people write them: ``8:00-12:00, 13-17``; empty means none.

    Cleans to ``[["08:00", "12:00"], …]``.
    """

    def to_python(self, value: Any) -> Any:
        """Read the spans.

        Raises
        ------
        ValidationError
            For anything that is no span; the sentence shows how one is written.
        """
        parts = filter(str.strip, str(value or "").replace(";", ",").split(","))
        return [_read_span(part.strip()) for part in parts]

    def prepare_value(self, value: Any) -> Any:
        """Write stored spans as people do."""
        if isinstance(value, list):
            return ", ".join(f"{begins}-{ends}" for begins, ends in value)
        return value


class WeekForm(forms.Form):
    """Hours for each day of the week; used for opening hours and for shifts."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for number, words in WEEKDAYS:
            self.fields[f"day-{number}"] = SpansField(
                label=words,
                required=False,
                widget=forms.TextInput(attrs={"autocomplete": "off"}),
            )

    @staticmethod
    def initial_of(spans: list[tuple[int, time, time]]) -> dict[str, list[list[str]]]:
        """Return the initial entries for stored spans (weekday, begin, end)."""
        first: dict[str, list[list[str]]] = {}
        for weekday, begins, ends in spans:
            pair = [begins.isoformat("minutes"), ends.isoformat("minutes")]
            first.setdefault(f"day-{weekday}", []).append(pair)
        return first

    def spans(self) -> list[list[Any]]:
        """Return the cleaned spans as services take them: ``[[0, "08:00", "12:00"], …]``."""
        return [
            [number, *span]
            for number, _words in WEEKDAYS
            for span in self.cleaned_data.get(f"day-{number}") or []
        ]


class DayField(forms.DateField):
    """A day by the browser's own control; cleans to a date."""

    widget = forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(input_formats=["%Y-%m-%d", "%d.%m.%Y", "%d/%m/%Y"], **kwargs)


class ClosedDayForm(forms.Form):
    """One closed day, or several in a row."""

    day = DayField(label=gettext_lazy("First day"))
    until = DayField(label=gettext_lazy("Last day"), required=False)
    words = forms.CharField(label=gettext_lazy("Why"), max_length=80)

    def clean_until(self) -> date | None:
        """Refuse a last day before the first, and holidays longer than a season."""
        day, until = self.cleaned_data.get("day"), self.cleaned_data.get("until")
        if day and until and not 0 <= (until - day).days <= 92:
            raise forms.ValidationError(
                _("The last day lies before the first, or more than three months after it.")
            )
        return until


class HolidaysForm(forms.Form):
    """Whose public holidays to look up."""

    country = forms.ChoiceField(label=gettext_lazy("Country"), choices=())
    region = forms.CharField(required=False, max_length=10, widget=forms.HiddenInput)
    year = forms.IntegerField(label=gettext_lazy("Year"), min_value=2000, max_value=2100)

    def __init__(self, *args: Any, countries: Sequence[tuple[str, str]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["country"].choices = [("", gettext_lazy("choose a country")), *countries]  # type: ignore[attr-defined]

    def offer_regions(self, known: Sequence[tuple[str, str]]) -> None:
        """Let the region be chosen, where the country's holidays differ by region.

        A region of another country, asked for before, counts as the whole country.
        """
        if known:
            whole = ("", gettext_lazy("the whole country"))
            self.fields["region"] = forms.ChoiceField(
                label=gettext_lazy("Region"), required=False, choices=[whole, *known]
            )
        if self.is_bound and self.data.get("region") not in {code for code, _name in known}:
            self.data = {**self.data, "region": ""}


class SkillForm(forms.Form):
    """The name of a skill."""

    name = forms.CharField(label=gettext_lazy("Skill"), max_length=60)


class StationForm(forms.Form):
    """A station and how many people can work there at once."""

    name = forms.CharField(label=gettext_lazy("Station"), max_length=60)
    count = forms.IntegerField(
        label=gettext_lazy("People at once"), min_value=1, max_value=99, initial=1
    )


class NumberField(forms.FloatField):
    """A number as people write it; a decimal comma is understood."""

    def to_python(self, value: Any) -> float | None:  # type: ignore[override]
        """Read the number."""
        return super().to_python(str(value).replace(",", ".") if value is not None else value)


class BathForm(forms.Form):
    """A curing bath."""

    name = forms.CharField(label=gettext_lazy("Bath"), max_length=40)
    capacity = forms.IntegerField(label=gettext_lazy("Flasks it takes"), min_value=1, max_value=99)
    highest_c = NumberField(
        label=gettext_lazy("Hottest that it holds, °C"),
        required=False,
        min_value=COLDEST_HOLD_C,
        max_value=HOTTEST_HOLD_C,
        help_text=gettext_lazy("Leave it empty for a bath that boils."),
    )
    starts_itself = forms.BooleanField(
        label=gettext_lazy("Its own clock starts it"),
        required=False,
        help_text=gettext_lazy("It begins to heat at a chosen time with nobody there."),
    )
    active = forms.BooleanField(label=gettext_lazy("In use"), required=False, initial=True)


class ThingsForm(forms.Form):
    """Flasks, articulators or clamps by the numbers engraved on them."""

    kind = forms.ChoiceField(
        label=gettext_lazy("What"),
        choices=(
            ("flask", gettext_lazy("Flasks")),
            ("articulator", gettext_lazy("Articulators")),
            ("clamp", gettext_lazy("Clamps")),
        ),
    )
    labels = forms.CharField(
        label=gettext_lazy("Their numbers"),
        help_text=gettext_lazy("As engraved: 1-12, or A1, A2, B7."),
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )

    def clean_labels(self) -> list[str]:
        """Spell ``1-3, 7`` out as four labels."""
        labels: list[str] = []
        for part in filter(None, re.split(r"[,;\s]+", self.cleaned_data["labels"].strip())):
            run = re.fullmatch(r"(\d+)[-–](\d+)", part)
            if run and 0 <= int(run[2]) - int(run[1]) < MOST_LABELS:
                labels += [str(n) for n in range(int(run[1]), int(run[2]) + 1)]
            else:
                labels.append(part)
        if len(labels) > MOST_LABELS:
            raise forms.ValidationError(_("At most 200 at once. Add the rest afterwards."))
        return labels


class TabletForm(forms.Form):
    """The device in hand becomes a tablet of the bench."""

    name = forms.CharField(label=gettext_lazy("Name of the tablet"), max_length=40)
    station = forms.ChoiceField(label=gettext_lazy("Where it stands"), required=False)

    def __init__(self, *args: Any, stations: list[tuple[int, str]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["station"].choices = [("", gettext_lazy("no fixed place")), *stations]  # type: ignore[attr-defined]

    def clean_station(self) -> int | None:
        """Return the primary key, or None."""
        return int(self.cleaned_data["station"]) if self.cleaned_data["station"] else None
