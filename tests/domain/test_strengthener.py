"""The bar in the acrylic: two bounds about two axes, and what a squeeze does."""

from __future__ import annotations

from itertools import pairwise
from math import pi, sqrt
from typing import Any

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy.integrate import quad

from cases.domain.alloys import ALLOYS
from cases.domain.quantity import Band
from cases.domain.strengthener import (
    BarInPlate,
    Plate,
    compare,
    strengthen,
)
from cases.domain.wire import diameter_mm

STEEL = ALLOYS["stainless"]
PLATE = Plate(8.0, 2.5)
HALF_ROUND_12 = BarInPlate("half_round", diameter_mm(12), 0.75, 1.0)
ROUND = BarInPlate("round", 1.2, 0.6, -1.5)


def _wide_at(bar: BarInPlate, y: float) -> float:
    """How wide the bar is, y above the cast side of the acrylic."""
    radius, up = bar.size_mm / 2, y - bar.relief_mm
    if bar.section == "round":
        up -= radius
    elif up < 0:
        return 0.0
    return 2 * sqrt(max(radius**2 - up**2, 0.0))


def _integrated(plate: Plate, bar: BarInPlate, acrylic: float, metal: float) -> dict[str, float]:
    """E·I through the thickness by integrating E·y² in strips, bonded and not; moduli in MPa."""
    radius = bar.size_mm / 2
    height = 2 * radius if bar.section == "round" else radius
    breaks = [bar.relief_mm, bar.relief_mm + height / 2, bar.relief_mm + height]

    def total(of: Any, power: int, about: float) -> float:
        ends = [0.0, *breaks, plate.thickness_mm]
        return float(
            sum(
                quad(lambda y: of(y) * (y - about) ** power, a, b, limit=200)[0]
                for a, b in pairwise(ends)
            )
        )

    def acrylic_only(y: float) -> float:
        return acrylic * (plate.height_mm - _wide_at(bar, y))

    def bar_only(y: float) -> float:
        return metal * _wide_at(bar, y)

    def both(y: float) -> float:
        return acrylic_only(y) + bar_only(y)

    def rigidity(of: Any) -> tuple[float, float]:
        neutral = total(of, 1, 0) / total(of, 0, 0)
        return neutral, total(of, 2, neutral)

    both_at, bonded = rigidity(both)
    alone_at, alone = rigidity(acrylic_only)
    _bar_at, bar_alone = rigidity(bar_only)
    thick = plate.thickness_mm
    return {
        "bar": bar_alone,
        "not_bonded": alone + bar_alone,
        "bonded": bonded,
        "stress_bonded": acrylic * max(both_at, thick - both_at) / bonded,
        "stress_not_bonded": acrylic * max(alone_at, thick - alone_at) / (alone + bar_alone),
    }


@pytest.mark.parametrize("bar", [HALF_ROUND_12, ROUND])
def test_bending_through_the_thickness_agrees_with_numerical_integration(bar: BarInPlate) -> None:
    found = strengthen(
        plate=PLATE, bar=bar, alloy=STEEL, load_n=10, lever_mm=35, acrylic_gpa=Band(2.5, 2.5)
    )

    soft = _integrated(PLATE, bar, 2500, 160_000)
    stiff = _integrated(PLATE, bar, 2500, 200_000)
    for bound in ("bar", "not_bonded", "bonded"):
        band: Band = getattr(found.thickness, bound)
        assert band == Band(
            pytest.approx(soft[bound], rel=1e-6), pytest.approx(stiff[bound], rel=1e-6)
        )
    # 350 N·mm; the stiffer the bar the less the acrylic bears.
    assert found.squeeze.bonded == Band(
        pytest.approx(350 * stiff["stress_bonded"], rel=1e-6),
        pytest.approx(350 * soft["stress_bonded"], rel=1e-6),
    )
    assert found.squeeze.not_bonded == Band(
        pytest.approx(350 * stiff["stress_not_bonded"], rel=1e-6),
        pytest.approx(350 * soft["stress_not_bonded"], rel=1e-6),
    )


def test_bending_up_and_down_by_hand() -> None:
    """A round bar of 1.2 mm, 1.5 mm below the middle of a plate 8 mm tall and 2.5 mm thick."""
    found = strengthen(plate=PLATE, bar=ROUND, alloy=STEEL, acrylic_gpa=Band(2.5, 2.5)).height
    area, second = pi * 0.36, pi * 0.6**4 / 4
    solid, solid_second = 20.0, 2.5 * 8**3 / 12

    hollow_at = (solid * 4 - area * 2.5) / (solid - area)
    hollow = (
        solid_second
        + solid * (4 - hollow_at) ** 2
        - second
        - area * (2.5 - hollow_at) ** 2
    )  # fmt: skip
    n = 200 / 2.5 - 1
    both_at = (solid * 4 + n * area * 2.5) / (solid + n * area)
    both = (
        solid_second
        + solid * (4 - both_at) ** 2
        + n * (second + area * (2.5 - both_at) ** 2)
    )  # fmt: skip

    assert found.acrylic.high == pytest.approx(2500 * solid_second)
    assert found.bar.high == pytest.approx(200_000 * second)
    assert found.not_bonded.high == pytest.approx(2500 * hollow + 200_000 * second)
    assert found.bonded.high == pytest.approx(2500 * both)


