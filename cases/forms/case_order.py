"""Forms about the order of a case: correcting it, a new impression, making it again."""

from __future__ import annotations

from datetime import date, time
from typing import Any

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from cases.domain import order_choices as choices
from cases.domain.order import OrderForm
from cases.domain.reasons import REMAKE, REMAKE_ORIGIN
from cases.domain.teeth import from_fdi
from cases.forms.case_actions import CaseForm, materials, reasons
from cases.forms.teeth_field import TeethField
from cases.models import Case, Question

DAY: dict[str, Any] = {
    "widget": forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
    "required": False,
}
INSTANT: dict[str, Any] = {
    "widget": forms.DateTimeInput(attrs={"type": "datetime-local"}, format="%Y-%m-%dT%H:%M"),
    "required": False,
}


def offered(pairs: choices.Choices, *, silent: bool = True) -> list[tuple[str, str]]:
    """Return choices in the active language, with "not said" before them."""
    return ([("", _("Not said"))] if silent else []) + [(key, _(words)) for key, words in pairs]


class CorrectForm(CaseForm):
    """The entries of an order; those that differ from what stands there are corrections."""

    patient_ref = forms.CharField(label=gettext_lazy("Patient reference"), max_length=16)
    description = forms.CharField(
        label=gettext_lazy("What is ordered, in words"), required=False, max_length=400
    )
    replaces = TeethField(label=gettext_lazy("Teeth to replace"), required=False)
    extracted = TeethField(label=gettext_lazy("Teeth taken out at delivery"), required=False)
    extraction_order = forms.BooleanField(
        label=gettext_lazy("The written order for the extractions is here"), required=False
    )
    shade_how = forms.ChoiceField(label=gettext_lazy("How the shade is chosen"), required=False)
    shade = forms.CharField(label=gettext_lazy("Shade"), required=False, max_length=40)
    shade_guide = forms.CharField(
        label=gettext_lazy("By which guide"), required=False, max_length=40
    )
    mould_how = forms.ChoiceField(label=gettext_lazy("How the mould is chosen"), required=False)
    mould = forms.CharField(label=gettext_lazy("Mould"), required=False, max_length=40)
    materials = forms.CharField(label=gettext_lazy("Materials"), required=False, max_length=200)
    borders = forms.ChoiceField(label=gettext_lazy("Borders"), required=False)
    polish = forms.ChoiceField(label=gettext_lazy("Polish"), required=False)
    bite = forms.ChoiceField(label=gettext_lazy("Bite"), required=False)
    try_in = forms.ChoiceField(label=gettext_lazy("Try-in"), required=False)
    allergies = forms.MultipleChoiceField(
        label=gettext_lazy("Allergies told"), required=False, widget=forms.CheckboxSelectMultiple
    )
    allergy_words = forms.CharField(
        label=gettext_lazy("Which other allergy"), required=False, max_length=100
    )
    ordered_on = forms.DateField(label=gettext_lazy("Date of the order"), **DAY)
    appointment_on = forms.DateField(label=gettext_lazy("Appointment"), **DAY)
    appointment_time = forms.TimeField(
        label=gettext_lazy("At"),
        required=False,
        widget=forms.TimeInput(attrs={"type": "time"}, format="%H:%M"),
    )
    needed_on = forms.DateField(label=gettext_lazy("Needed at the practice by"), **DAY)
    rush = forms.BooleanField(label=gettext_lazy("Rush"), required=False)
    done = forms.ChoiceField(label=gettext_lazy("Disinfected?"))
    by = forms.ChoiceField(label=gettext_lazy("By whom"), required=False)
    agent = forms.CharField(label=gettext_lazy("With what"), required=False, max_length=60)
    minutes = forms.IntegerField(
        label=gettext_lazy("For how many minutes"), required=False, min_value=1
    )
    signed = forms.BooleanField(label=gettext_lazy("The prescription is signed"), required=False)
    licence_given = forms.BooleanField(
        label=gettext_lazy("The licence number is on it"), required=False
    )
    answers = forms.MultipleChoiceField(
        label=gettext_lazy("Answers of the practice that this enters"),
        required=False,
        widget=forms.CheckboxSelectMultiple,
    )
    reason = forms.CharField(
        label=gettext_lazy("Why it is corrected, and who said so"), max_length=400
    )

    SECTIONS = (
        (gettext_lazy("What is ordered"), ("patient_ref", "description", "replaces", "extracted",
                                           "extraction_order", "materials")),
        (gettext_lazy("Shade and mould"), ("shade_how", "shade", "shade_guide", "mould_how",
                                           "mould")),
        (gettext_lazy("Bite and finish"), ("bite", "try_in", "borders", "polish")),
        (gettext_lazy("Allergies"), ("allergies", "allergy_words")),
        (gettext_lazy("Days"), ("ordered_on", "appointment_on", "appointment_time", "needed_on",
                                "rush")),
        (gettext_lazy("The box and the paper"), ("done", "by", "agent", "minutes", "signed",
                                                 "licence_given")),
        (gettext_lazy("The correction"), ("answers", "reason")),
    )  # fmt: skip

    def __init__(
        self, *args: Any, case: Case, notation: str, entering: int | None = None, **kwargs: Any
    ) -> None:
        """Take the case, the reader's notation, and the answered question that is being entered."""
        self.order = OrderForm.from_json(case.order)
        self.notation = notation
        kwargs["initial"] = self._stands(case)
        super().__init__(*args, **kwargs)
        left = [question for question in case.questions.all() if question.unsettled]
        offers = [(str(one.pk), self._said(one)) for one in left]
        if offers:
            self.fields["answers"].choices = offers  # type: ignore[attr-defined]
            self.initial["answers"] = [str(one.pk) for one in left if one.pk == entering]
            self.initial["reason"] = next(
                (self._said(one)[:400] for one in left if one.pk == entering), ""
            )
        else:
            del self.fields["answers"]
        lists = {
            "shade_how": offered(choices.SHADE_HOW),
            "mould_how": offered(choices.MOULD_HOW),
            "borders": offered(choices.BORDERS),
            "polish": offered(choices.POLISH),
            "bite": offered(choices.BITE),
            "try_in": offered((("yes", _("Yes")), ("no", _("Straight to finish")))),
            "allergies": offered(choices.ALLERGIES, silent=False),
            "done": offered(choices.DISINFECTED, silent=False),
            "by": offered(choices.DISINFECTED_BY),
        }
        for name, pairs in lists.items():
            self.fields[name].choices = pairs  # type: ignore[attr-defined]
        for name in ("replaces", "extracted"):
            self.fields[name].notation = notation  # type: ignore[attr-defined]

    @staticmethod
    def _said(question: Question) -> str:
        said = " · ".join(part for part in (question.answer, question.answer_note) if part)
        return f"{question.words} {said}"

    def _stands(self, case: Case) -> dict[str, Any]:
        """Return the order as it stands, as the fields show it."""
        order, known = self.order, self.order.disinfection
        said = {None: "", True: "yes", False: "no"}
        extracted = [one.tooth for one in order.extractions]
        return {
            **{name: getattr(order, name) for name in self.base_fields if hasattr(order, name)},
            "patient_ref": case.patient_ref,
            "replaces": self._teeth(order.replaces),
            "extracted": self._teeth(extracted),
            "try_in": said[order.try_in],
            "allergies": list(order.allergies),
            "done": known.done,
            "by": known.by,
            "agent": known.agent,
            "minutes": known.minutes,
        }

    def _teeth(self, teeth: Any) -> str:
        return ", ".join(from_fdi(tooth, self.notation) for tooth in teeth)

    @property
    def sections(self) -> list[tuple[str, list[forms.BoundField]]]:
        """The fields in the order of the paper, under their headings."""
        return [
            (str(title), [self[name] for name in names if name in self.fields])
            for title, names in self.SECTIONS
        ]

    def changes(self) -> dict[str, Any]:
        """Return the entries that differ, as JSON primitives of the order."""
        data = self.cleaned_data
        depths = {one.tooth: one.depth for one in self.order.extractions}
        answer = {"": None, "yes": True, "no": False}
        known = self.order.disinfection
        said: dict[str, Any] = {
            name: _plain(data[name])
            for name in self.base_fields
            if hasattr(self.order, name) and name not in {"try_in", "allergies", "replaces"}
        }
        said |= {
            "replaces": data["replaces"],
            "extractions": [
                {"tooth": tooth, "depth": depths.get(tooth, "")} for tooth in data["extracted"]
            ],
            "try_in": answer[data["try_in"]],
            "allergies": data["allergies"],
            "disinfection": {
                "done": data["done"],
                "by": data["by"],
                "agent": data["agent"],
                "minutes": data["minutes"],
                "at": known.at.isoformat() if known.at else None,
            },
        }
        before = self.order.to_json()
        return {name: value for name, value in said.items() if before.get(name) != value}


