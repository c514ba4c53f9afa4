"""What a piece asks for: masses add up, volumes of plates that can be reckoned by hand."""

from __future__ import annotations

from dataclasses import replace
from math import pi

import pytest

from cases.domain.archform import BUCCOLINGUAL_MM, MESIODISTAL_MM
from cases.domain.cure.bowl import (
    CURED_G_ML,
    LIQUID_G_ML,
    RIDGE_MM,
    area_mm2,
    bowl,
    volume_ml,
)
from cases.domain.design import Design

LOWER = Design(
    "lower", missing=frozenset({36}), replaced=frozenset({36}), plate_height_mm=10.0,
    plate_thickness_mm=2.5,
)  # fmt: skip
UPPER = Design(
    "upper", missing=frozenset({11, 21}), replaced=frozenset({11, 21}), plate_thickness_mm=2.5
)


def test_powder_and_liquid_weigh_what_the_piece_weighs() -> None:
    found = bowl(10.0, 2.3, surplus=1.0)

    assert found.powder_g + found.liquid_ml * LIQUID_G_ML == pytest.approx(10.0 * CURED_G_ML)
    assert found.powder_g / found.liquid_ml == pytest.approx(2.3)


def test_densities_are_those_of_the_handbook() -> None:
    """MMA 0.943 at 20 °C and PMMA 1.18-1.19: handbook values, from memory."""
    assert pytest.approx(0.943, abs=0.001) == LIQUID_G_ML
    assert pytest.approx(1.188, abs=0.005) == CURED_G_ML


def test_a_drier_mix_takes_less_liquid() -> None:
    assert bowl(10.0, 2.5).liquid_ml < bowl(10.0, 2.0).liquid_ml


@pytest.mark.parametrize(("volume", "ratio"), [(0, 2.3), (5, 0), (-1, 2.3), (float("nan"), 2.3)])
def test_what_is_no_amount_is_refused(volume: float, ratio: float) -> None:
    with pytest.raises(ValueError, match=r"should|has to"):
        bowl(volume, ratio)


def test_a_lower_plate_is_length_by_height_by_thickness_and_the_ridge_under_its_tooth() -> None:
    tooth = MESIODISTAL_MM["lower"][5] * BUCCOLINGUAL_MM["lower"][5] * RIDGE_MM
    thin, thick = volume_ml(LOWER), volume_ml(replace(LOWER, plate_thickness_mm=5.0))

    assert thin is not None
    assert thick is not None
    assert 2 * thin - thick == pytest.approx(tooth / 1000)
    assert 0.5 < thin < 3


def test_an_upper_plate_needs_no_height() -> None:
    assert volume_ml(UPPER) is not None
    assert volume_ml(UPPER) == volume_ml(replace(UPPER, plate_height_mm=12.0))


@pytest.mark.parametrize(
    "design",
    [
        replace(LOWER, plate_thickness_mm=None),
        replace(LOWER, plate_height_mm=None),
        replace(LOWER, provisional=True),
        replace(LOWER, replaced=frozenset()),
        replace(UPPER, plate_thickness_mm=None),
    ],
)
def test_what_the_design_does_not_say_is_not_reckoned(design: Design) -> None:
    assert volume_ml(design) is None


def test_more_teeth_never_take_less() -> None:
    more = frozenset({35, 36, 37})

    assert volume_ml(replace(LOWER, missing=more, replaced=more)) > volume_ml(LOWER)  # type: ignore[operator]


def test_area_of_a_rectangle_and_of_a_circle() -> None:
    from math import cos, sin

    assert area_mm2(((0, 0), (4, 0), (4, 3), (0, 3))) == 12
    ring = tuple((5 * cos(n * pi / 500), 5 * sin(n * pi / 500)) for n in range(1000))
    assert area_mm2(ring) == pytest.approx(25 * pi, rel=1e-4)
