"""The pull to take a clasp off: the profile against a numerical search, the wedge by formula."""

from __future__ import annotations

from math import radians, tan

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import minimize_scalar

from cases.domain.withdrawal import tip_depth_mm, withdrawal


@pytest.mark.parametrize(
    ("slope", "profile", "wedge"), [(15, 0.264, 0.494), (20, 0.300, 0.608), (25, 0.342, 0.735)]
)
def test_shares_of_both_models(slope: float, profile: float, wedge: float) -> None:
    found = withdrawal(slope_deg=slope, friction=0.2)

    assert found.profile == pytest.approx(profile, abs=5e-4)
    assert found.wedge == pytest.approx(wedge, abs=5e-4)


def test_the_wedge_turns_the_tip_force_into_a_pull() -> None:
    wedge = withdrawal(slope_deg=20, friction=0.2).wedge

    assert wedge == pytest.approx(0.60825, abs=5e-6)
    assert 5 * wedge == pytest.approx(3.04, abs=0.005)
    assert 9.82 * wedge == pytest.approx(5.97, abs=0.005)


@given(st.floats(2, 60), st.floats(0, 0.5))
def test_profile_is_the_greatest_pull_on_the_way_off(slope: float, friction: float) -> None:
    t = tan(radians(slope))

    def pull(x: float) -> float:
        return (1 - x**2) * (friction + x * t) / (1 - friction * x * t)

    found = withdrawal(slope_deg=slope, friction=friction)
    searched = minimize_scalar(
        lambda x: -pull(x), bounds=(0, 1), method="bounded", options={"xatol": 1e-9}
    )

    assert found.profile == pytest.approx(max(-searched.fun, pull(0)), rel=1e-7)
    assert found.profile < found.wedge


@pytest.mark.parametrize(
    ("undercut", "slope", "depth"),
    [
        (0.25, 15, 1.9), (0.25, 20, 1.4), (0.25, 25, 1.1),
        (0.50, 15, 3.7), (0.50, 20, 2.7), (0.50, 25, 2.1),
        (0.0, 20, 0.0),
    ],
)  # fmt: skip
def test_tip_lies_below_the_line(undercut: float, slope: float, depth: float) -> None:
    assert tip_depth_mm(undercut, slope) == pytest.approx(depth, abs=0.051)


@pytest.mark.parametrize(
    ("slope", "friction", "sentence"),
    [
        (0, 0.2, "The slope of the tooth has to be"),
        (90, 0.2, "no undercut"),
        (120, 0.2, "no undercut"),
        (20, -0.1, "The friction has to be"),
        (60, 0.6, "would lock and not come off"),
    ],
)
def test_withdrawal_refuses_nonsense(slope: float, friction: float, sentence: str) -> None:
    with pytest.raises(ValueError, match=sentence):
        withdrawal(slope_deg=slope, friction=friction)
