"""The baseline of the cure's benchmark is a number: ratios against none of it say nothing."""

from __future__ import annotations

import warnings
from math import exp

import pytest

from benchmarks.cure import DAY_S, plain_sum


def test_baseline_of_a_day_is_a_number() -> None:
    day = [(float(second), 23.0) for second in range(DAY_S + 1)]

    with warnings.catch_warnings():
        warnings.simplefilter("error")
        found = plain_sum(day)

    assert found == pytest.approx((DAY_S + 1) * exp(-23.0))
