"""Entries of one check of the route."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from django import forms
from django.utils.text import slugify
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from cases.domain.checks import Again, CheckSpec, Measure, Told
from cases.forms.lab_route import condition_choices, plain

SUBJECT_WORDS = {
    "whole": gettext_lazy("the whole piece"),
    "cast": gettext_lazy("the cast"),
    "with-teeth": gettext_lazy("the whole piece, where teeth are replaced"),
    "each-clasp": gettext_lazy("each clasp"),
    "each-braced": gettext_lazy("each clasp that something faces"),
    "each-face": gettext_lazy("each face blocked out"),
    "each-relieved": gettext_lazy("each face whose gum line is relieved"),
    "each-free-end": gettext_lazy("each free end"),
    "each-border": gettext_lazy("each border"),
    "each-replaced": gettext_lazy("each tooth replaced"),
    "each-extracted": gettext_lazy("each tooth to be extracted"),
    "bar": gettext_lazy("the bar"),
    "bar-or-tails": gettext_lazy("the bar, or the tails of the wires"),
    "bar-and-tails": gettext_lazy("the bar and the tails of the wires"),
}
"""Whom a check can be asked for."""

# What kind of subject that is; a tooth where nothing is said.
KIND_OF = {
    "whole": "whole",
    "cast": "cast",
    "with-teeth": "whole",
    "each-clasp": "clasp",
    "each-braced": "clasp",
    "each-face": "face",
    "each-relieved": "face",
    "each-free-end": "border",
    "each-border": "border",
    "bar": "bar",
    "bar-or-tails": "bar",
    "bar-and-tails": "bar",
}


class CheckForm(forms.Form):
    """One check as the bench reads it."""

    stage = forms.ChoiceField(label=gettext_lazy("Asked at"))
    when = forms.ChoiceField(label=gettext_lazy("Asked when"), choices=condition_choices)
    subjects = forms.ChoiceField(
        label=gettext_lazy("Asked for"), choices=tuple(SUBJECT_WORDS.items())
    )
    words = forms.CharField(
        label=gettext_lazy("What must be true"),
        max_length=300,
        help_text=gettext_lazy("[subject] stands for the tooth, where it is asked for each."),
        widget=forms.Textarea(attrs={"rows": 2}),
    )
    if_not = forms.CharField(
        label=gettext_lazy("What to do if not"),
        required=False,
        max_length=300,
        widget=forms.Textarea(attrs={"rows": 2}),
    )
    limit = forms.CharField(label=gettext_lazy("Limit in words"), required=False, max_length=120)
    yes_no = forms.BooleanField(label=gettext_lazy("Ask for yes or no"), required=False)
    photo = forms.BooleanField(label=gettext_lazy("Ask for a photograph"), required=False)
    keeps = forms.BooleanField(
        label=gettext_lazy("Keep the value: later checks are judged against it"), required=False
    )
    required = forms.BooleanField(
        label=gettext_lazy("Required: without it the stage cannot be finished"), required=False
    )

    def __init__(self, *args: Any, stages: Sequence[tuple[str, str]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["stage"].choices = stages  # type: ignore[attr-defined]

    @staticmethod
    def initial_of(check: CheckSpec) -> dict[str, Any]:
        """Return the initial entries for a check."""
        return {name: getattr(check, name) for name in CheckForm.base_fields}

    def check(
        self,
        old: CheckSpec | None,
        number: int,
        measures: tuple[Measure, ...],
        again: tuple[Again, ...],
        told: tuple[Told, ...] = (),
    ) -> CheckSpec:
        """Return the check as entered; what the form does not ask stays as ``old`` has it."""
        asked = {name: self.cleaned_data[name] for name in CheckForm.base_fields}
        asked |= {"measures": measures, "again": again, "told": told}
        if old is not None and old.subjects == asked["subjects"]:
            return replace(old, **asked)
        asked["subject"] = KIND_OF.get(asked["subjects"], "tooth")
        if old is not None:
            return replace(old, **asked)
        return CheckSpec(number=number, mark="judgement", **asked)


class MeasureForm(forms.Form):
    """A number that a check asks for, with its limits."""

    key = forms.CharField(required=False, widget=forms.HiddenInput)
    words = forms.CharField(label=gettext_lazy("Number asked for"), required=False, max_length=120)
    unit = forms.CharField(label=gettext_lazy("Unit"), required=False, max_length=12)
    low = forms.FloatField(
        label=gettext_lazy("At least"),
        required=False,
        widget=forms.TextInput(attrs={"inputmode": "decimal"}),
    )
    high = forms.FloatField(
        label=gettext_lazy("At most"),
        required=False,
        widget=forms.TextInput(attrs={"inputmode": "decimal"}),
    )


class ToldForm(forms.Form):
    """Words that a check asks for beside a number: what this lab uses as a rule."""

    usual = forms.CharField(required=False, max_length=60)

    def __init__(self, *args: Any, told: Told, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        label = gettext_lazy("Usual here: %(what)s") % {"what": _(told.words)}
        if told.choices:
            listed = [("", _("none")), *((one, _(one)) for one in told.choices)]
            self.fields["usual"] = forms.ChoiceField(required=False, choices=listed)
        self.fields["usual"].label = label
        self.fields["usual"].help_text = _("It stands in the field before anybody writes.")


class LimitForm(forms.Form):
    """The limits that hold when a number is looked at again at a later stage."""

    low = forms.FloatField(
        label=gettext_lazy("At least"),
        required=False,
        widget=forms.TextInput(attrs={"inputmode": "decimal"}),
    )
    high = forms.FloatField(
        label=gettext_lazy("At most"),
        required=False,
        widget=forms.TextInput(attrs={"inputmode": "decimal"}),
    )


class CheckTables:
    """The numbers of a check, and the limits of those that are looked at again."""

    def __init__(self, data: Any, check: CheckSpec | None, names: dict[str, str]) -> None:
        self._check = check
        measures = check.measures if check else ()
        known = [
            {name: plain(getattr(m, name)) for name in MeasureForm.base_fields} for m in measures
        ]
        make_set = forms.formset_factory(MeasureForm, extra=1, max_num=12)
        self.measures = make_set(data, initial=known, prefix="measures")
        self.told = [
            (one, ToldForm(data, told=one, prefix=f"told-{one.key}", initial={"usual": one.usual}))
            for one in (check.told if check else ())
        ]
        self.again: list[dict[str, Any]] = []
        for index, again in enumerate(check.again if check else ()):
            limits = [
                {
                    "measure": key,
                    "form": LimitForm(
                        data,
                        prefix=f"again-{index}-{key}",
                        initial={"low": plain(pair[0]), "high": plain(pair[1])},
                    ),
                }
                for key, pair in (again.limits or {}).items()
            ]
            self.again.append(
                {"again": again, "stage": names.get(again.stage, again.stage), "limits": limits}
            )

    def is_valid(self) -> bool:
        """Tell whether every row can be read."""
        limits = [item["form"] for row in self.again for item in row["limits"]]
        told = [form for _one, form in self.told]
        return all([self.measures.is_valid(), *(form.is_valid() for form in (*limits, *told))])

    def words_told(self) -> tuple[Told, ...]:
        """Return the words asked for beside the numbers, with what is usual here."""
        return tuple(
            replace(one, usual=form.cleaned_data["usual"].strip()) for one, form in self.told
        )

    def measured(self) -> tuple[Measure, ...]:
        """Return the numbers as entered; an emptied one is left out."""
        old = {measure.key: measure for measure in (self._check.measures if self._check else ())}
        found: list[Measure] = []
        for form in self.measures:
            row = getattr(form, "cleaned_data", None) or {}
            if not row.get("words"):
                continue
            taken = {measure.key for measure in found}
            key = row["key"] or self._key(row["words"], taken | set(old))
            values = {name: row[name] for name in ("words", "unit", "low", "high")}
            measure = old.get(key)
            found.append(replace(measure, **values) if measure else Measure(key=key, **values))
        return tuple(found)

    @staticmethod
    def _key(words: str, taken: set[str]) -> str:
        base = slugify(words)[:20] or "value"
        key, number = base, 2
        while key in taken:
            key, number = f"{base}-{number}", number + 1
        return key

    def looked_at_again(self) -> tuple[Again, ...]:
        """Return the later looks with their limits as entered."""
        rows = []
        for row in self.again:
            limits = {
                item["measure"]: (
                    item["form"].cleaned_data["low"],
                    item["form"].cleaned_data["high"],
                )
                for item in row["limits"]
            }
            rows.append(replace(row["again"], limits=limits) if limits else row["again"])
        return tuple(rows)
