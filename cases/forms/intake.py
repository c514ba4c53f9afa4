"""The front desk's page for what comes in: everything an order can say, on one form."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from django import forms
from django.forms.utils import from_current_timezone
from django.utils.functional import Promise
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, gettext_noop

from cases.domain import order_choices as trade
from cases.domain.patientref import NotAPatientReference, patient_reference
from cases.domain.reasons import REMAKE, REMAKE_ORIGIN
from cases.domain.teeth import parse_teeth
from cases.forms.intake_box import box_fields, clean_instants, day_field, time_field, translated
from cases.services.practices import DEFAULT_CUT_OFF

NEW = "new"
OTHER_DAY = "other"
EACH = "each"
NOTATION_HINTS = {
    "fdi": gettext_lazy("FDI numbers, for example 36-37, 46. Leave the rest to the survey."),
    "universal": gettext_lazy("Universal numbers, for example 18-19, 30."),
    "palmer": gettext_lazy("Palmer, for example LL6-LL7, LR6."),
}
WEEKDAYS = (
    ("0", gettext_lazy("Mon")),
    ("1", gettext_lazy("Tue")),
    ("2", gettext_lazy("Wed")),
    ("3", gettext_lazy("Thu")),
    ("4", gettext_lazy("Fri")),
    ("5", gettext_lazy("Sat")),
    ("6", gettext_lazy("Sun")),
)


@dataclass(frozen=True)
class Desk:
    """What the desk chooses from, pairs of (primary key, name), and the writer's tooth notation."""

    practices: Sequence[tuple[int, str]] = ()
    dentists_here: Sequence[tuple[int, str]] = ()
    dentists_elsewhere: Sequence[tuple[int, str]] = ()
    notation: str = "fdi"


def _line(label: Any, longest: int, *, required: bool = False, **options: Any) -> forms.CharField:
    return forms.CharField(label=label, max_length=longest, required=required, **options)


def _radios(
    label: Any, choices: trade.Choices, *, silent: Promise | None = None, **options: Any
) -> forms.ChoiceField:
    offered: list[Any] = translated(choices)
    if silent is not None:
        offered.insert(0, ("", silent))
    required = silent is None
    return forms.ChoiceField(
        label=label, choices=offered, required=required, widget=forms.RadioSelect, **options
    )


def _select(label: Any, choices: Iterable[tuple[str, Any]], first: Any) -> forms.ChoiceField:
    return forms.ChoiceField(label=label, required=False, choices=[("", first), *choices])


NOT_SAID = gettext_lazy("Not said")


