"""Entries of the practice's side: an answer to a question, and how a piece seated."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, datetime
from typing import Any

from django import forms
from django.utils.formats import date_format
from django.utils.timezone import localtime
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from cases.domain.answer_order import MOST_SHORT
from cases.domain.insertion import FIELDS, MOST_MINUTES, NOT_REPORTED
from cases.domain.order_choices import EXTRACTION_DEPTHS
from cases.domain.reasons import ADJUSTMENT
from cases.domain.teeth import arch_of, from_fdi, parse_teeth, teeth_of_arch
from cases.domain.toothwords import NUMBERINGS
from cases.models import Question

MOST_WORDS = 1000
TOOTH = "tooth_"


class AnswerRadios(forms.RadioSelect):
    """Answers to choose; each says what it needs, so that only those fields are shown."""

    needs: dict[str, list[str]]

    def create_option(self, name: str, value: Any, *args: Any, **kwargs: Any) -> dict[str, Any]:
        """Add what the answer needs to the option."""
        option = super().create_option(name, value, *args, **kwargs)
        option["attrs"]["data-needs"] = " ".join(self.needs.get(str(value), ["none"]))
        return option


class AnswerForm(forms.Form):
    """An answer to one question: one of its answers, with what that answer needs.

    ``now`` is the instant of the request, ``notation`` the reader's tooth numbering.
    """

    answer = forms.ChoiceField(
        label=gettext_lazy("Your answer"),
        widget=AnswerRadios,
        error_messages={"required": gettext_lazy("Choose one of the answers.")},
    )
    day = forms.DateField(
        label=gettext_lazy("Day"), required=False, widget=forms.DateInput({"type": "date"})
    )
    at = forms.DateTimeField(
        label=gettext_lazy("Day and hour"),
        required=False,
        widget=forms.DateTimeInput({"type": "datetime-local"}, format="%Y-%m-%dT%H:%M"),
    )
    minutes = forms.IntegerField(
        label=gettext_lazy("Minutes"),
        required=False,
        min_value=0,
        max_value=24 * 60,
        widget=forms.NumberInput({"inputmode": "numeric"}),
    )
    teeth = forms.CharField(
        label=gettext_lazy("Which teeth"),
        required=False,
        max_length=80,
        widget=forms.TextInput({"autocomplete": "off"}),
    )
    shade = forms.CharField(
        label=gettext_lazy("Shade"),
        required=False,
        max_length=MOST_SHORT,
        widget=forms.TextInput({"autocomplete": "off"}),
    )
    guide = forms.CharField(
        label=gettext_lazy("By which guide"), required=False, max_length=MOST_SHORT
    )
    mould = forms.CharField(
        label=gettext_lazy("Mould"),
        required=False,
        max_length=MOST_SHORT,
        widget=forms.TextInput({"autocomplete": "off"}),
    )
    agent = forms.CharField(label=gettext_lazy("With what"), required=False, max_length=60)
    words = forms.CharField(
        label=gettext_lazy("In words"),
        required=False,
        max_length=MOST_WORDS,
        widget=forms.Textarea({"rows": 2}),
        help_text=gettext_lazy("What the answer needs, or what you want to add."),
    )

    FIELDS_OF = {
        "date": ("day",),
        "time": ("at",),
        "minutes": ("minutes",),
        "teeth": ("teeth",),
        "shade": ("shade", "guide"),
        "mould": ("mould",),
        "agent": ("agent",),
        "text": ("words",),
    }
    """The fields in which each need is entered; ``arch`` has one field for every tooth."""

    def __init__(
        self, *args: Any, question: Question, notation: str, now: datetime, **kwargs: Any
    ) -> None:
        kwargs.setdefault("auto_id", f"q{question.pk}_%s")
        super().__init__(*args, **kwargs)
        self.question, self.notation, self.now = question, notation, now
        self.needs = {one["key"]: list(one["needs"]) for one in question.answers}
        asked = {need for needs in self.needs.values() for need in needs}
        radios: Any = self.fields["answer"]
        radios.choices = [(one["key"], _(one["words"])) for one in question.answers]
        radios.widget.needs = self.needs
        for need, names in self.FIELDS_OF.items():
            if need != "text" and need not in asked:
                for name in names:
                    del self.fields[name]
        if "arch" in asked:
            for tooth in self._standing():
                self.fields[f"{TOOTH}{tooth}"] = forms.ChoiceField(
                    label=from_fdi(tooth, notation),
                    required=False,
                    choices=[("", _("stays")), *((k, _(w)) for k, w in EXTRACTION_DEPTHS)],
                )

    def _standing(self) -> list[int]:
        """Return the teeth of the case's arch that are not missing already."""
        design = self.question.case.design
        missing = set(design.data.get("missing", ())) if design else set()
        return [tooth for tooth in teeth_of_arch(self.question.case.arch) if tooth not in missing]

    @property
    def tooth_fields(self) -> Iterator[forms.BoundField]:
        """The fields of single teeth, in the order of the arch."""
        return (self[name] for name in self.fields if name.startswith(TOOTH))

    def clean_day(self) -> date | None:
        """Refuse a day that is over."""
        day: date | None = self.cleaned_data["day"]
        if day is not None and day < localtime(self.now).date():
            raise forms.ValidationError(_("That day is over. Choose a day to come."))
        return day

    def clean_at(self) -> datetime | None:
        """Refuse an instant to come: it is asked when something was done."""
        at: datetime | None = self.cleaned_data["at"]
        if at is not None and at > self.now:
            raise forms.ValidationError(_("That is still to come. Enter when it was done."))
        return at

    def clean_teeth(self) -> str:
        """Read the teeth in the writer's notation and refuse those of the other arch."""
        try:
            teeth = parse_teeth(self.cleaned_data["teeth"], self.notation)
        except ValueError as error:
            raise forms.ValidationError(str(error)) from error
        for tooth in teeth:
            if arch_of(tooth) != self.question.case.arch:
                raise forms.ValidationError(
                    _("%(tooth)s is in the other arch. Enter teeth of this one.")
                    % {"tooth": from_fdi(tooth, self.notation)}
                )
        return ", ".join(from_fdi(tooth, self.notation) for tooth in teeth)

    def clean(self) -> dict[str, Any]:
        """Ask for what the chosen answer needs."""
        data = super().clean() or self.cleaned_data
        sentences = {
            "day": _("Enter the day."),
            "at": _("Enter the day and hour."),
            "minutes": _("Enter the minutes."),
            "teeth": _("Enter the teeth."),
            "shade": _("Enter the shade."),
            "guide": _("Enter the guide that the shade is read from."),
            "mould": _("Enter the mould."),
            "agent": _("Enter what it was disinfected with."),
            "words": _("Write it in a few words."),
        }
        for need in self.needs.get(data.get("answer", ""), []):
            if need == "arch":
                if not self._depths():
                    self.add_error("answer", _("Choose a depth for each tooth that comes out."))
                continue
            for name in self.FIELDS_OF[need]:
                if name not in self.errors and data.get(name) in (None, ""):
                    self.add_error(name, sentences[name])
        return data

    def entries(self) -> dict[str, Any]:
        """Return what was entered with the chosen answer, as the services take it."""
        data = self.cleaned_data
        needs = self.needs[data["answer"]]
        found: dict[str, Any] = {"words": data["words"]}
        for need in needs:
            found |= {name: data[name] for name in self.FIELDS_OF.get(need, ())}
        for name in {"day", "at"} & set(found):
            found[name] = found[name].isoformat()
        if "teeth" in needs:
            found["teeth"] = list(parse_teeth(data["teeth"], self.notation))
        if "arch" in needs:
            found["depths"] = {
                name.removeprefix(TOOTH): data[name]
                for name in self.fields
                if name.startswith(TOOTH) and data.get(name)
            }
        return found

    def _depths(self) -> list[str]:
        depths = dict(EXTRACTION_DEPTHS)
        return [
            f"{field.label}: {_(depths[chosen])}"
            for name, field in self.fields.items()
            if name.startswith(TOOTH) and (chosen := self.cleaned_data.get(name))
        ]

    def _named(self, teeth: str) -> str:
        """Say whose numbers they are: others read the note in another numbering."""
        return f"{teeth} ({NUMBERINGS[self.notation]})"

    def note(self) -> str:
        """Return what was entered with the chosen answer, in words."""
        data = self.cleaned_data
        needs = self.needs[data["answer"]]
        parts: list[str] = []
        if "date" in needs:
            parts.append(date_format(data["day"], "l j F Y"))
        if "time" in needs:
            parts.append(date_format(localtime(data["at"]), "l j F Y, H:i"))
        if "teeth" in needs:
            parts.append(self._named(data["teeth"]))
        if "arch" in needs:
            parts.append(self._named("; ".join(self._depths())))
        if "shade" in needs:
            shade = {"shade": data["shade"], "guide": data["guide"]}
            parts.append(_("%(shade)s, guide: %(guide)s") % shade)
        parts += [data[name] for name in ("mould", "agent") if name in needs]
        if "minutes" in needs:
            n = data["minutes"]
            parts.append(ngettext("%(n)s minute", "%(n)s minutes", n) % {"n": n})
        if data["words"]:
            parts.append(data["words"])
        return "; ".join(parts)


