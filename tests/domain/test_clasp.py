"""The clasp arm as a beam: closed forms against vectors and against a beam solved numerically."""

from __future__ import annotations

from math import pi

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import solve_bvp
from scipy.sparse import diags, lil_matrix
from scipy.sparse.linalg import spsolve

from cases.domain.clasp import (
    bending_stress_mpa,
    shortest_arm_mm,
    taper,
    tip_force_n,
    usual_wire,
)
from cases.domain.wire import diameter_mm

# Gauge, free arm, undercut in mm; force and stress for 190 GPa.
BY_GAUGE = [
    (18, 8, 0.254, 15.24, 1158), (18, 8, 0.508, 30.49, 2316),
    (18, 10, 0.254, 7.80, 741), (18, 10, 0.508, 15.61, 1482),
    (18, 12, 0.254, 4.52, 515), (18, 12, 0.508, 9.03, 1029),
    (19, 8, 0.254, 9.59, 1031), (19, 8, 0.508, 19.17, 2062),
    (19, 10, 0.254, 4.91, 660), (19, 10, 0.508, 9.82, 1320),
    (20, 8, 0.254, 6.03, 918), (20, 8, 0.508, 12.06, 1836),
    (20, 10, 0.254, 3.09, 588), (20, 10, 0.508, 6.17, 1175),
]  # fmt: skip
# The same by diameter, for the wires sold in tenths of a millimetre.
BY_MM = [
    (0.8, 9, 0.25, 3.9, 704), (0.8, 9, 0.5, 7.9, 1407),
    (0.8, 10, 0.25, 2.9, 570), (0.8, 10, 0.5, 5.7, 1140),
    (0.8, 12, 0.25, 1.7, 396), (0.8, 12, 0.5, 3.3, 792),
    (0.9, 9, 0.25, 6.3, 792), (0.9, 9, 0.5, 12.6, 1583),
    (0.9, 10, 0.25, 4.6, 641), (0.9, 10, 0.5, 9.2, 1282),
    (0.9, 12, 0.25, 2.7, 445), (0.9, 12, 0.5, 5.3, 891),
    (1.0, 9, 0.25, 9.6, 880), (1.0, 9, 0.5, 19.2, 1759),
    (1.0, 10, 0.25, 7.0, 713), (1.0, 10, 0.5, 14.0, 1425),
    (1.0, 12, 0.25, 4.0, 495), (1.0, 12, 0.5, 8.1, 990),
]  # fmt: skip
SHORTEST = [
    (18, 0.254, 7.03), (18, 0.508, 9.94), (18, 0.762, 12.17),
    (19, 0.254, 6.63), (19, 0.508, 9.38), (19, 0.762, 11.49),
    (20, 0.254, 6.26), (20, 0.508, 8.85), (20, 0.762, 10.84),
]  # fmt: skip

ARM = {"diameter_mm": 1.0, "length_mm": 10.0, "undercut_mm": 0.5, "modulus_gpa": 200.0}


def test_the_worked_arm_presses_with_fifteen_newtons_and_bears_1500_megapascal() -> None:
    assert tip_force_n(**ARM) == pytest.approx(14.726, abs=5e-4)
    assert bending_stress_mpa(**ARM) == pytest.approx(1500)


@pytest.mark.parametrize(("gauge", "arm", "undercut", "force", "stress"), BY_GAUGE)
def test_force_and_stress_by_gauge(
    gauge: int, arm: float, undercut: float, force: float, stress: float
) -> None:
    given_arm = {
        "diameter_mm": diameter_mm(gauge),
        "length_mm": arm,
        "undercut_mm": undercut,
        "modulus_gpa": 190.0,
    }

    assert tip_force_n(**given_arm) == pytest.approx(force, abs=0.0051)
    assert bending_stress_mpa(**given_arm) == pytest.approx(stress, abs=0.51)


@pytest.mark.parametrize(("diameter", "arm", "undercut", "force", "stress"), BY_MM)
def test_force_and_stress_by_millimetre(
    diameter: float, arm: float, undercut: float, force: float, stress: float
) -> None:
    given_arm = {
        "diameter_mm": diameter,
        "length_mm": arm,
        "undercut_mm": undercut,
        "modulus_gpa": 190.0,
    }

    assert tip_force_n(**given_arm) == pytest.approx(force, abs=0.051)
    assert bending_stress_mpa(**given_arm) == pytest.approx(stress, abs=0.51)


@pytest.mark.parametrize(("gauge", "undercut", "shortest"), SHORTEST)
def test_shortest_arm_by_gauge(gauge: int, undercut: float, shortest: float) -> None:
    found = shortest_arm_mm(
        diameter_mm=diameter_mm(gauge), undercut_mm=undercut, modulus_gpa=190, yield_mpa=1500
    )

    assert found == pytest.approx(shortest, abs=0.0051)


