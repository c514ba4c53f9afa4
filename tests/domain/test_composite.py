"""Beams of two materials against a worked example and against numerical integration."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

from cases.domain.composite import Part, stuck


def test_transformed_section_of_a_textbook() -> None:
    """Wood 4 × 6 in over a steel plate 4 × 0.5 in, 1500 and 30 000 ksi, M = 60 k-in.

    Source: Gere & Goodno, Mechanics of Materials, worked example of the transformed-section method.
    Read on a page that reprints it: h₁ = 5.031 in, h₂ = 1.469 in. From memory: the stresses.
    """
    wood = Part(1500, 4 * 6, 3.5, 4 * 6**3 / 12)
    steel = Part(30_000, 4 * 0.5, 0.25, 4 * 0.5**3 / 12)

    found = stuck((wood, steel))

    h2 = found.neutral_mm
    assert h2 == pytest.approx(1.469, abs=5e-4)
    assert 6.5 - h2 == pytest.approx(5.031, abs=5e-4)
    curvature = 60 / found.rigidity
    psi = [
        1000 * modulus * curvature * distance
        for modulus, distance in (
            (1500, 6.5 - h2), (1500, h2 - 0.5), (30_000, h2), (30_000, h2 - 0.5),
        )
    ]  # fmt: skip
    assert psi == pytest.approx([1310, 251, 7620, 5030], abs=6)


@given(
    st.floats(2, 12), st.floats(1, 5), st.floats(1, 12), st.floats(0.1, 2),
    st.floats(1000, 5000), st.floats(50_000, 250_000),
)  # fmt: skip
def test_two_rectangles_agree_with_numerical_integration(
    wide: float, high: float, plate_wide: float, plate_high: float, soft: float, stiff: float
) -> None:
    def weight(y: float) -> float:
        return stiff * plate_wide if y < plate_high else soft * wide

    def moment(power: int, about: float) -> float:
        pieces = ((0.0, plate_high), (plate_high, plate_high + high))
        return float(
            sum(
                quad(lambda y: weight(y) * (y - about) ** power, a + 1e-12, b - 1e-12)[0]
                for a, b in pieces
            )
        )

    lower = Part(stiff, plate_wide * plate_high, plate_high / 2, plate_wide * plate_high**3 / 12)
    upper = Part(soft, wide * high, plate_high + high / 2, wide * high**3 / 12)
    found = stuck((lower, upper))
    neutral = moment(1, 0) / moment(0, 0)

    assert found.neutral_mm == pytest.approx(neutral, rel=1e-6)
    assert found.rigidity == pytest.approx(moment(2, neutral), rel=1e-6)
