"""Chances are counted over drawn times, and are right for a lab that keeps its plan's order."""

from __future__ import annotations

from dataclasses import replace
from math import log
from statistics import median, pstdev

import pytest

from cases.domain.planning.chance import Chance, Days, Expected, chances
from cases.domain.planning.dispatch import dispatch, play
from cases.domain.planning.lab import invent
from cases.domain.planning.problem import Case, Person, Problem, Running, Stage
from cases.domain.planning.replay import replay
from cases.domain.planning.rules import plain, portfolio
from cases.domain.planning.score import to_plan
from cases.domain.planning.shop import NEVER, Shop
from cases.domain.planning.spread import EXACT, GUESS, Spread, deviate, draw, fit, usual
from cases.domain.planning.standing import Standing
from tests.domain.planning.courses import DAY, live
from tests.domain.planning.small import HOURS, small


def test_without_spread_every_replay_is_the_plan() -> None:
    problem = invent(12, 3, 3)
    plan = dispatch(problem)
    found = chances(problem, plan, spread_of=lambda stage: EXACT, replays=3)

    for one in plan.leaves:
        assert set(found[one.case].arrivals) == {one.at}
        assert found[one.case].kept == (one.late == 0)


def test_the_chance_of_one_stage_is_that_of_its_time() -> None:
    stage = Stage("a1", "a", "attended", 100, "wax")
    problem = Problem((Case("a", 130),), (stage,), (Person("Ada", (("wax", 1.0),), HOURS),))
    found = chances(
        problem, dispatch(problem), spread_of=lambda one: Spread(1.1, 0.2), replays=2000
    )["a"]

    # P(100 * 1.1 * exp(0.2 z) <= 130) = Phi(ln(130 / 110) / 0.2) = Phi(0.835) = 0.798.
    assert found.kept == pytest.approx(0.798, abs=3 * found.error(130))
    assert found.error(130) == pytest.approx(0.009, abs=0.001)
    assert found.sure(0.5) == pytest.approx(110, abs=2)
    assert found.by(found.sure(0.9)) >= 0.9 > found.by(found.sure(0.9) - 1)


def test_few_cases_have_the_chances_that_all_have() -> None:
    problem = invent(15, 3, 4)
    problem = replace(problem, pairs=(("case 2", "case 9"),))
    plan = dispatch(problem)
    every = chances(problem, plan, replays=6)
    few = chances(problem, plan, cases=["case 2", "case 5"], replays=6)

    assert few == {key: every[key] for key in ("case 2", "case 5")}
    with pytest.raises(KeyError):
        chances(problem, plan, cases=["case 99"], replays=1)


def test_the_budget_ends_the_count() -> None:
    asked: list[int] = []
    problem = small()

    found = chances(
        problem, dispatch(problem), stop=lambda: bool(asked.append(1)) or len(asked) > 4
    )

    assert {len(one.arrivals) for one in found.values()} == {4}


def test_a_chance_without_replays_claims_nothing() -> None:
    nothing = Chance("a", 10, ())

    assert (nothing.kept, nothing.error(10), nothing.sure(0.5)) == (0.0, 0.5, NEVER)
    assert Chance("a", 10, (5, 10, 11, NEVER)).kept == 0.5
    assert Chance("a", 10, (5, 10, 11, NEVER)).sure(0.75) == 11


# ── times ────────────────────────────────────────────────────────────────────
def test_drawn_deviates_are_normal_and_depend_on_nothing_but_their_names() -> None:
    drawn = [deviate(0, day, f"case {case} wax") for day in range(40) for case in range(50)]

    assert sum(drawn) / len(drawn) == pytest.approx(0, abs=0.07)
    assert pstdev(drawn) == pytest.approx(1, abs=0.05)
    assert deviate(0, 1, "a") == deviate(0, 1, "a") != deviate(0, 2, "a")


def test_the_same_stage_has_the_same_luck_with_and_without_another_case() -> None:
    few, more = small(2), small(3)
    one, two = draw(Shop(few), usual, 5, 7), draw(Shop(more), usual, 5, 7)

    assert two.minutes[: len(few.stages)] == one.minutes
    assert draw(Shop(few), usual, 6, 7).minutes != one.minutes


