"""The lag of a flask behind its bath: closed forms of a first-order lag, and an integrator."""

from __future__ import annotations

from math import exp, sin

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from cases.domain.cure.lag import fit_lag, follow, lagged
from cases.domain.cure.samples import checked

Points = list[tuple[float, float]]


def step(tau_min: float, until: float = 120.0, every: float = 1.0) -> tuple[Points, Points]:
    """Return a bath at 74 °C and a cold flask put into it: T = 74 − 51 exp(−t/τ)."""
    minutes = np.arange(0, until + every / 2, every)
    bath = [(60 * m, 74.0 if m else 23.0) for m in minutes]
    bath.insert(1, (1.0, 74.0))
    return bath, [(60 * m, 74 - 51 * exp(-m / tau_min)) for m in minutes]


def ramp(tau_min: float, rate: float = 1.7, until: float = 30.0) -> tuple[Points, Points]:
    """Return a steady rise and what follows it: T = 23 + r (t − τ (1 − exp(−t/τ)))."""
    minutes = [float(n) for n in range(int(until) + 1)]
    bath = [(60 * m, 23 + rate * m) for m in minutes]
    flask = [(60 * m, 23 + rate * (m - tau_min * (1 - exp(-m / tau_min)))) for m in minutes]
    return bath, flask


@pytest.mark.parametrize("tau", [2.0, 5.0, 15.0, 38.0])
def test_follow_is_the_closed_form_of_a_ramp(tau: float) -> None:
    bath, flask = ramp(tau)

    found = follow(checked(bath), tau, 23.0, np.array([s for s, _c in flask]))

    assert found == pytest.approx([c for _s, c in flask], abs=1e-9)


def test_after_one_lag_a_step_is_63_percent_done() -> None:
    bath = checked([(0.0, 74.0), (7200.0, 74.0)])

    (found,) = follow(bath, 15.0, 23.0, np.array([900.0]))

    assert (found - 23) / 51 == pytest.approx(1 - exp(-1), abs=1e-12)


@pytest.mark.parametrize("tau", [5.0, 15.0, 38.0])
def test_lag_of_a_step_and_of_a_ramp_is_found_again(tau: float) -> None:
    assert fit_lag(*step(tau)).minutes == pytest.approx(tau, rel=0.02)
    assert fit_lag(*ramp(tau)).minutes == pytest.approx(tau, rel=0.002)
    assert fit_lag(*ramp(tau)).rms_k < 0.01


def wandering(minutes: float) -> float:
    """Return a bath that rises, holds and swings."""
    return min(74.0, 23 + 1.7 * minutes) + 0.4 * sin(minutes / 3)


def test_lag_of_an_integrated_course_is_found_through_noise_and_other_instants() -> None:
    tau = 17.0
    solved = solve_ivp(
        lambda t, y: [(wandering(t) - y[0]) / tau], (0, 180), [24.0], rtol=1e-9, atol=1e-9,
        dense_output=True, max_step=0.5,
    )  # fmt: skip
    noise = np.random.default_rng(7).normal(0, 0.2, 400)
    bath = [(60 * m, wandering(m)) for m in np.arange(0, 180.1, 0.5)]
    instants = np.arange(0.3, 179, 1.7)
    flask = [
        (60 * m, float(solved.sol(m)[0]) + noise[n]) for n, m in enumerate(instants)
    ]  # fmt: skip

    found = fit_lag(bath, flask)

    assert found.minutes == pytest.approx(tau, rel=0.02)
    assert found.rms_k == pytest.approx(0.2, abs=0.08)


def test_lag_is_found_from_a_record_of_every_second() -> None:
    bath, flask = step(15.0, until=180.0, every=1 / 60)

    assert fit_lag(bath, flask).minutes == pytest.approx(15.0, rel=0.01)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (lambda bath, flask: (flask, bath), "right way round"),
        (lambda bath, flask: (bath, [(s + 90_000, c) for s, c in flask]), "same time"),
        (lambda bath, flask: ([(s, 74.0 + s % 7 / 9) for s, _c in bath], flask), "Record the"),
        (lambda bath, flask: (bath, [(s, 150 - c) for s, c in flask]), "no lag fits"),
    ],
)
def test_what_shows_no_lag_is_refused_in_a_sentence(change: object, words: str) -> None:
    bath, flask = change(*ramp(12.0, until=60.0, rate=0.85))  # type: ignore[operator]

    with pytest.raises(ValueError, match=words):
        fit_lag(bath, flask)


def test_program_as_a_flask_gets_it_rises_later_and_keeps_jumps() -> None:
    points = [(0.0, 74.0), (90.0, 74.0), (90.0, 100.0), (120.0, 100.0)]

    found = dict(lagged(points, 10.0))

    assert found[0.0] == 23.0
    assert found[10.0] == pytest.approx(74 - 51 * exp(-1), abs=0.01)
    assert found[90.0] == pytest.approx(74 - 51 * exp(-9), abs=0.05)
    assert found[100.0] == pytest.approx(100 - 26 * exp(-1), abs=0.1)
