"""Entries of the bench: shapes and lists to choose from, the services decide."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from cases.domain import reasons
from cases.domain.question_form import Question
from cases.forms.expected import expected_field
from cases.forms.teeth_field import BlankOfTeeth
from cases.forms.waits_for import WaitsForField, settle
from cases.models import CaseStage, Person
from cases.services.places import OF_A_CASE

Choices = list[tuple[str, str]]
LINE = {"autocomplete": "off"}
PIN = {"inputmode": "numeric", "autocomplete": "off"}


def reason_choices(listed: reasons.ReasonList | Iterable[reasons.Reason]) -> Choices:
    """Return a reason list as (key, words in the reader's language)."""
    found = listed.reasons if isinstance(listed, reasons.ReasonList) else listed
    return [(reason.key, _(reason.words)) for reason in found]


def people_choices(people: Iterable[Person], nobody: str) -> Choices:
    """Return people to choose from, with what choosing nobody means first."""
    return [("", nobody), *((str(person.pk), person.name) for person in people)]


class ReasonForm(forms.Form):
    """One main reason of a list, and words where the reason asks for them."""

    listed: reasons.ReasonList
    reason = forms.ChoiceField(
        label=gettext_lazy("Why?"),
        widget=forms.RadioSelect,
        error_messages={"required": gettext_lazy("Choose a reason.")},
    )
    words = forms.CharField(
        label=gettext_lazy("In words"),
        required=False,
        max_length=200,
        widget=forms.TextInput(attrs=LINE),
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self._reasons().choices = reason_choices(self.listed)

    def _reasons(self) -> forms.ChoiceField:
        field = self.fields["reason"]
        assert isinstance(field, forms.ChoiceField)  # noqa: S101 - tells the type checker
        return field

    def clean(self) -> dict[str, Any]:
        """Ask for words where the reason says nothing without them."""
        data = super().clean() or {}
        key = data.get("reason")
        if key and self.listed.get(key).needs_text and not data.get("words", "").strip():
            self.add_error("words", _("This reason needs a few words."))
        return data


class HoldForm(ReasonForm):
    """Stop a case, or one stage of it, with whom it waits for."""

    listed = reasons.HOLD
    waits_for = WaitsForField(label=gettext_lazy("Whom does it wait for?"))
    scope = forms.ChoiceField(
        label=gettext_lazy("What stops?"), widget=forms.RadioSelect, initial="case"
    )
    expected_on = expected_field()
    field_order = ("reason", "waits_for", "scope", "words", "expected_on")

    def __init__(self, *args: Any, stage: CaseStage, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["waits_for"].offer()  # type: ignore[attr-defined]
        self.fields["scope"].choices = [  # type: ignore[attr-defined]
            ("case", _("The whole case")),
            ("stage", _("Only this stage: %(stage)s") % {"stage": _(stage.name)}),
        ]

    def clean(self) -> dict[str, Any]:
        """Let it wait for whom the reason usually waits for, where nobody chose."""
        data = super().clean()
        settle(data)
        return data


class SkipForm(ReasonForm):
    """Leave a stage out."""

    listed = reasons.SKIP


class SendBackForm(ReasonForm):
    """Send a case back to an earlier stage, with further reasons."""

    listed = reasons.SEND_BACK
    to = forms.ChoiceField(
        label=gettext_lazy("Back to which stage?"),
        error_messages={"required": gettext_lazy("Choose the stage it goes back to.")},
    )
    more_reasons = forms.MultipleChoiceField(
        label=gettext_lazy("Further reasons"),
        required=False,
        widget=forms.CheckboxSelectMultiple,
    )
    field_order = ("to", "reason", "more_reasons", "words")

    def __init__(self, *args: Any, targets: Iterable[CaseStage], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["to"].choices = [  # type: ignore[attr-defined]
            (stage.key, _(stage.name)) for stage in targets
        ]
        self.fields["more_reasons"].choices = self._reasons().choices  # type: ignore[attr-defined]


class ConcessionForm(ReasonForm):
    """Accept a failed check: by a colleague with name and PIN, or by who is signed in."""

    listed = reasons.CONCESSION
    person = forms.TypedChoiceField(
        label=gettext_lazy("Who accepts it?"),
        coerce=int,
        empty_value=None,
        error_messages={"required": gettext_lazy("Choose who accepts it.")},
    )
    pin = forms.CharField(
        label=gettext_lazy("Their PIN"),
        widget=forms.PasswordInput(attrs=PIN),
        error_messages={"required": gettext_lazy("The colleague types their own PIN.")},
    )
    field_order = ("reason", "words", "person", "pin")

    def __init__(self, *args: Any, people: Iterable[Person] | None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        _ask_colleague(self, people)


class SignForm(forms.Form):
    """Sign a student's work, or return it with a reason."""

    agreed = forms.ChoiceField(
        label=gettext_lazy("Is it right?"),
        widget=forms.RadioSelect,
        choices=(("yes", gettext_lazy("Yes, go on")), ("no", gettext_lazy("No, do it again"))),
        error_messages={"required": gettext_lazy("Say yes or no.")},
    )
    words = forms.CharField(
        label=gettext_lazy("What has to be better"),
        required=False,
        max_length=200,
        widget=forms.TextInput(attrs=LINE),
    )
    person = forms.TypedChoiceField(
        label=gettext_lazy("Who signs it?"),
        coerce=int,
        empty_value=None,
        error_messages={"required": gettext_lazy("Choose who signs it.")},
    )
    pin = forms.CharField(
        label=gettext_lazy("Their PIN"),
        widget=forms.PasswordInput(attrs=PIN),
        error_messages={"required": gettext_lazy("The colleague types their own PIN.")},
    )

    def __init__(self, *args: Any, people: Iterable[Person] | None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        _ask_colleague(self, people)


def _ask_colleague(form: forms.Form, people: Iterable[Person] | None) -> None:
    """Offer ``people`` with a PIN; None: who is signed in answers, nobody else is asked."""
    if people is None:
        del form.fields["person"], form.fields["pin"]
        return
    choices = people_choices(people, _("Choose a colleague"))
    form.fields["person"].choices = choices  # type: ignore[attr-defined]


class HandOverForm(forms.Form):
    """Where the work stands, in one line, and for whom."""

    words = forms.CharField(
        label=gettext_lazy("Where does it stand? One line"),
        max_length=200,
        widget=forms.TextInput(attrs=LINE),
        error_messages={"required": gettext_lazy("Say in one line where it stands.")},
    )
    person = forms.TypedChoiceField(
        label=gettext_lazy("For whom?"), required=False, coerce=int, empty_value=None
    )

    def __init__(self, *args: Any, people: Iterable[Person], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        nobody = _("Whoever takes it next")
        self.fields["person"].choices = people_choices(people, nobody)  # type: ignore[attr-defined]


class NoteForm(forms.Form):
    """A note on the case."""

    text = forms.CharField(
        label=gettext_lazy("Note"),
        max_length=1000,
        widget=forms.Textarea(attrs={"rows": 3}),
        error_messages={"required": gettext_lazy("Write the note first.")},
    )


class MishapForm(forms.Form):
    """Something broke, fell or went wrong. A photograph may come with it."""

    words = forms.CharField(
        label=gettext_lazy("What happened?"),
        max_length=400,
        widget=forms.Textarea(attrs={"rows": 3}),
        error_messages={"required": gettext_lazy("Say in a few words what happened.")},
    )


class PlaceForm(forms.Form):
    """Where a thing of the case was put."""

    kind = forms.ChoiceField(label=gettext_lazy("What?"))
    label = forms.CharField(
        label=gettext_lazy("Which of them"),
        required=False,
        max_length=40,
        widget=forms.TextInput(attrs=LINE),
    )
    place = forms.CharField(
        label=gettext_lazy("Where was it put?"),
        max_length=60,
        widget=forms.TextInput(attrs=LINE),
        error_messages={"required": gettext_lazy("Say where it was put.")},
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["kind"].choices = [  # type: ignore[attr-defined]
            (key, _(words)) for key, words in OF_A_CASE.items()
        ]


class MinutesForm(ReasonForm):
    """The minutes that a span really took."""

    listed = reasons.TIME_CORRECTED
    minutes = forms.FloatField(
        label=gettext_lazy("Minutes it really took"),
        min_value=0,
        max_value=24 * 60,
        localize=True,
        widget=forms.TextInput(attrs={"inputmode": "decimal", **LINE}),
        error_messages={"invalid": gettext_lazy("Enter minutes as a number, such as 25.")},
    )
    field_order = ("minutes", "reason", "words")


class AskForm(forms.Form):
    """What a question of the list is about; one field for each blank in its words."""

    def __init__(
        self,
        *args: Any,
        asked: Question,
        words: Mapping[str, str],
        notation: str,
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        self.notation = notation
        for name in asked.placeholders:
            shape: dict[str, Any] = {
                "label": words.get(name, name.capitalize()),
                "max_length": 60,
                "widget": forms.TextInput(attrs=LINE),
            }
            self.fields[name] = (
                BlankOfTeeth(notation=notation, **shape)
                if name == "tooth"
                else forms.CharField(**shape)
            )


class OwnWordsForm(forms.Form):
    """A question that is not in the list."""

    words = forms.CharField(
        label=gettext_lazy("Your question"),
        max_length=400,
        widget=forms.Textarea(attrs={"rows": 3}),
        error_messages={"required": gettext_lazy("Write the question first.")},
    )
