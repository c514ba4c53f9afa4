"""Sections against closed forms written another way, and against numerical integration."""

from __future__ import annotations

from math import pi, sqrt

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

from cases.domain.crosssection import section_properties


def _half_circle(power: int, radius: float, about: float = 0.0) -> float:
    """∫ (y − about)^power over a half circle above its flat, in strips along the flat."""
    found, _error = quad(
        lambda y: (y - about) ** power * 2 * sqrt(max(radius**2 - y**2, 0.0)), 0, radius
    )
    return float(found)


def _half_circle_across(radius: float) -> float:
    """∫ x² over a half circle, in strips square to the flat."""
    found, _error = quad(lambda x: x**2 * sqrt(max(radius**2 - x**2, 0.0)), -radius, radius)
    return float(found)


@pytest.mark.parametrize("diameter", [0.8, 1.0, 2.0525, 4.1154])
def test_half_round_agrees_with_numerical_integration(diameter: float) -> None:
    radius = diameter / 2
    shape = section_properties("half_round", diameter)
    area = _half_circle(0, radius)
    centre = _half_circle(1, radius) / area

    assert shape.area_mm2 == pytest.approx(area, rel=1e-7)
    assert shape.centre_mm == pytest.approx(centre, rel=1e-7)
    assert shape.weak_mm4 == pytest.approx(_half_circle(2, radius, centre), rel=1e-7)
    assert shape.strong_mm4 == pytest.approx(_half_circle_across(radius), rel=1e-7)


@pytest.mark.parametrize("diameter", [0.9, 1.5])
def test_round_agrees_with_numerical_integration(diameter: float) -> None:
    radius = diameter / 2
    shape = section_properties("round", diameter)

    assert shape.area_mm2 == pytest.approx(2 * _half_circle(0, radius), rel=1e-7)
    assert shape.weak_mm4 == pytest.approx(2 * _half_circle(2, radius), rel=1e-7)
    assert shape.strong_mm4 == shape.weak_mm4


def test_half_round_of_radius_one_has_the_figures_of_the_handbooks() -> None:
    shape = section_properties("half_round", 2.0)

    assert shape.centre_mm == pytest.approx(0.42441, abs=5e-6)
    assert shape.weak_mm4 == pytest.approx(0.109757, abs=5e-7)
    assert shape.strong_mm4 == pytest.approx(0.392699, abs=5e-7)
    assert shape.weak_modulus_mm3 == pytest.approx(0.190687, abs=5e-7)
    assert shape.strong_modulus_mm3 == pytest.approx(pi / 8)
    assert shape.weak_mm4 / section_properties("round", 2.0).weak_mm4 == pytest.approx(
        0.13975, abs=5e-6
    )


def test_round_has_the_section_modulus_of_the_handbooks() -> None:
    shape = section_properties("round", 1.2)

    assert shape.weak_modulus_mm3 == pytest.approx(pi * 1.2**3 / 32)
    assert shape.strong_modulus_mm3 == pytest.approx(pi * 1.2**3 / 32)


@given(st.sampled_from(["round", "half_round"]), st.floats(0.1, 10), st.floats(1.01, 5))
def test_second_moments_grow_with_the_fourth_power(
    section: str, diameter: float, factor: float
) -> None:
    one, other = (section_properties(section, d) for d in (diameter, diameter * factor))

    assert other.weak_mm4 / one.weak_mm4 == pytest.approx(factor**4)
    assert other.strong_mm4 / one.strong_mm4 == pytest.approx(factor**4)


@pytest.mark.parametrize(
    ("section", "diameter", "sentence"),
    [
        ("square", 1.0, "no section of a wire"),
        ("round", 0.0, "The diameter has to be a number above zero"),
        ("round", -1.0, "above zero"),
        ("round", float("nan"), "above zero"),
        ("half_round", float("inf"), "above zero"),
        ("round", True, "above zero"),
        ("round", "1.0", "above zero"),
    ],
)
def test_section_refuses_nonsense(section: str, diameter: float, sentence: str) -> None:
    with pytest.raises(ValueError, match=sentence):
        section_properties(section, diameter)