@pytest.mark.parametrize(("thick", "thin", "times"), [(18, 20, 2.528), (18, 19, 1.590)])
def test_a_thinner_gauge_is_as_many_times_more_flexible(
    thick: int, thin: int, times: float
) -> None:
    forces = [tip_force_n(**{**ARM, "diameter_mm": diameter_mm(gauge)}) for gauge in (thick, thin)]

    assert forces[0] / forces[1] == pytest.approx(times, abs=6e-4)


def _second_moment(x: np.ndarray, root: float, tip: float, length: float) -> np.ndarray:
    return pi / 64 * (root + (tip - root) * x / length) ** 4


def _solved_arm(
    root: float, tip: float, length: float, undercut: float, modulus_gpa: float
) -> tuple[float, np.ndarray, np.ndarray]:
    """Solve the beam as a boundary value problem: tip force, places, stress at each place."""
    modulus = modulus_gpa * 1000

    def slopes(x: np.ndarray, y: np.ndarray) -> np.ndarray:
        _w, turn, moment, shear = y
        bent = moment / (modulus * _second_moment(x, root, tip, length))
        return np.vstack([turn, bent, shear, np.zeros_like(x)])

    def ends(root_y: np.ndarray, tip_y: np.ndarray) -> np.ndarray:
        return np.array([root_y[0], root_y[1], tip_y[0] - undercut, tip_y[2]])

    places = np.linspace(0, length, 401)
    solved = solve_bvp(slopes, ends, places, np.zeros((4, places.size)), tol=1e-9)
    assert solved.success
    moment, force = solved.sol(places)[2], -float(solved.y[3, -1])
    edge = (root + (tip - root) * places / length) / 2
    stress = np.abs(moment) * edge / _second_moment(places, root, tip, length)
    return force, places / length, stress


@pytest.mark.parametrize(
    ("diameter", "length", "undercut", "modulus"),
    [(1.0, 10, 0.5, 200), (0.8, 9, 0.25, 190), (1.2, 14, 0.75, 110)],
)
def test_cantilever_agrees_with_a_beam_solved_numerically(
    diameter: float, length: float, undercut: float, modulus: float
) -> None:
    force, _places, stress = _solved_arm(diameter, diameter, length, undercut, modulus)
    arm = {
        "diameter_mm": diameter,
        "length_mm": length,
        "undercut_mm": undercut,
        "modulus_gpa": modulus,
    }

    assert tip_force_n(**arm) == pytest.approx(force, rel=1e-6)
    assert bending_stress_mpa(**arm) == pytest.approx(stress.max(), rel=1e-6)


def test_cantilever_agrees_with_finite_differences() -> None:
    count, length, modulus = 2000, 10.0, 200_000.0
    step = length / count
    # w'''' = 0 on the inner points; w = w' = 0 at the acrylic, w'' = 0 and −EI·w''' = F at the
    # tip, each by central differences that reach two points beyond the ends.
    size = count + 5
    rows = lil_matrix(
        diags([1.0, -4.0, 6.0, -4.0, 1.0], [-2, -1, 0, 1, 2], shape=(size, size)), dtype=float
    )
    for row in (0, 1, size - 2, size - 1):
        rows[row, :] = 0
    rows[0, 2] = 1
    rows[1, 1], rows[1, 3] = -1, 1
    last = count + 2
    rows[size - 2, last - 1], rows[size - 2, last], rows[size - 2, last + 1] = 1, -2, 1
    for offset, weight in ((-2, -1), (-1, 2), (1, -2), (2, 1)):
        rows[size - 1, last + offset] = weight
    pushes = np.zeros(size)
    pushes[-1] = -2 * step**3 / (modulus * pi / 64)  # a force of 1 N on a wire of 1 mm

    sunk = spsolve(rows.tocsr(), pushes)[last]

    assert tip_force_n(**ARM) == pytest.approx(0.5 / sunk, rel=1e-4)


@pytest.mark.parametrize("share", [0.4, 0.5, 0.6, 0.8, 1.0])
def test_taper_agrees_with_a_beam_solved_numerically(share: float) -> None:
    force, places, stress = _solved_arm(1.0, share, 10, 0.5, 200)
    found = taper(share)

    assert tip_force_n(**ARM) / found.flexibility == pytest.approx(force, rel=1e-6)
    assert found.peak_at == pytest.approx(places[stress.argmax()], abs=1 / 400)
    assert found.peak == pytest.approx(stress.max() / stress[0], rel=1e-4)


def test_taper_to_half_is_exactly_twice_as_flexible_and_stressed_most_half_way() -> None:
    found = taper(0.5)

    assert found.flexibility == 2
    assert found.peak_at == 0.5
    assert found.peak == pytest.approx(1.185, abs=5e-4)


