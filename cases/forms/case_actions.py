"""The small forms of a case's page: ask, answer, hold, note, photograph, promise, send back."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from cases.domain import impression
from cases.domain import questions as asked
from cases.domain.reasons import HOLD, SEND_BACK, SKIP, ReasonList
from cases.forms.expected import expected_field
from cases.forms.teeth_field import BlankOfTeeth
from cases.forms.waits_for import WaitsForField, settle
from cases.models import Case, CaseStage, Person, Received

Choice = tuple[str, str]


class CaseForm(forms.Form):
    """A form of a case's page; ``photo_fields`` are drawn with the photograph component."""

    photo_fields: tuple[str, ...] = ()

    def full_clean(self) -> None:
        """Judge the entries; what is missing is said in the program's own words."""
        for field in self.fields.values():
            if (
                field.error_messages.get("required")
                == forms.Field.default_error_messages["required"]
            ):
                choose = isinstance(field, forms.ChoiceField)
                field.error_messages["required"] = (
                    _("Choose one.") if choose else _("Fill this in; it is needed.")
                )
        super().full_clean()


def reasons(group: ReasonList) -> list[Choice]:
    """Return a list of reasons to choose from, in the active language."""
    return [("", _("Choose"))] + [(one.key, _(one.words)) for one in group.reasons]


def stage_choices(stages: Iterable[CaseStage]) -> list[Choice]:
    """Return stages to choose from by key."""
    return [(stage.key, stage.name) for stage in stages]


