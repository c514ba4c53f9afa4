"""The lab's own record takes the place of the placeholder as it grows."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cases.domain.design import Clasp, Design, WorkOrder
from cases.domain.route import default_template, grow
from cases.domain.standard_minutes import Taken, placeholder, ratios, standard_of


def test_with_no_record_the_formula_stands() -> None:
    assert standard_of({})("wax", 30.0) == placeholder("wax", 30.0) == 30.0


def test_as_many_cases_as_the_placeholder_is_worth_meet_it_half_way() -> None:
    own = ratios([Taken("wax", 30, 45)] * 8)
    assert own == {"wax": (1.5, 8)}
    assert standard_of(own)("wax", 30.0) == pytest.approx(30 * 1.25)
    assert standard_of(own)("clasps", 24.0) == 24.0


def test_a_forgotten_clock_moves_nothing() -> None:
    own = ratios([Taken("wax", 30, 33)] * 9 + [Taken("wax", 30, 900), Taken("wax", 0, 12)])
    assert own == {"wax": (1.1, 9)}


def test_the_worth_of_the_placeholder_is_positive() -> None:
    with pytest.raises(ValueError, match="worth more than nothing"):
        standard_of({}, worth=0)


@given(st.floats(0.2, 5.0), st.integers(0, 500), st.floats(1, 200))
def test_the_standard_lies_between_the_formula_and_the_record(
    ratio: float, cases: int, formula: float
) -> None:
    said = standard_of({"wax": (ratio, cases)})("wax", formula)
    low, high = sorted((formula, formula * ratio))
    assert low - 1e-9 <= said <= high + 1e-9


@given(st.floats(0.2, 5.0), st.integers(0, 200))
def test_more_cases_bring_it_nearer_to_the_record(ratio: float, cases: int) -> None:
    nearer = abs(standard_of({"wax": (ratio, cases + 1)})("wax", 10.0) - 10 * ratio)
    assert nearer <= abs(standard_of({"wax": (ratio, cases)})("wax", 10.0) - 10 * ratio) + 1e-9


def test_a_route_is_grown_by_the_standard_of_the_lab() -> None:
    design = Design(
        arch="lower", missing=frozenset({36}), replaced=frozenset({36}), clasps=(Clasp(35),)
    )
    usual = grow(default_template(), WorkOrder(), design)
    own = grow(default_template(), WorkOrder(), design, standard=standard_of({"clasps": (2.0, 8)}))
    assert own.stage("clasps").minutes == pytest.approx(usual.stage("clasps").minutes * 1.5)
    assert own.stage("wax").minutes == usual.stage("wax").minutes
