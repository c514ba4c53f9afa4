"""The case that is asked about, before it is here, is read like any other."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from cases.domain.design import Design
from cases.selectors.planning.build import build
from cases.selectors.planning.work import case_key
from cases.services import plan_quote, planner
from cases.services.grow import route_of
from cases.services.plan import pin_stage
from cases.services.plan_quote import ask, newcomer
from tests.factories import NOW, Shop, make_case, make_shop
from tests.selectors.planning.small import Step, change, make_small, stage_of

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


def busy(*, pinned: bool) -> Shop:
    """A lab with days of work; at night nobody can begin what is pinned to it."""
    shop = make_shop()
    for number in range(6):
        leaves = NOW + timedelta(days=2 * number + 1)
        case = make_small(shop, Step("one", minutes=2000), ref=f"Q-{number}", leaves_at=leaves)
        if pinned:
            night = (NOW + timedelta(hours=12)).isoformat()
            pin_stage(shop.envelope("pavo"), stage=stage_of(case, "one").pk, begins_at=night)
    planner.mend(NOW)
    return shop


@pytest.mark.parametrize("pinned", [False, True])
def test_work_whose_pin_cannot_be_kept_takes_hands_all_the_same(
    pinned: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(plan_quote, "FIRST_SECONDS", 30.0)
    shop = busy(pinned=pinned)
    source = make_case(shop, ref="Q-99")
    assert source.design is not None
    route = route_of(source, Design.from_json(source.design.data))
    change(source, state="cancelled")

    found = ask([route], shop.practice, now=NOW)

    # The work of the lab is the same with the pins and without them.
    assert found.earliest is not None
    assert found.earliest.leaves.date() == date(2026, 12, 22)
