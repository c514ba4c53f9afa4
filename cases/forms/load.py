"""Entries of a load of a bath: shapes only, the services decide."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from cases.models import Bath, CureProgram, Resin
from cases.services.load import WORDS_LENGTH


class LoadNewForm(forms.Form):
    """Which bath, which program."""

    bath = forms.TypedChoiceField(
        label=gettext_lazy("Bath"),
        coerce=int,
        error_messages={"required": gettext_lazy("Choose the bath.")},
    )
    program = forms.TypedChoiceField(
        label=gettext_lazy("Program"),
        coerce=int,
        error_messages={"required": gettext_lazy("Choose the program.")},
    )

    def __init__(
        self, *args: Any, baths: list[Bath], programs: list[CureProgram], **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        self.ready = bool(baths and programs)
        for name, choices in (
            ("bath", [(row.pk, f"{row.name} ({row.capacity})") for row in baths]),
            ("program", [(row.pk, f"{row.resin.name}: {row.name}") for row in programs]),
        ):
            field = self.fields[name]
            assert isinstance(field, forms.TypedChoiceField)  # noqa: S101 - declared so above
            field.choices = choices if len(choices) == 1 else [("", "—"), *choices]


class FlaskForm(forms.Form):
    """One flask, by its engraved number or its ticket."""

    label = forms.CharField(
        label=gettext_lazy("Scan a ticket, or type the number of the flask or of the case"),
        max_length=40,
        error_messages={"required": gettext_lazy("Enter the number of the flask, or scan it.")},
        widget=forms.TextInput(
            {"autocomplete": "off", "autocapitalize": "characters", "data-scan-field": True}
        ),
    )
    thickest_mm = forms.FloatField(
        label=gettext_lazy("Thickest place in mm"),
        required=False,
        min_value=0.5,
        max_value=60,
        help_text=gettext_lazy("Only where nobody measured it at wax-up."),
        widget=forms.NumberInput({"inputmode": "decimal", "step": "0.1"}),
    )
    resin = forms.TypedChoiceField(
        label=gettext_lazy("Packed with"),
        required=False,
        coerce=int,
        empty_value=None,
        help_text=gettext_lazy("Only where nobody noted it at the packing."),
    )

    unmeasured_words = forms.CharField(
        label=gettext_lazy("Why it goes in unmeasured, and who decided"),
        required=False,
        max_length=WORDS_LENGTH,
        widget=forms.Textarea({"rows": 2}),
    )

    def __init__(
        self, *args: Any, resins: Sequence[Resin], most_mm: float | None, **kwargs: Any
    ) -> None:
        # A lab with one resin is not asked for it, nor anybody about a limit that no maker states.
        super().__init__(*args, **kwargs)
        if most_mm is None:
            del self.fields["unmeasured_words"]
        else:
            self.fields["unmeasured_words"].help_text = _(
                "The maker allows %(most)s mm for this program. Measure the thickest place; only "
                "where that cannot be done say why not."
            ) % {"most": f"{most_mm:g}"}
        if len(resins) < 2:
            del self.fields["resin"]
            return
        field = self.fields["resin"]
        assert isinstance(field, forms.TypedChoiceField)  # noqa: S101 - declared so above
        field.choices = [("", "—"), *((row.pk, row.name) for row in resins)]


class StartForm(forms.Form):
    """The flasks are in: when the heating starts, and why in spite of a warning."""

    starts_at = forms.CharField(
        label=gettext_lazy("The heating starts"),
        required=False,
        help_text=gettext_lazy("Empty: now. Otherwise within the next 24 hours."),
        widget=forms.DateTimeInput({"type": "datetime-local"}),
    )
    words = forms.CharField(
        label=gettext_lazy("Why it goes in all the same"),
        required=False,
        max_length=400,
        help_text=gettext_lazy("Needed where the estimate warns or could not be made."),
        widget=forms.Textarea({"rows": 2}),
    )
    rest_words = forms.CharField(
        label=gettext_lazy("Why it goes in before its rest is over, and who decided"),
        required=False,
        max_length=200,
        help_text=gettext_lazy("Empty: its heat starts only when all flasks have rested."),
        widget=forms.Textarea({"rows": 2}),
    )


class ShortenForm(forms.Form):
    """Why a wait after a cure is not kept."""

    words = forms.CharField(
        label=gettext_lazy("Why before its time, and who decided"),
        required=False,
        max_length=200,
        widget=forms.Textarea({"rows": 2}),
    )
