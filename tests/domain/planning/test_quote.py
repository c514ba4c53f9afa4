"""A promised day is kept by a plan that was made, and harms nobody unless it is said."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cases.domain.planning.dispatch import dispatch
from cases.domain.planning.lab import invent
from cases.domain.planning.problem import Bath, Case, Person, Problem, Program, Stage
from cases.domain.planning.quote import Harm, Newcomer, Offer, needed_by, quote, say_harm, with_case
from cases.domain.planning.verify import verify
from tests.domain.planning.events import arrived
from tests.domain.planning.small import DAY, HOURS

EVENINGS = tuple(day * DAY + 600 for day in range(25))
ADA = Person("Ada", (("wax", 1.0),), HOURS)


def newcomer(problem: Problem, like: str, release: int = 0) -> Newcomer:
    more = arrived(problem, "new", like, 0)
    own = set(problem.held)
    return Newcomer(
        replace(more.cases[-1], release=release),
        tuple(stage for stage in more.stages if stage.case == "new"),
        tuple(held for held in more.held if held not in own),
    )


@settings(max_examples=12, deadline=None)
@given(cases=st.integers(1, 12), hands=st.integers(2, 4), number=st.integers(0, 60))
def test_a_safe_day_is_kept_and_harms_nobody(cases: int, hands: int, number: int) -> None:
    problem = invent(cases, hands, number)
    plan = dispatch(problem)
    new = newcomer(problem, "case 1")
    found = quote(problem, plan, new, EVENINGS, bearable=0)
    late = {one.case: one.late for one in plan.leaves}

    for offer in found.offers:
        whole = with_case(problem, new, offer.day)
        now = {one.case: one.late for one in offer.plan.leaves}
        assert verify(whole, offer.plan) == []
        assert {one.case: one.by for one in offer.harmed} == {
            case: now[case] - before for case, before in late.items() if now[case] > before
        }
        assert (now["new"] == 0) == (offer.arrives <= offer.day)
    assert found.earliest is None or found.earliest is found.offers[-1]
    assert len(found.offers) == len(EVENINGS) or found.earliest is not None


def wax(case: str, minutes: int, due: int) -> Problem:
    return Problem(
        (Case(case, due),), (Stage(f"{case}1", case, "attended", minutes, "wax"),), (ADA,)
    )


def test_what_is_promised_to_another_is_not_broken_and_the_price_is_said() -> None:
    problem = wax("a", 300, 300)
    plan = dispatch(problem)
    rush = Newcomer(Case("b", 0), (Stage("b1", "b", "attended", 300, "wax", pausable=False),))
    found = quote(problem, plan, rush, (400, 500, DAY + 400))

    # Ada works 480 minutes a day: 300 for a, then 300 in one piece only on the next day.
    assert [(offer.day, offer.arrives, offer.harmed) for offer in found.offers] == [
        (400, DAY + 300, ()), (500, DAY + 300, ()), (DAY + 400, DAY + 300, ()),
    ]  # fmt: skip
    assert found.earliest is not None
    assert found.earliest.day == DAY + 400


def test_a_day_that_costs_another_case_says_which_and_by_how_much() -> None:
    problem = wax("a", 300, DAY + 200)
    problem = replace(problem, stages=(replace(problem.stages[0], not_before=DAY),))
    plan = dispatch(problem)
    new = Newcomer(Case("b", 0, release=DAY - 1), (Stage("b1", "b", "attended", 60, "wax"),))
    found = quote(problem, plan, new, (DAY + 100, DAY + 600), bearable=59)
    bearable = quote(problem, plan, new, (DAY + 100, DAY + 600), bearable=60)

    assert found.offers[0].arrives == DAY + 60
    assert found.offers[0].harmed == (Harm("a", 60, 160),)
    assert not found.offers[0].safe
    assert bearable.offers[0].safe
    assert found.earliest is not None
    assert (found.earliest.day, found.earliest.arrives) == (DAY + 600, DAY + 360)
    assert say_harm(Harm("a", 60, 160)) == ("a would be 2 h 40 min late, 1 hour more than now.")


def test_days_are_asked_in_order() -> None:
    problem = wax("a", 30, 300)

    with pytest.raises(ValueError, match="in order"):
        quote(problem, dispatch(problem), newcomer(problem, "a"), (500, 400))


def test_a_budget_still_asks_one_day() -> None:
    problem = invent(5, 2, 1)
    found = quote(
        problem, dispatch(problem), newcomer(problem, "case 1"), EVENINGS, stop=lambda: True
    )

    assert len(found.offers) == 1


# ── backwards from an appointment ────────────────────────────────────────────
def cure(release: int = 0) -> tuple[Problem, Newcomer]:
    problem = replace(
        wax("a", 60, 5 * DAY),
        programs=(Program("long", 540, hands=6),),
        baths=(Bath("bath", 2, ("long",)),),
    )
    new = Newcomer(
        Case("b", 0, release=release),
        (Stage("b1", "b", "load", 0, "wax", program="long"),),
    )
    return problem, new


def test_the_last_moment_for_the_impression_is_found() -> None:
    problem, new = cure()
    mornings = [day * DAY + hour * 60 for day in range(3) for hour in (0, 3, 7, 9)]
    found = needed_by(problem, dispatch(problem), new, 2 * DAY, mornings)

    # Somebody loads until 8 hours after opening; nine hours later, and before two days are over.
    assert found is not None
    assert found[0] == DAY + 7 * 60
    assert found[1].arrives == DAY + 7 * 60 + 540
    assert needed_by(problem, dispatch(problem), new, 500, mornings) is None


def test_a_moment_that_is_not_sure_enough_is_none() -> None:
    problem, new = cure()
    mornings = [day * DAY + hour * 60 for day in range(3) for hour in (0, 3, 7)]
    asked = []

    def early_enough(later: Newcomer, offer: Offer) -> bool:
        asked.append(later.case.release)
        return offer.arrives <= DAY + 12 * 60

    found = needed_by(
        problem, dispatch(problem), new, 2 * DAY, mornings, enough=early_enough
    )  # fmt: skip

    assert found is not None
    assert (found[0], asked) == (DAY + 3 * 60, [DAY + 7 * 60, DAY + 3 * 60])


def test_whoever_comes_sooner_is_in_time_too() -> None:
    problem = invent(8, 3, 5)
    plan = dispatch(problem)
    new = newcomer(problem, "case 2")
    releases = [day * DAY for day in range(12)]
    found = needed_by(problem, plan, new, 12 * DAY, releases)

    assert found is not None
    later = [one for one in releases if found[0] < one]
    for release in later:
        case = replace(new, case=replace(new.case, release=release))
        assert quote(problem, plan, case, [12 * DAY]).earliest is None
