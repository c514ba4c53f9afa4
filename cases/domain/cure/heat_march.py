"""The estimate through time: conduction exactly, reaction in steps as long as the error allows.

An exponential Runge-Kutta method of third order with one of second order beside it for the error
(Cox & Matthews, Journal of Computational Physics 2002;176:430, ETD3RK; from memory, the weights
checked by the order that the tests measure). Several flasks march together in the same bath.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import floor, log
from typing import Final

import numpy as np

from cases.domain.cure.heat_constants import value
from cases.domain.cure.heat_grid import Array, Slab, modes
from cases.domain.cure.heat_kinetics import Dough, conversion_rate, initiator_decay

_SECONDS: Final = 60.0
# What one step may be wrong by: kelvin, and share of the monomer.
TOLERANCE_K: Final = 0.05
TOLERANCE_SHARE: Final = 2e-4
# Steps on a ladder, so that the weights of a length are reckoned once.
_RUNG: Final = 2**0.5
LONGEST_STEP_S: Final = 64.0
_FIRST_STEP_S: Final = 2.0
_SHORTEST_STEP_S: Final = 1e-3

Program = Sequence[tuple[float, float]]


@dataclass(frozen=True, slots=True)
class History:
    """What happened: arrays by instant, then by slab, then by cell.

    Attributes
    ----------
    seconds, bath_c
        One number an instant.
    celsius
        All cells, the core first.
    decayed, converted, rate
        Cells of the dough: as in ``heat_kinetics.conversion_rate``, and what it returned.
    """

    seconds: Array
    bath_c: Array
    celsius: Array
    decayed: Array
    converted: Array
    rate: Array


def _phi(z: Array) -> tuple[Array, Array, Array]:
    """Return φ₁, φ₂ and φ₃ of an array that is not positive."""
    small = np.abs(z) < 0.05
    safe = np.where(small, -1.0, z)
    first = np.expm1(safe) / safe
    second = (first - 1) / safe
    third = (second - 0.5) / safe
    # Near zero the differences lose their digits; five terms of the series keep them.
    series = [
        sum(z**k / scale for k, scale in enumerate(scales))
        for scales in (
            (1, 2, 6, 24, 120, 720),
            (2, 6, 24, 120, 720, 5040),
            (6, 24, 120, 720, 5040, 40320),
        )
    ]
    return (
        np.where(small, series[0], first),
        np.where(small, series[1], second),
        np.where(small, series[2], third),
    )


@dataclass(frozen=True, slots=True)
class _Weights:
    """What a step of one length weighs, by mode; a mode of rate 0 is a plain Runge-Kutta step."""

    step: float
    to_half: Array
    to_end: Array
    half: Array
    half_rise: Array
    whole: Array
    whole_rise: Array
    early: Array
    middle: Array
    late: Array


def _weights(rates: Array, step: float) -> _Weights:
    half_first, half_second, _ = _phi(rates * step / 2)
    first, second, third = _phi(rates * step)
    return _Weights(
        step=step,
        to_half=np.exp(rates * step / 2),
        to_end=np.exp(rates * step),
        half=half_first * step / 2,
        half_rise=half_second * step**2 / 4,
        whole=first * step,
        whole_rise=second * step**2,
        early=(first - 3 * second + 4 * third) * step,
        middle=(4 * second - 8 * third) * step,
        late=(4 * third - second) * step,
    )


@dataclass(frozen=True, slots=True)
class _State:
    """Modes of the heat; what decayed and what converted, one row each; and what drives them."""

    heat: Array
    matter: Array
    heating: Array
    change: Array


class _Together:
    """Several slabs of the same number of cells, side by side."""

    def __init__(self, slabs: Sequence[Slab]) -> None:
        every = [modes(slab) for slab in slabs]
        self.cells = slabs[0].layers[0].cells
        self.rates = np.array([one.rates for one in every])
        self.shapes = np.array([one.shapes for one in every])
        self.resin = np.ascontiguousarray(self.shapes[:, : self.cells])
        self.from_bath = np.array([one.from_bath for one in every])
        self.weights = np.array([one.weights for one in every])
        self.dough: Dough | None = None
        doughs = [slab.dough for slab in slabs if slab.dough]
        if len(doughs) == len(slabs):
            self.dough = Dough(
                np.array([[dough.monomer_share] for dough in doughs]),
                np.array([[dough.initiator_share] for dough in doughs]),
                gel=all(dough.gel for dough in doughs),
                densities=doughs[0].densities,
            )
            # Kelvin by which a cell would warm if all its monomer turned at once.
            rise = self.dough.monomer_share * np.array(
                [
                    [
                        value("heat_of_polymerisation")
                        / value("mma_molar_mass")
                        / slab.layers[0].heat_capacity
                    ]
                    for slab in slabs
                ]
            )
            self.into = np.ascontiguousarray(self.weights[:, :, : self.cells] * rise[:, None, :])

    def at_rest(self, celsius: float) -> _State:
        """Return the slabs as they go in."""
        heat = self.weights.sum(axis=2) * celsius
        return self.driven(heat, np.zeros((2, len(heat), self.cells)))

    def celsius(self, heat: Array) -> Array:
        every: Array = (self.shapes @ heat[..., None])[..., 0]
        return every

    def driven(self, heat: Array, matter: Array) -> _State:
        """Return the state with what the reaction does to it."""
        if self.dough is None:
            return _State(heat, matter, np.zeros_like(heat), np.zeros_like(matter))
        celsius = (self.resin @ heat[..., None])[..., 0]
        rate = conversion_rate(celsius, matter[0], matter[1], self.dough)
        change = np.stack((initiator_decay(celsius), rate))
        return _State(heat, matter, (self.into @ rate[..., None])[..., 0], change)

    def step(self, state: _State, by: _Weights, bath_c: float, rise: float) -> tuple[_State, float]:
        """Return the state after a step, and its error as a multiple of what is allowed.

        ``bath_c`` is the bath at its beginning, ``rise`` what it gains in a second.
        """
        h = by.step
        half_bath = self.from_bath * (by.half * bath_c + by.half_rise * rise)
        half = self.driven(
            by.to_half * state.heat + by.half * state.heating + half_bath,
            state.matter + h / 2 * state.change,
        )
        carried = by.to_end * state.heat + self.from_bath * (
            by.whole * bath_c + by.whole_rise * rise
        )
        end = self.driven(
            carried + by.whole * (2 * half.heating - state.heating),
            state.matter + h * (2 * half.change - state.change),
        )
        after = self.driven(
            carried + by.early * state.heating + by.middle * half.heating + by.late * end.heating,
            state.matter + h / 6 * (state.change + 4 * half.change + end.change),
        )
        if self.dough is None:
            return after, 0.0
        heat_off = (
            self.resin @ (by.late * (state.heating - 2 * half.heating + end.heating))[..., None]
        )
        matter_off = h / 6 * (state.change - 2 * half.change + end.change)
        return after, max(
            float(np.abs(heat_off).max()) / TOLERANCE_K,
            float(np.abs(matter_off).max()) / TOLERANCE_SHARE,
        )


class _Ladder:
    """The weights of every length of step that was used, and which length comes next."""

    def __init__(self, rates: Array, longest_s: float, strict: float) -> None:
        self._rates = rates
        self._longest_s = longest_s
        self._strict = strict
        self._known: dict[int, _Weights] = {}
        self._rung = self._at_most(min(_FIRST_STEP_S, longest_s))

    @staticmethod
    def _at_most(step_s: float) -> int:
        return floor(log(step_s) / log(_RUNG) + 1e-9)

    def next(self, left_s: float) -> _Weights:
        """Return the weights of the next step, which does not reach past what is left."""
        if _RUNG**self._rung >= left_s:
            return _weights(self._rates, left_s)
        if self._rung not in self._known:
            self._known[self._rung] = _weights(self._rates, _RUNG**self._rung)
        return self._known[self._rung]

    def judge(self, step_s: float, error: float) -> bool:
        """Choose the length of the next step, and say whether this one may stand."""
        error *= self._strict
        # Third order: the error of a step goes with its length to the third.
        wanted = step_s * min(4.0, max(0.2, 0.85 * (1 / max(error, 1e-9)) ** (1 / 3)))
        self._rung = self._at_most(min(self._longest_s, max(_SHORTEST_STEP_S, wanted)))
        return error <= 1 or step_s <= 2 * _SHORTEST_STEP_S


def march(
    slabs: Sequence[Slab],
    program: Program,
    *,
    start_c: float = value("start"),
    longest_step_s: float = LONGEST_STEP_S,
    strict: float = 1.0,
) -> History:
    """Reckon what happens in slabs of the same number of cells while the bath follows a program.

    Parameters
    ----------
    program
        (minutes, °C), linear between; two points of one instant are a change of bath.
    start_c
        Of everything at the beginning.
    longest_step_s
        No step is longer.
    strict
        How many times as small as usual the error of a step has to be.
    """
    together = _Together(slabs)
    ladder = _Ladder(together.rates, longest_step_s, strict)
    state = together.at_rest(start_c)
    seconds, bath, states = [0.0], [float(program[0][1])], [state]
    for (from_min, from_c), (to_min, to_c) in pairwise(program):
        begin, end = from_min * _SECONDS, to_min * _SECONDS
        if end <= begin:
            continue
        rise = (to_c - from_c) / (end - begin)
        now = begin
        while end - now > _SHORTEST_STEP_S * 1e-3:
            by = ladder.next(end - now)
            after, error = together.step(state, by, from_c + rise * (now - begin), rise)
            if not ladder.judge(by.step, error):
                continue
            state, now = after, now + by.step
            seconds.append(now)
            bath.append(from_c + rise * (now - begin))
            states.append(state)
    return History(
        seconds=np.array(seconds),
        bath_c=np.array(bath),
        celsius=np.array([together.celsius(one.heat) for one in states]),
        decayed=np.array([one.matter[0] for one in states]),
        converted=np.array([one.matter[1] for one in states]),
        rate=np.array([one.change[1] for one in states]),
    )
