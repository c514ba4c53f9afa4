"""Entries of the route editor: a stage with what it comes after and holds, and a check."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from typing import Any

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from cases.domain.network import METHODS, UNTIL_FINISH, UNTIL_WAIT
from cases.domain.route import (
    CONDITION_WORDS,
    COUNT_WORDS,
    THINGS,
    EdgeSpec,
    Held,
    NightWhen,
    RouteTemplate,
    StageSpec,
)

TERM = re.compile(r"(\d+(?:[.,]\d+)?)\s*[*×]?\s*([A-Z])?")
KINDS = (
    ("attended", gettext_lazy("with hands")),
    ("unattended", gettext_lazy("by itself: setting, cooling")),
    ("load", gettext_lazy("in a load: several cases in one bath")),
    ("external", gettext_lazy("at the practice")),
)
NIGHTS = (
    ("yes", gettext_lazy("yes")),
    ("no", gettext_lazy("no")),
    ("limit", gettext_lazy("only as the words say")),
)
EVERY = "*"
MORE_ROWS = 2


def plain(value: Any) -> Any:
    """Return a number without a needless ``.0``, everything else as it is."""
    return int(value) if isinstance(value, float) and value.is_integer() else value


def condition_choices() -> list[tuple[str, str]]:
    """Return the conditions in the reader's language."""
    return [(key, _(words)) for key, words in CONDITION_WORDS.items()]


def say_formula(formula: Mapping[str, float]) -> str:
    """Write a minutes formula: ``8 + 4 N``."""
    terms = []
    for letter in COUNT_WORDS:
        if formula.get(letter):
            number = f"{formula[letter]:g}"
            terms.append(number if letter == "fixed" else f"{number} {letter}")
    return " + ".join(terms)


def read_formula(text: str) -> dict[str, float]:
    """Read ``8 + 4 N`` as coefficients by letter.

    Raises
    ------
    ValueError
        With a sentence that names the part that is none.
    """
    formula: dict[str, float] = {}
    for part in filter(str.strip, text.replace("−", "-").split("+")):
        found = TERM.fullmatch(part.strip())
        letter = (found[2] or "fixed") if found else ""
        if found is None or letter not in COUNT_WORDS:
            letters = ", ".join(key for key in COUNT_WORDS if key != "fixed")
            raise ValueError(
                _(
                    "“%(part)s” is no part of a formula. Write minutes like 8 + 4 N, with "
                    "%(letters)s."
                )
                % {"part": part.strip(), "letters": letters}
            )
        formula[letter] = formula.get(letter, 0) + float(found[1].replace(",", "."))
    return formula


class FormulaField(forms.CharField):
    """A minutes formula; cleans to coefficients, empty to an empty mapping."""

    def to_python(self, value: Any) -> Any:
        """Read the formula."""
        try:
            return read_formula(str(value or ""))
        except ValueError as error:
            raise forms.ValidationError(str(error)) from None

    def prepare_value(self, value: Any) -> Any:
        """Write the formula."""
        return say_formula(value) if isinstance(value, Mapping) else value


def minutes_field(label: Any, help_text: Any = "") -> forms.FloatField:
    """Return an optional field for minutes, 0 or more."""
    return forms.FloatField(
        label=label,
        required=False,
        min_value=0,
        max_value=60 * 24 * 30,
        help_text=help_text,
        widget=forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"}),
    )


