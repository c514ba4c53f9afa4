"""The case that is asked about, before it is here, is read like any other."""

from __future__ import annotations

import pytest

from cases.domain.design import Design
from cases.selectors.planning.build import build
from cases.selectors.planning.work import case_key
from cases.services.grow import route_of
from cases.services.plan_quote import newcomer
from tests.factories import NOW, make_case, make_shop

pytestmark = pytest.mark.django_db


def test_a_case_that_is_asked_about_holds_what_the_same_case_holds() -> None:
    shop = make_shop()
    case = make_case(shop)
    assert case.design is not None
    route = route_of(case, Design.from_json(case.design.data))
    built = build(NOW)

    asked = newcomer(built, [route], shop.practice, NOW)

    own = {stage.key for stage in built.problem.stages if stage.case == case_key(case.pk)}
    wanted = sorted(one.thing for one in built.problem.held if one.last in own)
    assert len(set(wanted)) > 1
    assert sorted(one.thing for one in asked.held if "cast" not in one.thing) == [
        one for one in wanted if "cast" not in one
    ]
