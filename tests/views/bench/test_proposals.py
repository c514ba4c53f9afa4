"""What the design says of a number is proposed at its check, and never stands as an answer."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest
from django.test import Client
from django.urls import reverse

from cases.domain.design import Clasp, Design
from cases.domain.proposals import proposed
from cases.models import Case, CaseStage, CheckItem
from cases.services.design import set_design
from tests.factories import DESIGN, NOW, Shop
from tests.views.bench.test_stage import HX, begun, post

pytestmark = pytest.mark.django_db


@pytest.fixture
def survey(shop: Shop, case_at: Callable[..., Case]) -> CaseStage:
    """A survey in hand, with 4.5 mm drawn behind 35 and nothing behind 45."""
    case = case_at("trim")
    stage = begun(case, "survey", shop)
    case.refresh_from_db()
    lined = {**DESIGN["clasps"][0], "line_mm": 4.5}
    set_design(
        shop.envelope("mara", now=NOW),
        case=case.pk,
        version=case.version,
        data={**DESIGN, "clasps": [lined, DESIGN["clasps"][1]]},
    )
    stage.refresh_from_db()
    return stage


def item(stage: CaseStage, tooth: int) -> CheckItem:
    return stage.checks.get(key=f"12@survey:{tooth}")


def test_the_value_of_the_design_is_proposed_and_the_check_stays_open(
    bench: Client, survey: CaseStage
) -> None:
    text = bench.get(reverse("cases:bench-stage", args=[survey.pk])).content.decode()
    check = item(survey, 35)
    assert text.count("The design says 4.5 mm.") == 1
    assert f'id="check-{check.pk}-line" name="value-line" value=""' in text
    assert (check.state, check.values) == ("open", {})
    # The Enter key presses the first button of a form: that keeps what was typed.
    form = text[text.index(f'id="check-{check.pk}"') :]
    assert form.index("Keep this answer") < form.index("Measured: it is 4.5 mm")


def test_a_press_confirms_it_and_another_number_stands_instead(
    bench: Client, survey: CaseStage
) -> None:
    check = item(survey, 35)
    sent = {"value-line": "", "confirm-line": "4.5"}
    post(bench, "bench-check", check, extra=HX, version=survey.version, **sent)
    check.refresh_from_db()
    assert (check.state, check.values["values"]) == ("passed", {"line": 4.5})
    page = bench.get(reverse("cases:bench-stage", args=[survey.pk])).content.decode()
    assert "The design says 4.5 mm." not in page

    post(bench, "bench-check", check, extra=HX, version=survey.version, **{"value-line": "5,1"})
    check.refresh_from_db()
    assert check.values["values"] == {"line": 5.1}


def test_only_a_clasp_of_the_design_with_a_line_is_proposed() -> None:
    plan = Design("lower", clasps=(Clasp(35, line_mm=4.5), Clasp(45)))
    assert proposed(plan, 12, "survey", "line", "35") == 4.5
    assert proposed(plan, 12, "survey", "line", "45") is None
    assert proposed(plan, 12, "survey", "line", "34") is None
    assert proposed(plan, 13, "survey", "line", "35") is None
    assert proposed(plan, 12, "survey", "line", "bar") is None
    assert proposed(None, 12, "survey", "line", "35") is None
    assert proposed(replace(plan, clasps=()), 12, "survey", "line", "35") is None
