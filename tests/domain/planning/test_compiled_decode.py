"""The compiled decoder gives the plan of the reference, and without it nothing is lacking."""

from __future__ import annotations

import sys
from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cases.domain.planning.compiled import engine
from cases.domain.planning.decode import decode
from cases.domain.planning.dispatch import dispatch
from cases.domain.planning.floor import Floor
from cases.domain.planning.keys import Fixed
from cases.domain.planning.lab import invent
from cases.domain.planning.problem import Problem
from cases.domain.planning.rules import Rule, portfolio
from cases.domain.planning.shop import Shop
from tests.domain.planning.events import changed, overrun, shaken
from tests.domain.planning.small import small

# Without `make test`, which compiles ahead, the first of them waits for the compiler.
pytestmark = [pytest.mark.usefixtures("compiled"), pytest.mark.timeout(900)]


def seen(floor: Floor) -> dict[str, object]:
    """Return all that a plan is made of."""
    names = ("start", "end", "free", "person", "load", "together", "signed", "loads", "in_bath")
    return {name: getattr(floor, name) for name in names}


def both(shop: Shop, rule: Rule) -> tuple[Floor, Floor]:
    """Return what the reference and the compiled decoder make of a rule."""
    engine.use(False)
    plain = decode(shop, rule.key, patience=rule.patience, moving=rule.moving)
    engine.use(True)
    return plain, decode(shop, rule.key, patience=rule.patience, moving=rule.moving)


def assert_same(problem: Problem) -> None:
    shop = Shop(problem)
    for rule in portfolio(shop):
        plain, quick = both(shop, rule)
        assert seen(quick) == seen(plain), rule.name


@settings(max_examples=25, deadline=None)
@given(
    cases=st.integers(1, 14),
    technicians=st.integers(1, 4),
    number=st.integers(0, 999),
    loose=st.booleans(),
)
def test_invented_labs_get_the_plan_of_the_reference(
    cases: int, technicians: int, number: int, loose: bool
) -> None:
    assert_same(invent(cases, technicians, number, loose=loose))


@settings(max_examples=40, deadline=None)
@given(cases=st.integers(1, 10), technicians=st.integers(2, 4), number=st.integers(0, 999))
def test_what_happens_in_a_lab_changes_both_alike(
    cases: int, technicians: int, number: int
) -> None:
    assert_same(shaken(invent(cases, technicians, number % 30), Random(number)))


@settings(max_examples=25, deadline=None)
@given(cases=st.integers(1, 6), number=st.integers(0, 999))
def test_students_batches_and_scarce_flasks_too(cases: int, number: int) -> None:
    assert_same(shaken(small(cases), Random(number)))


def test_a_crowded_lab_gets_the_plan_of_the_reference() -> None:
    assert_same(invent(60, 5, 3))


def test_a_stage_that_runs_over_is_taken_over_alike() -> None:
    problem = small(3)
    first = next(one for one in dispatch(problem).planned if one.stage == "case 0 wax")

    assert_same(overrun(problem, first, 45))


def test_a_second_pair_of_eyes_is_kept_alike() -> None:
    problem = changed(small(3), "case 0 pack", other_than="case 0 wax")
    problem = changed(problem, "case 1 pack", not_by="Ada")

    assert_same(problem)


def test_a_difference_would_be_seen() -> None:
    shop = Shop(invent(20, 3, 1))
    rule = portfolio(shop)[0]
    plain, _ = both(shop, rule)
    other = decode(shop, rule.key, patience=rule.patience + 60, moving=rule.moving)

    assert seen(other) != seen(plain)


def test_more_events_and_loads_than_rows_are_played_again(monkeypatch: pytest.MonkeyPatch) -> None:
    from cases.domain.planning.compiled import decoding

    shop, made = Shop(small(5)), []
    rule = portfolio(shop)[0]
    plain, _ = both(shop, rule)

    def narrow(numbers: object, room: int) -> object:
        made.append(room)
        return state_of(numbers, 6 if len(made) == 1 else room)  # type: ignore[arg-type]

    state_of = decoding.state_of
    monkeypatch.setattr(decoding, "state_of", narrow)
    again = decode(shop, rule.key, patience=rule.patience, moving=rule.moving)

    assert len(made) == 2
    assert seen(again) == seen(plain)


def test_a_preference_of_ones_own_is_played_in_plain_python() -> None:
    shop = Shop(invent(8, 2, 1))
    keys = [float(at % 7) for at in range(len(shop.stages))]

    own = decode(shop, lambda at, now: keys[at])

    assert seen(own) == seen(decode(shop, Fixed(keys)))


def test_without_numba_the_plan_is_the_same(monkeypatch: pytest.MonkeyPatch) -> None:
    shop = Shop(invent(8, 2, 1))
    rule = portfolio(shop)[0]
    quick = decode(shop, rule.key, patience=rule.patience, moving=rule.moving)

    # So an import fails: as in an environment that Numba is not part of.
    monkeypatch.setitem(sys.modules, "numba", None)
    monkeypatch.setattr(engine, "_State", type("Fresh", (engine._State,), {"loaded": False}))
    engine._installed.cache_clear()
    try:
        ready, why = engine.wait(), engine.why_not()
        plain = decode(shop, rule.key, patience=rule.patience, moving=rule.moving)
    finally:
        engine._installed.cache_clear()

    assert (ready, why) == (False, "Numba is not installed")
    assert seen(plain) == seen(quick)


def test_a_compiler_that_breaks_is_told_and_done_without(monkeypatch: pytest.MonkeyPatch) -> None:
    fresh = {"loaded": False, "thread": None, "fault": ""}
    monkeypatch.setattr(engine, "_State", type("Fresh", (engine._State,), fresh))
    monkeypatch.setattr(engine, "KERNELS", ("cases.domain.planning.compiled.nowhere",))

    assert not engine.wait()
    assert "nowhere" in engine.why_not()
    assert not engine.ready()