def test_what_runs_longer_than_planned_is_not_over_yet() -> None:
    stage = Stage("a1", "a", "attended", 60, "wax", running=Running(-90, 1, "Ada"))
    problem = Problem((Case("a", 130),), (stage,), (Person("Ada", (("wax", 1.0),), HOURS),))
    ends = [draw(Shop(problem), usual, 0, day).ends[0] for day in range(100)]

    assert min(ends) >= 1
    assert len(set(ends)) > 10


def test_a_spread_is_fitted_and_drawn_to_the_guess_when_little_is_known() -> None:
    truth = Spread(1.3, 0.4)
    ratios = [truth.ratio(deviate(1, at, "x")) for at in range(500)]
    found = fit(ratios)

    assert found.median == pytest.approx(1.3, rel=0.06)
    assert found.sigma == pytest.approx(0.4, rel=0.1)
    assert fit([]) == fit([500.0, 0.001]) == GUESS
    one = fit([2.0])
    assert 1.0 < one.median < 1.15
    assert median(log(ratio) for ratio in ratios) == pytest.approx(log(1.3), abs=0.06)


# ── calibration ──────────────────────────────────────────────────────────────
def calibration(labs: int, cases: int, hands: int, courses: int, replays: int) -> list[float]:
    """Return the sums of stated chances and of days kept, and how many were promised."""
    stated = kept = asked = 0.0
    for number in range(labs):
        problem = invent(cases, hands, number)
        shop = Shop(problem)
        plan = to_plan(shop, play(shop, portfolio(shop)[0]).floor)
        # Promised is the day on which it is open: the one on which the plan ends.
        promised = tuple(
            replace(case, due=one.at // DAY * DAY + 600)
            for case, one in zip(problem.cases, plan.leaves, strict=True)
        )
        problem = replace(problem, cases=promised)
        found = chances(problem, plan, replays=replays, number=1)
        for day in range(courses):
            minutes = list(draw(shop, usual, 77, day).minutes)
            for case, at in zip(promised, live(problem, plan, minutes, 25), strict=True):
                stated += found[case.key].kept
                kept += at <= case.due
                asked += 1
    return [stated, kept, asked]


def test_stated_chances_are_near_what_a_lab_keeps_that_learns_its_times_nightly() -> None:
    stated, kept, asked = calibration(labs=3, cases=10, hands=2, courses=8, replays=40)

    assert 0.5 < stated / asked < 0.99
    assert abs(stated - kept) / asked <= 0.08  # few courses share their luck


@pytest.mark.long
@pytest.mark.timeout(900)
def test_stated_chances_are_right_within_five_points() -> None:
    stated, kept, asked = calibration(labs=10, cases=25, hands=3, courses=20, replays=200)

    assert abs(stated - kept) / asked <= 0.05


# ── expected lateness ────────────────────────────────────────────────────────
def test_days_are_the_same_for_all_plans_and_find_the_better() -> None:
    shop = Shop(invent(20, 2, 3))
    plans = [to_plan(shop, play(shop, rule).floor) for rule in (plain(shop)[0], portfolio(shop)[0])]
    days = Days(shop, count=5)
    at, worths = days.best(plans)

    assert worths[at].order == min(one.order for one in worths)
    assert worths[0] == Days(shop, count=5).expected(plans[0].planned)
    assert [one.nominal for one in worths] == [
        to_plan(shop, replay(Standing(shop, plan.planned), forward_from=0)).lateness
        for plan in plans
    ]
    with pytest.raises(ValueError, match="no plan"):
        days.best([])


def test_expected_lateness_is_the_mean_over_the_days() -> None:
    stage = Stage("a1", "a", "attended", 100, "wax")
    problem = Problem((Case("a", 100, 2.0),), (stage,), (Person("Ada", (("wax", 1.0),), HOURS),))
    shop, plan = Shop(problem), dispatch(problem)
    late = [
        2.0 * max(0, -int(-draw(shop, usual, 0, day).minutes[0] // 1) - 100) for day in range(8)
    ]

    assert Days(shop).expected(plan.planned) == Expected(0.0, sum(late) / 8, max(late), 0.0)