def test_rigidities_of_bar_and_strip_known_apart() -> None:
    """12-gauge half-round steel at 190 GPa has 23.1·10³ N·mm², a strip 6 × 2 mm at 2.5 10.0·10³."""
    bar = BarInPlate("half_round", diameter_mm(12), 0.3)
    found = strengthen(plate=Plate(6, 2), bar=bar, alloy=STEEL, acrylic_gpa=Band(2.5, 2.5))

    assert found.thickness.bar.high * 190 / 200 == pytest.approx(23.1e3, rel=2e-3)
    assert found.thickness.acrylic.low == pytest.approx(10.0e3)


def test_the_plain_plate_bears_six_times_moment_over_width_and_thickness_squared() -> None:
    found = strengthen(plate=PLATE, bar=ROUND, alloy=STEEL, load_n=20, lever_mm=40)

    assert found.squeeze.plain == Band(96.0, 96.0)
    assert found.squeeze.bonded.high < 96
    assert found.squeeze.not_bonded.high < 96
    assert "straight beam" in found.note


plates = st.builds(Plate, st.floats(6, 14), st.floats(2.0, 4.0))
bars = st.builds(
    BarInPlate,
    st.sampled_from(["round", "half_round"]),
    st.floats(1.0, 2.6),
    st.floats(0.3, 1.0),
    st.floats(-3, 3),
)


def _fits(plate: Plate, bar: BarInPlate) -> bool:
    height = bar.size_mm if bar.section == "round" else bar.size_mm / 2
    inside = bar.relief_mm + height <= plate.thickness_mm
    return inside and abs(bar.above_middle_mm) + bar.size_mm / 2 <= plate.height_mm / 2


@given(plates, bars)
def test_bonded_is_never_less_than_not_bonded(plate: Plate, bar: BarInPlate) -> None:
    assume(_fits(plate, bar))

    found = strengthen(plate=plate, bar=bar, alloy=STEEL)

    for axis in (found.thickness, found.height):
        for end in ("low", "high"):
            bonded, not_bonded = getattr(axis.bonded, end), getattr(axis.not_bonded, end)
            assert bonded >= not_bonded * (1 - 1e-9)
            assert not_bonded > getattr(axis.bar, end)


@given(plates, bars)
def test_through_the_thickness_a_steel_bar_always_stiffens(plate: Plate, bar: BarInPlate) -> None:
    assume(_fits(plate, bar))
    # Near the middle of the thickness, as a bar with acrylic all round lies.
    height = bar.size_mm if bar.section == "round" else bar.size_mm / 2
    assume(abs(bar.relief_mm + height / 2 - plate.thickness_mm / 2) <= 0.5)

    found = strengthen(plate=plate, bar=bar, alloy=STEEL).thickness

    assert found.not_bonded.low > found.acrylic.low
    assert found.not_bonded.high > found.acrylic.high


def test_a_thin_bar_that_does_not_stick_far_from_the_middle_costs_stiffness() -> None:
    edge = BarInPlate("round", 1.0, 0.7, 5.0)

    found = strengthen(plate=Plate(12, 2.5), bar=edge, alloy=STEEL).height

    assert found.not_bonded.low < found.acrylic.low
    assert found.bonded.low > found.acrylic.low


@pytest.mark.parametrize(
    ("plate", "bar", "load", "sentence"),
    [
        (Plate(8, 2.0), BarInPlate("round", 1.5, 0.6), 10, "2.10 mm from the cast"),
        (Plate(8, 2.5), BarInPlate("round", 1.2, 0.6, 3.5), 10, "out of the edge"),
        (Plate(0, 2.5), ROUND, 10, "The height of the acrylic has to be"),
        (Plate(8, -1), ROUND, 10, "The thickness of the acrylic has to be"),
        (PLATE, BarInPlate("round", 1.2, -0.1), 10, "The relief of the bar has to be"),
        (PLATE, BarInPlate("round", 0, 0.5), 10, "The diameter has to be"),
        (PLATE, ROUND, 0, "The load has to be"),
    ],
)
def test_strengthen_refuses_nonsense(
    plate: Plate, bar: BarInPlate, load: float, sentence: str
) -> None:
    with pytest.raises(ValueError, match=sentence):
        strengthen(plate=plate, bar=bar, alloy=STEEL, load_n=load)


@pytest.mark.parametrize(
    ("stress", "words"),
    [
        (Band(64, 65), "At most 65 MPa: within the 65 MPa of the standard."),
        (Band(64, 66), "64 to 66 MPa: may pass the 65 MPa of the standard."),
        (Band(66, 70), "At least 66 MPa: above the 65 MPa of the standard."),
    ],
)
def test_compare_holds_a_stress_against_the_standard(stress: Band, words: str) -> None:
    assert compare(stress) == words