class TelephoneForm(AnswerForm):
    """The same answer, told to the laboratory on the telephone."""

    rang = forms.CharField(
        label=gettext_lazy("Who at the practice said so"),
        max_length=60,
        error_messages={"required": gettext_lazy("Say who at the practice answered.")},
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["answer"].label = _("The answer")


class ReportForm(forms.Form):
    """How a piece seated: five fields, what was adjusted, and words."""

    chairside_minutes = forms.IntegerField(
        label=gettext_lazy("Minutes spent adjusting at the chair"),
        required=False,
        min_value=0,
        max_value=MOST_MINUTES,
        widget=forms.NumberInput({"inputmode": "numeric"}),
        help_text=gettext_lazy("0 when none was needed; leave it empty when nobody counted."),
    )
    adjusted = forms.MultipleChoiceField(
        label=gettext_lazy("What was adjusted"),
        required=False,
        widget=forms.CheckboxSelectMultiple,
    )
    words = forms.CharField(
        label=gettext_lazy("Anything else the laboratory should know"),
        required=False,
        max_length=MOST_WORDS,
        widget=forms.Textarea({"rows": 3}),
        help_text=gettext_lazy("No patient names, please."),
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        boxes: Any = self.fields["adjusted"]
        boxes.choices = [(reason.key, _(reason.words)) for reason in ADJUSTMENT.reasons]
        for field in FIELDS:
            if field.answers:
                self.fields[field.key] = forms.ChoiceField(
                    label=_(field.words),
                    choices=[(answer.key, _(answer.words)) for answer in field.answers],
                    initial=NOT_REPORTED,
                    widget=forms.RadioSelect,
                )
        self.order_fields([*(field.key for field in FIELDS), "adjusted", "words"])
