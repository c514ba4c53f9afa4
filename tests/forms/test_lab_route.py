"""The forms of the route editor give back what they were given."""

from __future__ import annotations

from typing import Any

import pytest
from django.forms import BaseForm

from cases.domain.route import default_template
from cases.domain.subjects import SUBJECTS
from cases.forms.lab_check import SUBJECT_WORDS, CheckForm, CheckTables
from cases.forms.lab_route import StageForm, StageTables, read_formula, say_formula

TEMPLATE = default_template()
NAMES = {stage.key: stage.name for stage in TEMPLATE.stages}
SKILLS = [(stage.skill, stage.skill) for stage in TEMPLATE.stages if stage.skill]
STATIONS = [(stage.station, stage.station) for stage in TEMPLATE.stages if stage.station]


def entries(*forms: Any) -> dict[str, Any]:
    """Return what a browser would send back from these forms, untouched."""
    sent: dict[str, Any] = {}
    for item in forms:
        parts: list[BaseForm] = (
            [item] if isinstance(item, BaseForm) else [item.management_form, *item.forms]
        )
        for form in parts:
            for field in form:
                value = field.value()
                if value is not None and value is not False:
                    sent[field.html_name] = "on" if value is True else value
    return sent


@pytest.mark.parametrize("stage", TEMPLATE.stages, ids=lambda stage: stage.key)
def test_stage_comes_back_as_it_was(stage: Any) -> None:
    blank = StageForm(initial=StageForm.initial_of(stage), skills=SKILLS, stations=STATIONS)
    tables = StageTables(None, TEMPLATE, stage, stage.key)
    sent = entries(blank, tables.edges, tables.holds, tables.nights)

    form = StageForm(sent, skills=SKILLS, stations=STATIONS)
    back = StageTables(sent, TEMPLATE, stage, stage.key)

    assert form.is_valid(), form.errors
    assert back.is_valid()
    assert form.stage(stage, stage.key, back.rows()) == stage
    assert back.before() == [edge for edge in TEMPLATE.edges if edge.after == stage.key]


@pytest.mark.parametrize("check", TEMPLATE.checks, ids=lambda check: str(check.number))
def test_check_comes_back_as_it_was(check: Any) -> None:
    choices = list(NAMES.items())
    blank = CheckForm(initial=CheckForm.initial_of(check), stages=choices)
    tables = CheckTables(None, check, NAMES)
    limits = [item["form"] for row in tables.again for item in row["limits"]]
    told = [form for _one, form in tables.told]
    sent = entries(blank, tables.measures, *limits, *told)

    form = CheckForm(sent, stages=choices)
    back = CheckTables(sent, check, NAMES)

    assert form.is_valid(), form.errors
    assert back.is_valid()
    rows = back.measured(), back.looked_at_again(), back.words_told()
    assert form.check(check, check.number, *rows) == check


def test_lab_sets_what_is_usual_beside_a_number() -> None:
    check = next(one for one in TEMPLATE.checks if one.number == 40)
    tables = CheckTables(None, check, NAMES)
    sent = entries(tables.measures, *(form for _one, form in tables.told))

    back = CheckTables({**sent, "told-unit-usual": "psi"}, check, NAMES)
    wrong = CheckTables({**sent, "told-unit-usual": "stone"}, check, NAMES)

    assert back.is_valid()
    assert [one.usual for one in back.words_told()] == ["psi", ""]
    assert not wrong.is_valid()


@pytest.mark.parametrize(
    ("text", "formula"),
    [
        ("", {}),
        ("4", {"fixed": 4}),
        ("8 + 4 N", {"fixed": 8, "N": 4}),
        ("1,5T+2", {"fixed": 2, "T": 1.5}),
        ("2 * C", {"C": 2}),
    ],
)
def test_formula_is_read_as_people_write_it(text: str, formula: dict[str, float]) -> None:
    assert read_formula(text) == formula
    assert read_formula(say_formula(formula)) == formula


@pytest.mark.parametrize("text", ["4 + 2 Q", "four", "-2", "4 N T"])
def test_formula_names_the_part_that_is_none(text: str) -> None:
    with pytest.raises(ValueError, match="is no part of a formula"):
        read_formula(text)


def test_a_check_can_be_asked_for_every_subject_that_the_domain_knows() -> None:
    assert set(SUBJECT_WORDS) == set(SUBJECTS)