class IntakeForm(forms.Form):
    """An order as received. ``cleaned_data`` holds teeth as FDI integers and aware instants.

    Only slips of the typing are errors here; what the order lacks is judged by the trade
    (``cases.domain.order``) and asked of the practice.
    """

    practice = forms.ChoiceField(label=gettext_lazy("Practice"))
    new_practice_name = _line(gettext_lazy("Name of the practice"), 80)
    new_practice_code = _line(
        gettext_lazy("Short code"),
        8,
        help_text=gettext_lazy("Up to 8 letters, for labels. Empty: from the name."),
    )
    new_practice_phone = _line(gettext_lazy("Telephone"), 40)
    new_practice_ship_weekdays = forms.MultipleChoiceField(
        label=gettext_lazy("The van leaves for it on"),
        required=False,
        choices=WEEKDAYS,
        widget=forms.CheckboxSelectMultiple,
        initial=["0", "1", "2", "3", "4"],
    )
    new_practice_cut_off = time_field(gettext_lazy("and leaves at"), initial=DEFAULT_CUT_OFF)
    new_practice_transit_days = forms.IntegerField(
        label=gettext_lazy("Working days on the way"),
        required=False,
        min_value=0,
        max_value=30,
        initial=1,
    )
    dentist = forms.ChoiceField(label=gettext_lazy("Dentist"), required=False)
    new_dentist_name = _line(gettext_lazy("Name of the dentist"), 80)
    new_dentist_licence = _line(gettext_lazy("Licence number"), 40)
    patient_ref = _line(
        gettext_lazy("Patient reference"),
        40,
        required=True,
        help_text=gettext_lazy("The practice's code with a figure in it, never a name."),
    )
    same_patient_seen = forms.BooleanField(
        label=gettext_lazy("This is another piece for the same patient"), required=False
    )

    kind = _radios(gettext_lazy("Kind of order"), trade.KINDS, initial="new")
    arch = _radios(gettext_lazy("Arch"), trade.ARCHES)
    description = forms.CharField(
        label=gettext_lazy("In words"),
        required=False,
        max_length=2000,
        widget=forms.Textarea(attrs={"rows": 2}),
        help_text=gettext_lazy("As written on the prescription, without any name."),
    )
    remake_of = _line(gettext_lazy("Number of the first case"), 20)
    remake_start = _select(gettext_lazy("Starts from"), translated(trade.REMAKE_STARTS), NOT_SAID)
    remake_reason = _select(
        gettext_lazy("Made again because"),
        [(reason.key, gettext_lazy(reason.words)) for reason in REMAKE.reasons],
        gettext_lazy("Choose"),
    )
    remake_origin = _select(
        gettext_lazy("Where it came from"),
        [(reason.key, gettext_lazy(reason.words)) for reason in REMAKE_ORIGIN],
        gettext_lazy("Choose"),
    )
    replaces = _line(gettext_lazy("Teeth to replace"), 200)
    shade_how = _select(gettext_lazy("Shade"), translated(trade.SHADE_HOW), NOT_SAID)
    shade = _line(gettext_lazy("Shade as written"), 40)
    shade_guide = _line(gettext_lazy("by which guide"), 60)
    mould_how = _select(gettext_lazy("Mould"), translated(trade.MOULD_HOW), NOT_SAID)
    mould = _line(gettext_lazy("Mould as written"), 60)
    materials = _line(gettext_lazy("Materials asked for"), 200)
    borders = _radios(gettext_lazy("Borders"), trade.BORDERS, silent=NOT_SAID)
    polish = _radios(
        gettext_lazy("Polish"),
        trade.POLISH,
        silent=NOT_SAID,
        help_text=gettext_lazy(trade.POLISH_WORDS),
    )
    bite = _radios(gettext_lazy("Bite"), trade.BITE, silent=NOT_SAID)
    try_in = _radios(
        gettext_lazy("Try-in"),
        (("yes", gettext_noop("Wanted")), ("no", gettext_noop("Straight to finish"))),
        silent=NOT_SAID,
    )
    extract = _line(gettext_lazy("Teeth taken out at delivery"), 200)
    extract_depth = _select(
        gettext_lazy("How deep the cast is cut there"),
        [*translated(trade.EXTRACTION_DEPTHS), (EACH, gettext_lazy("Differs from tooth to tooth"))],
        NOT_SAID,
    )
    extraction_order = forms.BooleanField(
        label=gettext_lazy("The written order for it is here"), required=False
    )
    allergies = forms.MultipleChoiceField(
        label=gettext_lazy("Allergies told"),
        required=False,
        choices=translated(trade.ALLERGIES),
        widget=forms.CheckboxSelectMultiple,
    )
    allergy_words = _line(gettext_lazy("Which other allergy"), 200)

    ordered_on = day_field(gettext_lazy("Date on the prescription"))
    appointment_on = day_field(gettext_lazy("Appointment on"))
    appointment_time = time_field(gettext_lazy("at"))
    needed_on = day_field(gettext_lazy("Needed at the practice by"))
    rush = forms.BooleanField(label=gettext_lazy("Rush"), required=False)
    received_on = day_field(gettext_lazy("Box received on"))
    received_time = time_field(gettext_lazy("at"))

    disinfected = _radios(gettext_lazy("Disinfected"), trade.DISINFECTED, initial="not-known")
    disinfected_by = _select(gettext_lazy("By"), translated(trade.DISINFECTED_BY), NOT_SAID)
    disinfected_with = _line(gettext_lazy("With"), 60)
    disinfected_minutes = forms.IntegerField(
        label=gettext_lazy("Minutes wet"), required=False, min_value=1, max_value=1440
    )
    disinfected_on = day_field(gettext_lazy("On"))
    disinfected_time = time_field(gettext_lazy("at"))

    signed = forms.BooleanField(label=gettext_lazy("It is signed"), required=False)
    licence_given = forms.BooleanField(
        label=gettext_lazy("It bears the licence number"), required=False
    )
    ship = forms.CharField(
        label=gettext_lazy("The day it leaves"),
        required=False,
        max_length=12,
        widget=forms.HiddenInput,
    )
    ship_on = day_field(gettext_lazy("It leaves on"))
    ship_reason = _line(gettext_lazy("Because"), 200)

    def __init__(self, *args: Any, desk: Desk, today: date, **options: Any) -> None:
        self.desk = desk
        self.today = today
        super().__init__(*args, **options)
        self.fields.update(box_fields())
        self.fields["practice"].choices = [  # type: ignore[attr-defined]
            ("", _("Choose")),
            *((str(key), name) for key, name in desk.practices),
            (NEW, _("A new practice")),
        ]
        self.fields["dentist"].choices = self._dentists()  # type: ignore[attr-defined]
        self.fields["replaces"].help_text = NOTATION_HINTS[desk.notation]
        self.fields["patient_ref"].widget.attrs.update(
            {"autocapitalize": "characters", "autocomplete": "off", "spellcheck": "false"}
        )
        # A blank placeholder lets the style sheet tell whether a tooth was typed.
        self.fields["extract"].widget.attrs["placeholder"] = " "
        for name in ("replaces", "extract", "remake_of", "shade", "mould"):
            self.fields[name].widget.attrs.update({"autocomplete": "off", "spellcheck": "false"})

    def _dentists(self) -> list[Any]:
        groups: list[Any] = [("", _("Not named"))]
        for words, rows in (
            (_("At this practice"), self.desk.dentists_here),
            (_("Elsewhere"), self.desk.dentists_elsewhere),
        ):
            if rows:
                groups.append((words, [(str(key), name) for key, name in rows]))
        return [*groups, (NEW, _("A new dentist"))]

    def clean_patient_ref(self) -> str:
        """Return the reference in capitals; anything but a code is refused with the rule."""
        typed = str(self.cleaned_data["patient_ref"]).strip().upper()
        try:
            return patient_reference(typed)
        except NotAPatientReference as error:
            raise forms.ValidationError(_(str(error))) from error

    def clean_replaces(self) -> tuple[int, ...]:
        """Return the teeth to replace as FDI integers."""
        return self._teeth("replaces")

    def clean_extract(self) -> tuple[int, ...]:
        """Return the teeth to be taken out as FDI integers."""
        return self._teeth("extract")

    def _teeth(self, name: str) -> tuple[int, ...]:
        try:
            return parse_teeth(self.cleaned_data[name].upper(), self.desk.notation)
        except ValueError as error:
            raise forms.ValidationError(str(error)) from error

    def clean_new_practice_code(self) -> str:
        """Return the code in capitals."""
        return str(self.cleaned_data["new_practice_code"]).strip().upper()

    def clean_try_in(self) -> bool | None:
        """Return whether a try-in is wanted; None when nothing is said."""
        return {"yes": True, "no": False}.get(self.cleaned_data["try_in"])

    def clean(self) -> dict[str, Any]:
        """Put days and times together and ask for what a new practice or dentist needs."""
        data = super().clean() or self.cleaned_data
        clean_instants(self)
        self._instant("received")
        self._instant("disinfected")
        if data.get("practice") == NEW:
            for name in ("new_practice_name", "new_practice_ship_weekdays"):
                if name not in self.errors and not data.get(name):
                    self.add_error(name, _("A new practice needs this."))
        if data.get("dentist") == NEW and not data.get("new_dentist_name"):
            self.add_error("new_dentist_name", _("Write the dentist's name, or choose another."))
        chosen = data.get("ship_on")
        if data.get("ship") == OTHER_DAY and "ship_on" not in self.errors:
            if chosen is None:
                self.add_error("ship_on", _("Enter the day on which it leaves."))
            elif chosen < self.today:
                self.add_error("ship_on", _("That day is over. Choose a day to come."))
        return data

    def _instant(self, name: str) -> None:
        day = self.cleaned_data.get(f"{name}_on")
        clock = self.cleaned_data.get(f"{name}_time")
        if day is None or clock is None:
            if clock is not None:
                self.add_error(f"{name}_on", _("Give the day as well."))
            return
        try:
            self.cleaned_data[f"{name}_at"] = from_current_timezone(datetime.combine(day, clock))
        except forms.ValidationError as error:
            self.add_error(f"{name}_time", error)

    def depth_of(self, tooth: int) -> str:
        """Return the depth entered for one tooth where each has its own."""
        typed = self.data.get(f"depth_{tooth}", "") if self.is_bound else ""
        return typed if typed in trade.values(trade.EXTRACTION_DEPTHS) else ""
