"""What the planner says and does in labs at the edge: never at rest, without a search, crowded."""

from __future__ import annotations

from datetime import timedelta

import pytest

from cases.models import Case, Lab, PersonSkill, Plan, PlanCase, PlanStage
from cases.selectors.planning import build as build_module
from cases.selectors.planning.work import case_key
from cases.services import plan_think, planner
from cases.services.plan_remedies import advise
from tests.factories import NOW, Shop, make_shop
from tests.selectors.planning.small import Step, change, make_small, stage_of
from tests.selectors.planning.test_places import cured, load, resin  # noqa: F401 - a fixture
from tests.services.test_planner import LATER, Watch, happens, state, turn

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop() -> Shop:
    return make_shop()


def only_mara_waxes(shop: Shop) -> dict[str, str]:
    for name in ("oren", "teo"):
        PersonSkill.objects.filter(person=shop.people[name], skill__key="wax").delete()
    return {"skill": "wax"}


def crowded(shop: Shop) -> Case:
    """Return the longest of three cases of which only a part can leave in time."""
    wax, due = only_mara_waxes(shop), NOW + timedelta(minutes=318)
    longest = make_small(shop, Step("one", minutes=300, facts=wax), ref="Q-1", leaves_at=due)
    for ref in ("Q-2", "Q-4"):
        make_small(shop, Step("one", minutes=150, facts=wax), ref=ref, leaves_at=due)
    return longest


def test_late_cases_are_told_what_would_save_them_before_the_search(shop: Shop) -> None:
    """Something happens all the time, so that no search is ever undisturbed."""
    change(Lab.objects.get(), plan_seconds=600)
    crowded(shop)
    happens("case.promised", NOW)

    class Busy(Watch):
        def __call__(self) -> float:
            if state().improving_since is not None:
                happens("stage.started", LATER)
            return super().__call__()

    assert turn() == "mended"
    assert planner.turn(LATER, seconds=Busy()) == "improved"
    assert any(row.remedies for row in PlanCase.objects.filter(plan=Plan.objects.first()))
    newest = Plan.objects.first()
    assert newest is not None
    assert newest.asked is False


def test_lab_that_searches_for_nothing_has_no_plan_that_a_rule_beats(shop: Shop) -> None:
    change(Lab.objects.get(), plan_seconds=0)
    wax = only_mara_waxes(shop)
    first, second = (
        make_small(
            shop, Step("one", minutes=minutes, facts=wax), ref=f"Q-{minutes}",
            leaves_at=NOW + timedelta(minutes=leaves),
        )
        for minutes, leaves in ((300, 310), (60, 378))
    )  # fmt: skip
    planner.mend(NOW)
    change(first, leaves_at=NOW + timedelta(days=4))
    change(second, leaves_at=NOW + timedelta(minutes=70))

    planner.mend(NOW)

    by_rule = plan_think.think(NOW, anew=True).plan
    assert plan_think.think(NOW).plan.lateness <= by_rule.lateness
    stored = Plan.objects.first()
    assert stored is not None
    assert stored.lateness == by_rule.lateness


@pytest.mark.parametrize("rush", [False, True])
def test_no_rush_is_a_remedy_only_for_what_is_one(shop: Shop, rush: bool) -> None:
    """A remake counts more by itself: that it is no rush would not help where it is none."""
    change(Lab.objects.get(), rush_weight=4.0, remake_weight=2.5)
    heavy = crowded(shop)
    old = make_small(shop, Step("one", minutes=1), ref="Q-3")
    change(old, state="sent")
    change(heavy, remake_of=old, rush=rush)

    problem = build_module.build(NOW).problem

    (weights,) = [
        (one.weight, one.unrushed) for one in problem.cases if one.key == case_key(heavy.pk)
    ]
    assert weights == ((4.0, 2.5) if rush else (2.5, 2.5))
    planner.mend(NOW)
    newest = Plan.objects.first()
    assert newest is not None
    advise(NOW, newest, lambda: False)
    told = [one["words"] for row in PlanCase.objects.all() for one in row.remedies]
    assert told
    if not rush:
        assert not any("no rush" in words for words in told)


def test_work_that_takes_longer_than_planned_is_planned_anew(shop: Shop) -> None:
    """Nobody does anything when work takes longer, so nothing happens that tells of it."""
    change(Lab.objects.get(), plan_seconds=0)
    case = make_small(shop, Step("one", minutes=5), Step("two"))
    running = {"state": "running", "worker": shop.people["mara"], "started_at": NOW}
    change(stage_of(case, "one"), **running)
    planner.mend(NOW)
    row = PlanStage.objects.get(plan=Plan.objects.first(), stage__key="one")
    assert row.ends_at == NOW + timedelta(minutes=5)

    found = [planner.turn(NOW + timedelta(minutes=after)) for after in (5, 6, 7, 11, 12)]

    assert found == ["nothing", "mended", "nothing", "nothing", "mended"]


@pytest.mark.usefixtures("resin")
def test_load_that_nobody_takes_out_makes_one_plan_anew(shop: Shop) -> None:
    """Nothing happens while it is left in, and no plan knows how long it is."""
    change(Lab.objects.get(), plan_seconds=0)
    load(cured(shop), "short", shop, "running", begun=195)
    planner.mend(NOW)

    found = [planner.turn(NOW + timedelta(minutes=after)) for after in (5, 6, 7, 15, 16)]

    assert found == ["nothing", "mended", "nothing", "nothing", "mended"]
