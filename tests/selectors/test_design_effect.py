"""What a design would change, found by growing the work twice."""

from __future__ import annotations

import dataclasses

import pytest

from cases.domain.design import Design
from cases.models import Case
from cases.selectors.design_effect import design_effect
from tests.factories import make_case, make_shop

pytestmark = pytest.mark.django_db


@pytest.fixture
def case(db: None) -> Case:
    return make_case(make_shop())


def plan_of(case: Case) -> Design:
    assert case.design is not None
    return Design.from_json(case.design.data)


def test_same_design_changes_nothing(case: Case) -> None:
    effect = design_effect(case, plan_of(case))

    assert (effect.added, effect.dropped, effect.changed) == ((), (), ())
    assert effect.minutes == effect.minutes_before
    assert (effect.checks_added, effect.checks_dropped) == (0, 0)


def test_bar_adds_its_stage_and_minutes(case: Case) -> None:
    effect = design_effect(case, dataclasses.replace(plan_of(case), bar=True))

    assert [(stage.spec.key, stage.minutes) for stage in effect.added] == [("bar", 18)]
    # 18 to shape it, 4 more to pack over it.
    assert effect.minutes - effect.minutes_before == 22
    assert effect.checks_added > 0


def test_copy_adds_mould_cast_and_fit(case: Case) -> None:
    effect = design_effect(case, dataclasses.replace(plan_of(case), method="wax-then-copy"))

    assert [stage.spec.key for stage in effect.added] == ["copy-mould", "copy-cast", "fit"]


def test_no_polish_takes_its_stage_away(case: Case) -> None:
    effect = design_effect(case, plan_of(case), polish="none")

    assert [stage.spec.key for stage in effect.dropped] == ["polish"]
    assert effect.minutes < effect.minutes_before