class AskForm(CaseForm):
    """The blanks of one of the lab's questions, or a question in own words."""

    stage = forms.ChoiceField(
        label=gettext_lazy("The stage that waits for the answer"), required=False
    )

    def __init__(
        self,
        *args: Any,
        spec: asked.Question | None,
        stages: Iterable[CaseStage],
        notation: str,
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        self.spec, self.notation = spec, notation
        self.blanks = spec.placeholders if spec else ()
        labels = {
            "place": _("What is missing (pad, tuberosity, tooth)"),
            "gap": _("How wide the gap would be"),
            "room": _("How much room there is, in mm"),
            "found": _("What was found (break, pores, thin place)"),
        }
        for name in self.blanks:
            self.fields[name] = (
                BlankOfTeeth(label=_("Which tooth"), max_length=40, notation=notation)
                if name == "tooth"
                else forms.CharField(label=labels.get(name, name), max_length=60)
            )
        if spec is None:
            self.fields["words"] = forms.CharField(
                label=_("Your question"), max_length=400, widget=forms.Textarea
            )
        if spec is not None and spec.stops_stage_asked_at:
            nothing = [("", _("None: the work goes on"))]
            choices = [(str(stage.pk), stage.name) for stage in stages]
            self.fields["stage"].choices = nothing + choices  # type: ignore[attr-defined]
        else:
            del self.fields["stage"]


class WithdrawForm(CaseForm):
    """Why no answer is needed any more."""

    words = forms.CharField(label=gettext_lazy("Why no answer is needed"), max_length=400)


class SettleForm(CaseForm):
    """What was done with an answer, or why it needs nothing."""

    words = forms.CharField(
        label=gettext_lazy("What was done, or why nothing is needed"), max_length=400
    )


class DesignBackForm(CaseForm):
    """Why the design goes back to an earlier version."""

    reason = forms.CharField(label=gettext_lazy("Why it goes back"), max_length=150)


class HoldForm(CaseForm):
    """Stop the case, or single stages, with whom it waits for."""

    reason = forms.ChoiceField(label=gettext_lazy("Why it stops"))
    waits_for = WaitsForField(label=gettext_lazy("It waits for"), widget=forms.RadioSelect)
    words = forms.CharField(label=gettext_lazy("In words"), required=False, max_length=200)
    expected_on = expected_field()
    stages = forms.MultipleChoiceField(
        label=gettext_lazy("What stops"),
        help_text=gettext_lazy("Nothing marked: the whole case stops."),
        required=False,
        widget=forms.CheckboxSelectMultiple,
    )

    def __init__(self, *args: Any, stages: Iterable[CaseStage], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["reason"].choices = reasons(HOLD)  # type: ignore[attr-defined]
        self.fields["waits_for"].offer()  # type: ignore[attr-defined]
        self.fields["stages"].choices = stage_choices(stages)  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        """Ask for words where the reason says nothing without them."""
        data = super().clean() or {}
        if data.get("reason") == "other" and not str(data.get("words", "")).strip():
            self.add_error("words", _("Write why it stops."))
        settle(data)
        return data


class ReleaseForm(CaseForm):
    """Let a held case go on."""

    words = forms.CharField(label=gettext_lazy("What has changed"), required=False, max_length=200)


class NoteForm(CaseForm):
    """A note, or what somebody said on the telephone."""

    text = forms.CharField(
        label=gettext_lazy("The note"), max_length=2000, widget=forms.Textarea(attrs={"rows": 5})
    )
    from_whom = forms.CharField(
        label=gettext_lazy("Who rang"),
        help_text=gettext_lazy("Only for a telephone note."),
        required=False,
        max_length=60,
    )
    to_person = forms.ModelChoiceField(
        label=gettext_lazy("For"),
        queryset=Person.objects.none(),
        required=False,
        empty_label=gettext_lazy("Everybody on this case"),
    )
    visible_to_practice = forms.BooleanField(
        label=gettext_lazy("The practice may read it"), required=False
    )

    def __init__(self, *args: Any, people: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["to_person"].queryset = people  # type: ignore[attr-defined]


class PhotoForm(CaseForm):
    """A photograph of the case."""

    photo_fields = ("photo",)

    photo = forms.FileField(label=gettext_lazy("The photograph"))
    words = forms.CharField(label=gettext_lazy("What it shows"), required=False, max_length=120)
    visible_to_practice = forms.BooleanField(
        label=gettext_lazy("The practice may see it"), required=False
    )


class PromiseForm(CaseForm):
    """A day on which the case leaves."""

    ship_on = forms.DateField(
        label=gettext_lazy("It leaves on"),
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
    )
    reason = forms.CharField(
        label=gettext_lazy("Why the day moves"),
        help_text=gettext_lazy("For the lab; the practice reads the new day."),
        max_length=200,
        error_messages={"required": gettext_lazy("Say why the day moves.")},
    )

    def __init__(self, *args: Any, moves: bool, **options: Any) -> None:
        super().__init__(*args, **options)
        if not moves:
            del self.fields["reason"]


class AssignForm(CaseForm):
    """Who does a stage."""

    person = forms.ModelChoiceField(
        label=gettext_lazy("Who does it"),
        queryset=Person.objects.none(),
        required=False,
        empty_label=gettext_lazy("Whoever has time"),
    )

    def __init__(self, *args: Any, people: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["person"].queryset = people  # type: ignore[attr-defined]


class CancelForm(CaseForm):
    """Why a case will not be finished."""

    reason = forms.CharField(label=gettext_lazy("Why it will not be finished"), max_length=80)


class SkipForm(CaseForm):
    """Why a stage is left out, and words where the reason asks for them."""

    reason = forms.ChoiceField(label=gettext_lazy("Why is it left out?"))
    words = forms.CharField(label=gettext_lazy("In words"), required=False, max_length=200)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["reason"].choices = reasons(SKIP)  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        """Ask for words where the reason means nothing without them."""
        data = super().clean() or {}
        key = data.get("reason")
        if key and SKIP.get(key).needs_text and not data.get("words"):
            self.add_error("words", _("This reason needs a few words."))
        return data


class SendBackForm(CaseForm):
    """To which earlier stage, why, and what may be left standing."""

    to = forms.ChoiceField(label=gettext_lazy("Back to"))
    reason = forms.ChoiceField(label=gettext_lazy("The main reason"))
    more_reasons = forms.MultipleChoiceField(
        label=gettext_lazy("Further reasons"),
        required=False,
        widget=forms.CheckboxSelectMultiple,
    )
    words = forms.CharField(label=gettext_lazy("In words"), required=False, max_length=400)
    standing = forms.MultipleChoiceField(
        label=gettext_lazy("Left standing although it comes after"),
        help_text=gettext_lazy("Everything else that follows is done again."),
        required=False,
        widget=forms.CheckboxSelectMultiple,
    )
    standing_why = forms.CharField(
        label=gettext_lazy("Why that may be left standing"), required=False, max_length=150
    )

    def __init__(self, *args: Any, begun: list[CaseStage], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        named = stage_choices(begun)
        self.fields["to"].choices = [("", _("Choose")), *named]  # type: ignore[attr-defined]
        self.fields["standing"].choices = named  # type: ignore[attr-defined]
        self.fields["reason"].choices = reasons(SEND_BACK)  # type: ignore[attr-defined]
        self.fields["more_reasons"].choices = reasons(SEND_BACK)[1:]  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        """Ask for words where a choice says nothing without them."""
        data = super().clean() or {}
        chosen = {data.get("reason"), *data.get("more_reasons", [])}
        if "other" in chosen and not str(data.get("words", "")).strip():
            self.add_error("words", _("Write the reason."))
        if data.get("standing") and not str(data.get("standing_why", "")).strip():
            self.add_error("standing_why", _("Say why it need not be done again."))
        return data


def materials() -> list[Choice]:
    """Return the impression materials to choose from."""
    return [("", _("Not known"))] + [(one.key, _(one.words)) for one in impression.MATERIALS]


class CameForm(CaseForm):
    """What is told of something that followed later and is here now."""

    material = forms.ChoiceField(label=gettext_lazy("Impression material"), required=False)
    pour_limit_minutes = forms.IntegerField(
        label=gettext_lazy("The maker's pour limit, in minutes"), required=False, min_value=1
    )
    taken_at = forms.DateTimeField(
        label=gettext_lazy("When the impression was taken"),
        required=False,
        widget=forms.DateTimeInput(attrs={"type": "datetime-local"}, format="%Y-%m-%dT%H:%M"),
    )

    def __init__(self, *args: Any, received: Received, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["material"].choices = materials()  # type: ignore[attr-defined]
        if received.form != "impression":
            self.fields.clear()


class PutForm(CaseForm):
    """Where a thing was put."""

    place = forms.CharField(label=gettext_lazy("Where it is now"), max_length=60)


class GoneForm(CaseForm):
    """How a thing was lost."""

    reason = forms.CharField(label=gettext_lazy("What became of it"), max_length=120)


class ChangeForm(CaseForm):
    """A change of mind that the practice has to confirm in writing."""

    change = forms.CharField(
        label=gettext_lazy("What the practice wants changed"),
        help_text=gettext_lazy("The practice reads these words."),
        max_length=400,
        widget=forms.Textarea(attrs={"rows": 3}),
    )
    rang = forms.CharField(label=gettext_lazy("Who asked for it"), required=False, max_length=60)
    stage = forms.ChoiceField(
        label=gettext_lazy("The stage that waits for the confirmation"), required=False
    )

    def __init__(self, *args: Any, stages: Iterable[CaseStage], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        nothing = [("", _("None: the work goes on"))]
        choices = nothing + [(str(stage.pk), stage.name) for stage in stages]
        self.fields["stage"].choices = choices  # type: ignore[attr-defined]


def choices_of(case: Case) -> list[CaseStage]:
    """Return the stages of a case that are still to come, in order."""
    return list(
        case.stages.exclude(state__in=["done", "skipped", "dropped"]).order_by("position", "pk")
    )
