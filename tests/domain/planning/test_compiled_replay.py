"""The compiled replay gives what the reference gives, and a search goes the same way on either."""

from __future__ import annotations

from dataclasses import replace
from random import Random

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cases.domain.planning.compiled import engine
from cases.domain.planning.compiled.again_state import stood_of
from cases.domain.planning.compiled.replaying import Played, course_of
from cases.domain.planning.dispatch import dispatch, try_rules
from cases.domain.planning.floor import Floor
from cases.domain.planning.improve import search
from cases.domain.planning.lab import invent
from cases.domain.planning.mend import DAY, wishes
from cases.domain.planning.problem import Problem
from cases.domain.planning.replay import Times, replay, replay_plainly
from cases.domain.planning.score import leaving, to_plan, worth
from cases.domain.planning.shop import NEVER, Shop
from cases.domain.planning.spread import draw, usual
from cases.domain.planning.standing import Standing
from tests.domain.planning.events import shaken
from tests.domain.planning.small import small
from tests.domain.planning.test_mend import EVENTS, published

# Without `make test`, which compiles ahead, the first of them waits for the compiler.
pytestmark = [pytest.mark.usefixtures("compiled"), pytest.mark.timeout(900)]

PASSES = ((0, NEVER), (0, 0), (DAY, DAY))
"""Until when hands are kept, and from when on work may begin earlier."""


def seen(floor: Floor) -> dict[str, object]:
    """Return all that a plan is made of."""
    names = ("start", "end", "free", "person", "load", "together", "signed", "loads")
    return {name: getattr(floor, name) for name in names}


def assert_same(
    standing: Standing, keep_until: int, forward_from: int, times: Times | None = None
) -> None:
    """Play a plan both ways, and compare the plans, their worth and what follows from them."""
    shop, course = standing.shop, course_of(standing.shop)
    plain = replay_plainly(
        standing, times=times, keep_until=keep_until, forward_from=forward_from
    )  # fmt: skip
    quick = Played(course, course.play(course.stood(standing), times, keep_until, forward_from))

    assert seen(quick.floor()) == seen(plain)
    assert quick.worth == worth(shop, plain)
    assert quick.leaves() == leaving(shop, plain)
    assert quick.last() == max(plain.end, default=1)
    stands = stood_of(Standing(shop, to_plan(shop, plain).planned), course.programs)
    for own, other in zip(stands, quick.stood(), strict=True):
        np.testing.assert_array_equal(own, other)


def assert_all_same(problem: Problem, last: Problem) -> None:
    shop = Shop(problem)
    standing = Standing(shop, last.last)
    for keep_until, forward_from in PASSES:
        for wished in wishes(standing):
            assert_same(standing.reordered(wished), keep_until, forward_from)
    times = draw(shop, usual, 1, 2)
    assert_same(standing, 0, 0, times)


@settings(max_examples=25, deadline=None)
@given(
    event=st.sampled_from(sorted(EVENTS)),
    cases=st.integers(2, 14),
    technicians=st.integers(2, 4),
    number=st.integers(0, 99),
)
def test_after_an_event_both_give_the_same(
    event: str, cases: int, technicians: int, number: int
) -> None:
    problem = published(invent(cases, technicians, number))

    assert_all_same(EVENTS[event](problem), problem)


@settings(max_examples=25, deadline=None)
@given(cases=st.integers(1, 8), number=st.integers(0, 999), few=st.booleans())
def test_whatever_happened_both_give_the_same(cases: int, number: int, few: bool) -> None:
    problem = published(small(cases) if few else invent(cases, 3, number % 30))

    assert_all_same(shaken(problem, Random(number)), problem)


def test_a_crowded_lab_is_played_alike() -> None:
    problem = published(invent(60, 5, 3))

    assert_all_same(EVENTS["somebody is away for the day"](problem), problem)


@settings(max_examples=15, deadline=None)
@given(number=st.integers(0, 999))
def test_what_a_search_moves_is_played_alike(number: int) -> None:
    chance = Random(number)
    problem = invent(9, 3, number % 20)
    shop = Shop(problem)
    standing = Standing(shop, dispatch(problem).planned)
    starts = {
        at: max(0, start + chance.randrange(-2000, 2000))
        for at, start in enumerate(standing.start)
        if start is not None and chance.random() < 0.2
    }
    course = course_of(shop)
    moved = course.moved(course.stood(standing), starts)
    plain = replay_plainly(standing.moved(starts), forward_from=0)

    assert seen(Played(course, course.play(moved, forward_from=0)).floor()) == seen(plain)


def test_after_the_asked_cases_nothing_more_is_played() -> None:
    shop = Shop(invent(12, 2, 5))
    standing = Standing(shop, dispatch(shop.problem).planned)
    whole = replay_plainly(standing)

    for case in range(12):
        quick, plain = replay(standing, until=[case]), replay_plainly(standing, until=[case])
        assert seen(quick) == seen(plain)
        assert all(quick.end[at] == whole.end[at] for at in shop.own[case])


@pytest.mark.parametrize("number", range(3))
def test_a_search_goes_the_same_way(number: int) -> None:
    problem = invent(12, 3, number)
    problem = replace(problem, cases=tuple(replace(case, due=0) for case in problem.cases))
    shop = Shop(problem)
    tried, found = try_rules(shop), []
    for compiled in (True, False):
        engine.use(compiled)
        better: list[object] = []
        best = search(shop, tried, number=number, rounds=200, progress=better.append)
        found.append((better, best.worth, seen(best.floor)))
    engine.use(True)

    assert found[0] == found[1]
    assert found[0][0]  # so that both went some way


def test_arrays_that_are_too_small_are_made_larger(monkeypatch: pytest.MonkeyPatch) -> None:
    from cases.domain.planning.compiled import replaying

    standing = Standing(shop := Shop(small(4)), dispatch(small(4)).planned)
    rooms: list[int] = []
    honest = replaying.lab_of

    def cramped(table: object, given: object, planned: int, room: int) -> object:
        rooms.append(room)
        lab = honest(table, given, planned, room)  # type: ignore[arg-type]
        return lab._replace(journal=lab.journal[: 3 * room])

    monkeypatch.setattr(replaying, "lab_of", cramped)
    quick = Played(course_of(shop), course_of(shop).play(course_of(shop).stood(standing)))

    assert seen(quick.floor()) == seen(replay_plainly(standing))
    assert len(rooms) > 1


def test_a_difference_would_be_seen() -> None:
    shop = Shop(invent(20, 3, 1))
    standing = Standing(shop, dispatch(shop.problem).planned)
    times = draw(shop, usual, 1, 1)

    with pytest.raises(AssertionError):
        assert seen(replay(standing, times=times)) == seen(replay_plainly(standing))
