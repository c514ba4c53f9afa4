"""The heat model once more, by another road: method of lines and SciPy's stiff solver.

Shares no arithmetic with the program: constants are written out here.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np
from scipy.integrate import solve_ivp

R = 8.314462618
CAL = 4.184


def _kinetics(
    celsius: np.ndarray, decayed: np.ndarray, converted: np.ndarray, liquid: float, peroxide: float
) -> tuple[np.ndarray, np.ndarray]:
    kelvin = celsius + 273.15
    w = liquid * (1 - converted)
    v_m, v_p = w / (966.5 - 1.164 * celsius), (1 - w) / (1195 - 0.33 * celsius)
    rho = 1 / (v_m + v_p)
    phi = v_m * rho
    monomer = rho * w / 0.10012 / 1e3
    initiator = rho * peroxide * np.exp(-decayed) / 0.24223 / 1e3
    free = 0.025 + phi * 1e-3 * (kelvin - 167.1) + (1 - phi) * 4.8e-4 * (kelvin - 387)
    free = np.maximum(free, 0.025)
    glass = (phi * 1e-3 * 167.1 + (1 - phi) * 4.8e-4 * 387) / (phi * 1e-3 + (1 - phi) * 4.8e-4)
    kp = 4.92e5 * np.exp(-4353 * CAL / R / kelvin)
    kt = 9.8e7 * np.exp(-701 * CAL / R / kelvin)
    cold = np.maximum(42_900 / R * (1 / kelvin - 1 / glass), 0)
    kp = kp / (1 + np.exp(0.38792 * (1 / free - 1 / 0.07414) + cold))
    kt = kt / (1 + np.exp(2.853 * (1 / free - 1 / 0.15887))) + 5 * kp * monomer
    kd = 1.101e16 / 60 * np.exp(-30_000 * CAL / R / kelvin)
    return kd, kp * np.sqrt(2 * 0.6 * kd * initiator / kt) * (1 - converted)


def solve(
    program: Sequence[tuple[float, float]], thickness_mm: float, reacts: bool = True
) -> dict[str, float]:
    """Return peak (°C), its minute, the setting minute and the core's share used up."""
    n_a, n_g, n_b = 15, 20, 3
    n = n_a + n_g + n_b
    sizes = [n_a, n_g, n_b]
    dx = np.repeat([thickness_mm / 2e3 / n_a, 0.020 / n_g, 0.004 / n_b], sizes)
    k = np.repeat([0.20, 0.9, 115.0], sizes)
    capacity = np.repeat([1140 * 1670.0, 1750 * 1700.0, 8500 * 380.0], sizes) * dx
    face = 1 / (dx[:-1] / 2 / k[:-1] + dx[1:] / 2 / k[1:])
    film = 1 / (dx[-1] / 2 / k[-1] + 1 / 500)
    liquid = 0.94 / (0.94 + 2.3)
    peroxide = 0.005 * (1 - liquid)
    times, bath = np.array(program, float).T
    times = times * 60

    def slope(t: float, y: np.ndarray) -> np.ndarray:
        celsius = y[:n]
        kd, rate = _kinetics(celsius[:n_a], y[n : n + n_a], y[n + n_a :], liquid, peroxide)
        rate = rate * reacts
        flow = face * (celsius[:-1] - celsius[1:])
        gain = np.zeros(n)
        gain[:-1] -= flow
        gain[1:] += flow
        gain[-1] += film * (np.interp(t, times, bath) - celsius[-1])
        gain[:n_a] += 1140 * liquid / 0.10012 * 57_800 * rate * dx[:n_a]
        return np.r_[gain / capacity, kd, rate]

    y = np.r_[np.full(n, 23.0), np.zeros(2 * n_a)]
    instants, states = [], []
    for begin, end in pairwise(times):
        part = solve_ivp(slope, (begin, end), y, "BDF", rtol=1e-7, atol=1e-9, max_step=20)
        y = part.y[:, -1]
        instants.append(part.t)
        states.append(part.y)
    t, every = np.concatenate(instants), np.concatenate(states, axis=1)
    hottest = every[:n_a].max(axis=0)
    rates = [
        _kinetics(s[:n_a], s[n : n + n_a], s[n + n_a :], liquid, peroxide)[1][0] for s in every.T
    ]
    return {
        "peak_c": float(hottest.max()),
        "peak_minute": float(t[hottest.argmax()] / 60),
        "setting_minute": float(t[int(np.argmax(rates))] / 60),
        "core_c": float(every[0, -1]),
        "converted": float(every[n + n_a, -1]),
    }