def _plain(value: Any) -> Any:
    return value.isoformat() if isinstance(value, date | time) else value


class BoxForm(CaseForm):
    """What came of the arch to work on and of the opposing one, and how it was disinfected."""

    def __init__(self, *args: Any, opposing: bool, working: bool = True, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if working:
            self._arch("working", _("Arch to work on"), required=True)
        if opposing:
            self._arch("opposing", _("Opposing arch"), required=False)
        self.fields["done"] = forms.ChoiceField(
            label=_("Disinfected?"),
            choices=offered(choices.DISINFECTED, silent=False),
            initial="not-known",
        )
        self.fields["by"] = forms.ChoiceField(
            label=_("By whom"), choices=offered(choices.DISINFECTED_BY), required=False
        )
        self.fields["agent"] = forms.CharField(label=_("With what"), required=False, max_length=60)
        self.fields["minutes"] = forms.IntegerField(
            label=_("For how many minutes"), required=False, min_value=1
        )

    def _arch(self, kind: str, said: str, *, required: bool) -> None:
        nothing = [] if required else [("", _("Nothing new came"))]
        self.fields[f"{kind}_form"] = forms.ChoiceField(
            label=said, choices=nothing + offered(choices.FORMS, silent=False), required=required
        )
        self.fields[f"{kind}_material"] = forms.ChoiceField(
            label=_("%(arch)s: impression material") % {"arch": said},
            choices=materials(),
            required=False,
        )
        self.fields[f"{kind}_pour_limit"] = forms.IntegerField(
            label=_("%(arch)s: the maker's pour limit, in minutes") % {"arch": said},
            required=False,
            min_value=1,
        )
        self.fields[f"{kind}_taken_at"] = forms.DateTimeField(
            label=_("%(arch)s: when it was taken") % {"arch": said}, **INSTANT
        )
        self.fields[f"{kind}_tray"] = forms.ChoiceField(
            label=_("%(arch)s: tray") % {"arch": said},
            choices=offered(choices.TRAYS),
            required=False,
        )

    def items(self) -> list[dict[str, Any]]:
        """Return what came, as the services take it."""
        data = self.cleaned_data
        found = []
        for kind in ("working", "opposing"):
            if not data.get(f"{kind}_form"):
                continue
            taken = data.get(f"{kind}_taken_at")
            found.append(
                {
                    "kind": kind,
                    "form": data[f"{kind}_form"],
                    "material": data.get(f"{kind}_material") or "",
                    "pour_limit_minutes": data.get(f"{kind}_pour_limit"),
                    "taken_at": taken.isoformat() if taken else None,
                    "tray": data.get(f"{kind}_tray") or "",
                }
            )
        return found

    def disinfection(self) -> dict[str, Any]:
        """Return what is known of the disinfection, as the services take it."""
        return {name: self.cleaned_data[name] for name in ("done", "by", "agent", "minutes")}


class NewImpressionForm(BoxForm):
    """A new impression for an open case."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, opposing=True, **kwargs)
        self.fields["words"] = forms.CharField(
            label=_("Why there is a new one"), max_length=400, widget=forms.Textarea({"rows": 3})
        )


class RemakeForm(BoxForm):
    """Why a piece is made again, from what, and for which day."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, opposing=True, **kwargs)
        self.fields["working_form"].required = False
        self.fields["working_form"].choices = [  # type: ignore[attr-defined]
            ("", _("It follows later")),
            *offered(choices.FORMS, silent=False),
        ]
        first = {
            "reason": forms.ChoiceField(label=_("Why it is made again"), choices=reasons(REMAKE)),
            "origin": forms.ChoiceField(
                label=_("Where it came from"),
                help_text=_("Not a verdict on a person."),
                choices=[("", _("Choose")), *[(one.key, _(one.words)) for one in REMAKE_ORIGIN]],
            ),
            "start": forms.ChoiceField(
                label=_("What it starts from"),
                choices=offered(choices.REMAKE_STARTS, silent=False),
                widget=forms.RadioSelect,
            ),
            "appointment_on": forms.DateField(label=_("Appointment"), **DAY),
            "needed_on": forms.DateField(label=_("Needed at the practice by"), **DAY),
            "ship_on": forms.DateField(
                label=_("It leaves on"),
                help_text=_("Empty: the day that follows from the appointment."),
                **DAY,
            ),
        }
        self.fields = {**first, **self.fields}
        box = [name for name in self.fields if name not in first]
        self.first_fields = [*first]
        self.box_fields = box

    @property
    def first_part(self) -> list[forms.BoundField]:
        """Why, from what, and when."""
        return [self[name] for name in self.first_fields]

    @property
    def box_part(self) -> list[forms.BoundField]:
        """What came for a new impression."""
        return [self[name] for name in self.box_fields]