@pytest.mark.parametrize("share", [0, -0.5, 1.01, float("nan")])
def test_taper_refuses_what_is_no_taper(share: float) -> None:
    with pytest.raises(ValueError, match=r"\.$"):
        taper(share)


arms = st.fixed_dictionaries(
    {
        "diameter_mm": st.floats(0.3, 4),
        "length_mm": st.floats(3, 30),
        "undercut_mm": st.floats(0.05, 1.5),
        "modulus_gpa": st.floats(50, 250),
        "section": st.sampled_from(["round", "half_round"]),
    }
)


@given(arms, st.floats(1.001, 4))
def test_a_longer_arm_presses_less(arm: dict[str, object], factor: float) -> None:
    longer = {**arm, "length_mm": arm["length_mm"] * factor}  # type: ignore[operator]

    assert tip_force_n(**longer) < tip_force_n(**arm)  # type: ignore[arg-type]
    assert tip_force_n(**longer) * factor**3 == pytest.approx(tip_force_n(**arm))  # type: ignore[arg-type]
    assert bending_stress_mpa(**longer) < bending_stress_mpa(**arm)  # type: ignore[arg-type]


@given(arms, st.floats(0, 4))
def test_force_and_stress_are_in_proportion_to_the_undercut(
    arm: dict[str, object], factor: float
) -> None:
    other = {**arm, "undercut_mm": arm["undercut_mm"] * factor}  # type: ignore[operator]

    assert tip_force_n(**other) == pytest.approx(factor * tip_force_n(**arm))  # type: ignore[arg-type]
    assert bending_stress_mpa(**other) == pytest.approx(factor * bending_stress_mpa(**arm))  # type: ignore[arg-type]


@given(arms, st.floats(200, 2500))
def test_the_shortest_arm_bears_just_its_yield(arm: dict[str, object], strength: float) -> None:
    rest = {key: value for key, value in arm.items() if key != "length_mm"}
    shortest = shortest_arm_mm(**rest, yield_mpa=strength)  # type: ignore[arg-type]

    assert bending_stress_mpa(**{**arm, "length_mm": shortest}) == pytest.approx(strength)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("wrong", "sentence"),
    [
        ({"diameter_mm": 0}, "The diameter has to be a number above zero, not 0."),
        ({"length_mm": -10}, "The free arm has to be a number above zero, not -10."),
        ({"length_mm": float("inf")}, "The free arm has to be"),
        ({"undercut_mm": -0.25}, "The undercut has to be a number, zero or more, not -0.25."),
        ({"undercut_mm": float("nan")}, "The undercut has to be"),
        ({"modulus_gpa": 0}, "The modulus of elasticity has to be a number above zero, not 0."),
        ({"modulus_gpa": 200_000}, "write it in GPa, like 190"),
        ({"modulus_gpa": "190"}, "The modulus of elasticity has to be"),
        ({"section": "oval"}, "oval is no section of a wire"),
    ],
)
def test_force_and_stress_refuse_nonsense(wrong: dict[str, object], sentence: str) -> None:
    for reckon in (tip_force_n, bending_stress_mpa):
        with pytest.raises(ValueError, match=sentence):
            reckon(**{**ARM, **wrong})  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("wrong", "sentence"),
    [
        ({"yield_mpa": 0}, "The yield strength has to be a number above zero, not 0."),
        ({"diameter_mm": -1}, "The diameter has to be"),
        ({"undercut_mm": -1}, "The undercut has to be"),
    ],
)
def test_shortest_arm_refuses_nonsense(wrong: dict[str, float], sentence: str) -> None:
    wire = {"diameter_mm": 1.0, "undercut_mm": 0.5, "modulus_gpa": 200.0, "yield_mpa": 1500.0}

    with pytest.raises(ValueError, match=sentence):
        shortest_arm_mm(**{**wire, **wrong})


@pytest.mark.parametrize(
    ("tooth", "arm", "usual"),
    [
        (33, None, (0.8, 0.25, 9.0)), (34, None, (0.9, 0.25, 9.5)), (46, None, (1.0, 0.50, 13.0)),
        (46, 12, (1.0, 0.50, 12.0)), (46, 11.9, (1.0, 0.25, 11.9)), (34, 14, (0.9, 0.25, 14.0)),
        (75, None, (1.0, 0.50, 13.0)), (32, None, (0.8, 0.25, 9.0)),
    ],
)  # fmt: skip
def test_usual_wire_follows_the_kind_of_tooth_and_a_short_arm(
    tooth: int, arm: float | None, usual: tuple[float, float, float]
) -> None:
    found = usual_wire(tooth, arm)

    assert (found.wire_mm, found.undercut_mm, found.arm_mm) == usual
