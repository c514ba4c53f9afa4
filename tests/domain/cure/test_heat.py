"""The heat estimate: closed forms, another solver, energy, refinement, order, range."""

from __future__ import annotations

import subprocess
import sys
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from scipy.optimize import brentq

from cases.domain.cure.dose import KINETICS
from cases.domain.cure.heat import OutsideRange, simulate
from cases.domain.cure.heat_constants import CONSTANTS, value
from cases.domain.cure.heat_grid import Layer, Slab, flask, modes
from cases.domain.cure.heat_kinetics import Dough, mixed
from cases.domain.cure.heat_march import march
from tests.domain.cure.lines import solve

LONG = [(0, 23), (30, 74), (510, 74)]
SHORT = [(0, 23), (30, 74), (120, 74), (140, 100), (170, 100)]
FAST = [(0, 23), (30, 100), (90, 100)]
STRAIGHT = [(0, 100), (60, 100)]
each_program = pytest.mark.parametrize("program", [LONG, SHORT, FAST, STRAIGHT])


def _ramp(minutes: float) -> list[tuple[float, float]]:
    return [(0, 23), (minutes, 74), (minutes + 480, 74)]


@pytest.mark.parametrize("seconds", [60, 300, 900, 3600])
@pytest.mark.parametrize("step", [60.0, 5.0])
def test_conduction_alone_is_the_series_of_a_plane_wall(seconds: float, step: float) -> None:
    # Carslaw & Jaeger, Conduction of Heat in Solids, 2nd ed. 1959, 3.11 (from memory): a slab with
    # a film at its faces, roots of b·tan b = Biot number.
    half, k, capacity, film = 0.022, 0.9, 1750 * 1700, 500
    slab = Slab((Layer(22, 60, k, 1750, 1700),), film, None)
    history = march([slab], [(0, 74), (seconds / 60, 74)], longest_step_s=step)

    biot, fourier = film * half / k, k / capacity * seconds / half**2
    roots = [
        brentq(lambda b: b * np.tan(b) - biot, n * np.pi + 1e-9, n * np.pi + np.pi / 2 - 1e-9)
        for n in range(60)
    ]
    # The middle of the core's cell, not the wall's own.
    at = 0.5 / 60
    left = sum(
        4 * np.sin(b) / (2 * b + np.sin(2 * b)) * np.exp(-(b**2) * fourier) * np.cos(b * at)
        for b in roots
    )
    assert history.celsius[-1, 0, 0] == pytest.approx(74 + (23 - 74) * left, abs=0.05)


@pytest.mark.parametrize(("ratio", "rise"), [(2.3, 100.3), (2.0, 110.5)])
def test_insulated_dough_warms_by_the_heat_of_its_monomer(ratio: float, rise: float) -> None:
    slab = replace(flask(6, powder_liquid_g_ml=ratio), film=0.0)
    alone = replace(slab, layers=slab.layers[:1])
    history = march([alone], [(0, 70), (300, 70)], start_c=70)

    assert history.converted[-1, 0, 0] > 0.9
    assert history.celsius[-1, 0, 0] - 70 == pytest.approx(
        rise * history.converted[-1, 0, 0], abs=0.5
    )


def test_without_gel_effect_the_initiator_dies_before_the_monomer() -> None:
    # Dead-end polymerisation: X = 1 - exp(-2 kp sqrt(2 f I/(kd kt)) (1 - exp(-kd t/2))), Tobolsky,
    # J Am Chem Soc 1958;80:5927 (from memory).
    dough = Dough(1.0, 0.004, gel=False, densities=((900.0, 0.0), (900.0, 0.0)))
    bath = 1e6  # so much capacity that the reaction does not warm it
    slab = Slab((Layer(1, 1, 1.0, 1000, bath * 1e3),), 0.0, dough)
    history = march([slab], [(0, 80), (600, 80)], start_c=80)

    assert history.celsius[-1, 0, 0] == pytest.approx(80, abs=0.01)
    assert history.converted[-1, 0, 0] == pytest.approx(0.9756, abs=0.001)


def test_reference_cases() -> None:
    straight, long = simulate(STRAIGHT, 12), simulate(LONG, 12)

    assert straight.peak_c == pytest.approx(127.2, abs=0.5)
    assert straight.peak_minute == pytest.approx(16.9, abs=0.2)
    assert straight.setting_minute == pytest.approx(16.1, abs=0.2)
    assert long.peak_c == pytest.approx(83.7, abs=0.3)
    assert simulate(FAST, 12).peak_c == pytest.approx(106.1, abs=0.3)


def test_thin_resin_follows_the_bath_closely() -> None:
    # J Dent 1995;23:245 (abstract read): no rise above the bath was recorded in a denture base.
    # It is a little above it all the same: a model without reaction would never be.
    assert 0.05 < simulate(LONG, 3).over_bath_k < 0.5
    unreactive = march([replace(flask(3), dough=None)], LONG)
    assert (unreactive.celsius[:, 0, 0] - unreactive.bath_c).max() < 0.01


@each_program
@pytest.mark.parametrize("thickness", [3, 12])
def test_another_solver_finds_the_same(program: list[tuple[float, float]], thickness: int) -> None:
    here, there = simulate(program, thickness), solve(program, thickness)

    assert here.peak_c == pytest.approx(there["peak_c"], abs=0.05)
    assert here.setting_minute == pytest.approx(there["setting_minute"], abs=0.35)
    history = march([flask(thickness)], program)
    assert history.converted[-1, 0, 0] == pytest.approx(there["converted"], abs=1e-4)