class StageForm(forms.Form):
    """One stage of the route."""

    name = forms.CharField(label=gettext_lazy("Name"), max_length=80)
    kind = forms.ChoiceField(label=gettext_lazy("Kind"), choices=KINDS)
    when = forms.ChoiceField(label=gettext_lazy("A case has it when"), choices=condition_choices)
    skill = forms.ChoiceField(label=gettext_lazy("Skill"), required=False)
    station = forms.ChoiceField(label=gettext_lazy("Station"), required=False)
    minutes_every = FormulaField(
        label=gettext_lazy("Minutes of work"),
        required=False,
        help_text=gettext_lazy("For one case alone, such as 8 + 4 N."),
    )
    more_each = minutes_field(gettext_lazy("Minutes for each further case done together"))
    batch = forms.BooleanField(
        label=gettext_lazy("Several cases can be done together"), required=False
    )
    needs_cast = forms.BooleanField(
        label=gettext_lazy("Needs the working cast in hand"), required=False
    )
    at_practice = forms.BooleanField(
        label=gettext_lazy("After the work the piece goes to the practice and comes back"),
        required=False,
    )
    night = forms.ChoiceField(label=gettext_lazy("May it rest here overnight?"), choices=NIGHTS)
    night_words = forms.CharField(
        label=gettext_lazy("Words for the night"), required=False, max_length=200
    )
    photo_before = forms.CharField(
        label=gettext_lazy("Photograph before it begins, because"),
        required=False,
        max_length=200,
        help_text=gettext_lazy("Empty: none is asked. A student needs a countersign here, too."),
    )
    photo_when = forms.ChoiceField(
        label=gettext_lazy("The photograph is asked when"), choices=condition_choices
    )
    inside_words = forms.CharField(
        label=gettext_lazy("Waits inside it"), required=False, max_length=200
    )
    public_words = forms.CharField(
        label=gettext_lazy("What the practice reads meanwhile"),
        max_length=200,
        help_text=gettext_lazy("One sentence without names."),
    )

    def __init__(
        self,
        *args: Any,
        skills: Sequence[tuple[str, str]],
        stations: Sequence[tuple[str, str]],
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        nobody = ("", gettext_lazy("none: nobody here works on it"))
        nowhere = ("", gettext_lazy("not in the laboratory"))
        self.fields["skill"].choices = [nobody, *skills]  # type: ignore[attr-defined]
        self.fields["station"].choices = [nowhere, *stations]  # type: ignore[attr-defined]
        for method in METHODS:
            self.fields[f"minutes_{method}"] = FormulaField(
                label=gettext_lazy("Minutes with the block-out “%(method)s”") % {"method": method},
                required=False,
                help_text=gettext_lazy("Only where it differs."),
            )

    @staticmethod
    def initial_of(stage: StageSpec) -> dict[str, Any]:
        """Return the initial entries for a stage."""
        first = {name: plain(getattr(stage, name, None)) for name in StageForm.base_fields}
        first["minutes_every"] = stage.minutes.get(EVERY)
        first |= {f"minutes_{method}": stage.minutes.get(method) for method in METHODS}
        return first

    def stage(self, old: StageSpec | None, key: str, rows: dict[str, Any]) -> StageSpec:
        """Return the stage as entered; what the form does not ask stays as ``old`` has it.

        ``rows``: ``holds`` and ``night_when`` from their own tables.
        """
        data = self.cleaned_data
        minutes = {method: data[f"minutes_{method}"] for method in METHODS}
        formulas = {method: formula for method, formula in minutes.items() if formula}
        if data["minutes_every"] or len(formulas) < len(METHODS):
            formulas[EVERY] = data["minutes_every"]
        asked = {name: data[name] for name in StageForm.base_fields if name != "minutes_every"}
        asked["more_each"] = data["more_each"] or 0
        asked |= {"key": key, "minutes": formulas, **rows}
        if old is None:
            return StageSpec(**{**asked, "mark": "judgement"})
        return replace(old, **asked)


class EdgeForm(forms.Form):
    """What a stage comes after, and the wait between."""

    before = forms.ChoiceField(label=gettext_lazy("Comes after"), required=False)
    when = forms.ChoiceField(label=gettext_lazy("When"), choices=condition_choices)
    min_wait = minutes_field(gettext_lazy("Wait, minutes"))
    least_wait = minutes_field(gettext_lazy("By decision already after"))
    max_wait = minutes_field(gettext_lazy("Begin at the latest after"))
    latest_words = forms.CharField(
        label=gettext_lazy("Because"), required=False, max_length=200,
    )  # fmt: skip

    def __init__(self, *args: Any, stages: Sequence[tuple[str, str]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["before"].choices = [("", gettext_lazy("nothing (leave out)")), *stages]  # type: ignore[attr-defined]


class ThenForm(forms.Form):
    """What comes after a new stage."""

    then = forms.MultipleChoiceField(
        label=gettext_lazy("What comes after it"),
        required=False,
        widget=forms.SelectMultiple(attrs={"size": 6}),
    )

    def __init__(self, *args: Any, stages: Sequence[tuple[str, str]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["then"].choices = stages  # type: ignore[attr-defined]


class SaveRouteForm(forms.Form):
    """Why the route changes."""

    reason = forms.CharField(
        label=gettext_lazy("Why"),
        max_length=200,
        help_text=gettext_lazy("It stands beside the version, for those who come later."),
    )


class HeldForm(forms.Form):
    """A thing that a stage occupies."""

    thing = forms.ChoiceField(label=gettext_lazy("Occupies"), required=False)
    until = forms.ChoiceField(label=gettext_lazy("Until"), required=False)
    when = forms.ChoiceField(label=gettext_lazy("When"), choices=condition_choices)

    def __init__(self, *args: Any, stages: Sequence[tuple[str, str]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        things = [(thing, _(thing)) for thing in THINGS]
        self.fields["thing"].choices = [("", gettext_lazy("nothing (leave out)")), *things]  # type: ignore[attr-defined]
        ends = [
            (UNTIL_FINISH, gettext_lazy("the end of this stage")),
            (UNTIL_WAIT, gettext_lazy("the end of the wait after it")),
        ]
        named = [(key, _("the end of “%(stage)s”") % {"stage": name}) for key, name in stages]
        # The stage with the key of a fixed word would be read as that word.
        fixed = {UNTIL_FINISH, UNTIL_WAIT}
        kept = [item for item in named if item[0] not in fixed]
        self.fields["until"].choices = [*ends, *kept]  # type: ignore[attr-defined]


class NightForm(forms.Form):
    """Another answer for the night where a condition holds."""

    when = forms.ChoiceField(label=gettext_lazy("Where"), required=False)
    night = forms.ChoiceField(label=gettext_lazy("May it rest?"), choices=NIGHTS, required=False)
    words = forms.CharField(label=gettext_lazy("Words"), required=False, max_length=200)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        none = ("", gettext_lazy("no exception"))
        self.fields["when"].choices = [none, *condition_choices()]  # type: ignore[attr-defined]


class StageTables:
    """The three tables of rows under a stage: comes after, occupies, exceptions for the night."""

    def __init__(
        self, data: Any, template: RouteTemplate, stage: StageSpec | None, key: str
    ) -> None:
        names = [(other.key, other.name) for other in template.stages if other.key != key]
        into = [edge for edge in template.edges if edge.after == key]
        self._old = {(edge.before, edge.when): edge for edge in into}
        self._key = key
        held = stage.holds if stage else ()
        nights = stage.night_when if stage else ()
        self.edges = _table(data, EdgeForm, "edges", into, stages=names)
        self.holds = _table(data, HeldForm, "holds", held, stages=names)
        self.nights = _table(data, NightForm, "nights", nights)

    def is_valid(self) -> bool:
        """Tell whether every row can be read."""
        return all([self.edges.is_valid(), self.holds.is_valid(), self.nights.is_valid()])

    def rows(self) -> dict[str, Any]:
        """Return ``holds`` and ``night_when`` as entered."""
        holds = [row for row in self._cleaned(self.holds) if row.get("thing")]
        nights = [row for row in self._cleaned(self.nights) if row.get("when")]
        return {
            "holds": tuple(Held(row["thing"], row["until"], row["when"]) for row in holds),
            "night_when": tuple(
                NightWhen(row["when"], row["night"], row["words"]) for row in nights
            ),
        }

    def before(self) -> list[EdgeSpec]:
        """Return the edges to the stage as entered; their source stays where they were known."""
        edges = []
        for row in self._cleaned(self.edges):
            if not row.get("before"):
                continue
            old = self._old.get((row["before"], row["when"]))
            values = {
                "min_wait": row["min_wait"] or 0,
                "max_wait": row["max_wait"],
                "least_wait": row["least_wait"],
                "latest_words": row["latest_words"],
            }
            fresh = old or EdgeSpec(row["before"], self._key, row["when"])
            edges.append(replace(fresh, **values))
        return edges

    @staticmethod
    def _cleaned(table: Any) -> Iterable[dict[str, Any]]:
        return [form.cleaned_data for form in table if getattr(form, "cleaned_data", None)]


def _table(
    data: Any, make: type[forms.Form], prefix: str, rows: Sequence[Any], **kwargs: Any
) -> Any:
    """Return a formset with a row for each of ``rows`` and some more to fill."""
    known = [{name: plain(getattr(row, name)) for name in make.base_fields} for row in rows]
    make_set = forms.formset_factory(make, extra=MORE_ROWS, max_num=30)
    return make_set(data, initial=known, prefix=prefix, form_kwargs=kwargs)
