"""Entries about the people of the laboratory."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from cases.forms.account import PIN_WIDGET
from cases.forms.lab import DayField
from cases.models import Person, Skill

ROLES = (
    ("technician", _("Technician: works at the bench")),
    ("desk", _("Desk: logs, gives dates, sends")),
    ("manager", _("Manager: sees the flow, changes settings")),
)


class PersonForm(forms.Form):
    """Name and roles."""

    name = forms.CharField(
        label=_("Name"), max_length=60, help_text=_("As it should stand on the tile they tap.")
    )
    roles = forms.MultipleChoiceField(
        label=_("Roles"), choices=ROLES, widget=forms.CheckboxSelectMultiple
    )
    is_student = forms.BooleanField(
        label=_("Student: somebody else signs before each point of no return"), required=False
    )


class SkillsForm(forms.Form):
    """What a person can do: for each skill a box, a speed, and may countersign."""

    def __init__(self, *args: Any, person: Person, skills: list[Skill], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.skills = skills
        held = {row.skill_id: row for row in person.skills.all()}
        for skill in skills:
            row = held.get(skill.pk)
            self.fields[f"has-{skill.key}"] = forms.BooleanField(
                label=skill.name, required=False, initial=row is not None
            )
            self.fields[f"speed-{skill.key}"] = forms.DecimalField(
                label=_("Speed: %(skill)s") % {"skill": skill.name},
                required=False,
                min_value=0.1,
                max_value=5,
                decimal_places=2,
                initial=row.speed.normalize() if row else 1,
                localize=False,
                widget=forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"}),
            )
            self.fields[f"signs-{skill.key}"] = forms.BooleanField(
                label=_("May countersign: %(skill)s") % {"skill": skill.name},
                required=False,
                initial=bool(row and row.may_countersign),
            )

    def rows(self) -> list[dict[str, Any]]:
        """Return the three bound fields of each skill, for the table."""
        return [
            {
                "skill": skill,
                "has": self[f"has-{skill.key}"],
                "speed": self[f"speed-{skill.key}"],
                "signs": self[f"signs-{skill.key}"],
            }
            for skill in self.skills
        ]

    def chosen(self) -> list[dict[str, Any]]:
        """Return the entries as the service takes them."""
        data = self.cleaned_data
        return [
            {
                "skill": skill.key,
                "speed": str(data.get(f"speed-{skill.key}") or 1),
                "countersign": bool(data.get(f"signs-{skill.key}")),
            }
            for skill in self.skills
            if data.get(f"has-{skill.key}")
        ]


class OvertimeForm(forms.Form):
    """How long somebody may stay after a shift; ``lab`` says what holds where nothing is said."""

    overtime = forms.ChoiceField(label=_("May be planned"), widget=forms.RadioSelect)
    minutes = forms.IntegerField(
        label=_("Minutes after a shift"), required=False, min_value=1, max_value=240
    )

    def __init__(self, *args: Any, lab: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["overtime"].choices = [  # type: ignore[attr-defined]
            ("lab", lab),
            ("own", _("so many minutes after a shift:")),
            ("none", _("none, and none is asked for")),
        ]

    @staticmethod
    def initial_of(minutes: int | None) -> dict[str, Any]:
        """Return the initial entries for what is stored."""
        if minutes is None:
            return {"overtime": "lab"}
        return {"overtime": "own", "minutes": minutes} if minutes else {"overtime": "none"}

    def clean(self) -> dict[str, Any]:
        """Ask for the minutes where they are chosen."""
        data = super().clean() or {}
        if (
            data.get("overtime") == "own"
            and not data.get("minutes")
            and "minutes" not in self.errors
        ):
            self.add_error("minutes", _("Enter how many minutes."))
        return data

    def chosen(self) -> int | None:
        """Return the minutes as the service takes them."""
        data = self.cleaned_data
        return {"lab": None, "none": 0}.get(data["overtime"], data["minutes"])


class AbsenceForm(forms.Form):
    """Days away, both ends included."""

    first_on = DayField(label=_("First day away"))
    last_on = DayField(label=_("Last day away"))
    words = forms.CharField(
        label=_("Remark"),
        required=False,
        max_length=80,
        help_text=_("Managers see it. Never write an illness here."),
    )


class HandOnForm(forms.Form):
    """To whom the work goes."""

    to = forms.ChoiceField(label=_("Hand the work on to"), required=False)

    def __init__(self, *args: Any, people: list[tuple[int, str]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        free = ("", _("anybody who has the skill"))
        self.fields["to"].choices = [free, *people]  # type: ignore[attr-defined]

    def clean_to(self) -> int | None:
        """Return the primary key, or None."""
        return int(self.cleaned_data["to"]) if self.cleaned_data["to"] else None


class PinForm(forms.Form):
    """A new PIN for somebody."""

    pin = forms.CharField(
        label=_("New PIN"),
        max_length=8,
        help_text=_("4 to 8 digits. Let them choose and type it themselves."),
        widget=forms.PasswordInput(attrs=PIN_WIDGET),
    )


class InviteForm(forms.Form):
    """Where the invitation goes."""

    email = forms.EmailField(
        label=_("E-mail"),
        required=False,
        help_text=_("With it the link goes by mail; either way it is shown here once."),
    )