def test_another_solver_finds_the_same_conduction() -> None:
    history = march([replace(flask(12), dough=None)], SHORT)

    assert history.celsius[-1, 0, 0] == pytest.approx(
        solve(SHORT, 12, reacts=False)["core_c"], abs=0.01
    )


@pytest.mark.parametrize("program", [LONG, STRAIGHT])
def test_energy_closes(program: list[tuple[float, float]]) -> None:
    slab = flask(12)
    history = march([slab], program, longest_step_s=2)
    known = modes(slab)
    cells = slab.layers[0].cells
    flux = known.to_bath * (history.bath_c - history.celsius[:, 0, -1])
    came = float(np.sum((flux[1:] + flux[:-1]) / 2 * np.diff(history.seconds)))
    stored = float(known.capacity @ (history.celsius[-1, 0] - 23))
    released = 57_800 / 0.10012 * mixed(2.3, 0.5).monomer_share * 1140 * 0.006
    released *= history.converted[-1, 0].mean()

    assert cells == 15
    assert came + released == pytest.approx(stored, rel=1e-3)


@each_program
def test_refining_grid_or_steps_moves_the_peak_by_less_than_a_tenth(
    program: list[tuple[float, float]],
) -> None:
    usual = march([flask(12)], program).celsius.max()

    assert march([flask(12, finer=2)], program).celsius.max() == pytest.approx(usual, abs=0.1)
    fine = march([flask(12)], program, longest_step_s=4, strict=100).celsius.max()
    assert fine == pytest.approx(usual, abs=0.05)


@pytest.mark.parametrize("gypsum", [12, 20, 28])
def test_thicker_resin_is_never_cooler(gypsum: int) -> None:
    peaks = [simulate(STRAIGHT, mm, gypsum_mm=gypsum).peak_c for mm in (1, 2, 4, 6, 8, 10, 12, 20)]

    assert all(thicker >= thinner - 0.02 for thinner, thicker in pairwise(peaks))
    assert peaks[-1] > peaks[0] + 5


@pytest.mark.parametrize("gypsum", [12, 20, 28])
def test_straight_into_boiling_each_thicker_resin_is_hotter(gypsum: int) -> None:
    peaks = [simulate(STRAIGHT, mm, gypsum_mm=gypsum) for mm in (2, 4, 6, 8, 10, 12)]

    assert all(thick.peak_c > thin.peak_c + 0.1 for thin, thick in pairwise(peaks))
    assert all(one.peak_minute <= 60 for one in peaks)


@pytest.mark.parametrize("gypsum", [12, 20, 28])
def test_a_slower_ramp_is_never_hotter(gypsum: int) -> None:
    peaks = [simulate(_ramp(m), 12, gypsum_mm=gypsum).peak_c for m in (5, 30, 60, 120)]

    assert all(slower <= faster + 0.02 for faster, slower in pairwise(peaks))
    if gypsum == 20:
        assert peaks == [pytest.approx(p, abs=0.3) for p in (88.2, 83.7, 76.5, 75.3)]


def test_a_drier_mix_is_cooler() -> None:
    peaks = [simulate(STRAIGHT, 12, powder_liquid_g_ml=r).peak_c for r in (1.8, 2.0, 2.3, 2.6)]

    assert all(drier < wetter - 0.5 for wetter, drier in pairwise(peaks))


@each_program
def test_two_more_hours_at_the_boil_use_up_more_monomer(program: list[tuple[float, float]]) -> None:
    end = program[-1][0]
    longer = [*program, (end + 10, 100), (end + 130, 100)]

    assert (
        march([flask(6)], longer).converted[-1].mean()
        > march([flask(6)], program).converted[-1].mean()
    )


@pytest.mark.parametrize(
    ("program", "thickness", "why"),
    [
        ([(0, 23), (30, 60), (3000, 60)], 3, "48 h"),
        ([(0, 23), (30, 60), (600, 60)], 3, "below 65"),
        ([(0, 23), (30, 60), (400, 60), (420, 74), (900, 74)], 3, "between 40 and 65"),
        ([(0, 73), (60, 165)], 3, "A bath of 165"),
        (LONG, 25, "thickness of 25"),
        (LONG, 0, "thickness of 0"),
    ],
)
def test_outside_its_range_it_refuses_with_the_reason(
    program: list[tuple[float, float]], thickness: float, why: str
) -> None:
    with pytest.raises(OutsideRange, match=why):
        simulate(program, thickness)


@pytest.mark.parametrize(
    "program",
    [[], [(0, 74)], [(5, 74), (9, 74)], [(0, 74), (9, 74), (8, 74)], [(0, 74), (9, np.nan)]],
)
def test_what_is_no_program_is_refused(program: list[tuple[float, float]]) -> None:
    with pytest.raises(ValueError, match=r"program|points"):
        simulate(program, 3)


def test_a_program_that_ends_too_soon_has_no_setting_minute() -> None:
    assert simulate([(0, 23), (25, 70)], 12).setting_minute is None


def test_heat_and_dose_share_one_rate_of_decay() -> None:
    assert KINETICS["db"].frequency_per_s == value("bpo_a")
    assert KINETICS["db"].activation_j_mol == value("bpo_ea")


def test_every_constant_has_unit_and_source() -> None:
    assert all(constant.unit and constant.source for constant in CONSTANTS.values())


def test_numpy_is_loaded_by_the_first_estimate_only() -> None:
    ask = "import sys, cases.domain.cure.overheating; print('numpy' in sys.modules)"
    said = subprocess.run([sys.executable, "-c", ask], capture_output=True, text=True, check=True)

    assert said.stdout.strip() == "False"
