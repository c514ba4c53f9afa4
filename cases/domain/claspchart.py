"""Force against arm length: the wire chosen and its neighbours, ready to be drawn.

For one undercut and one alloy the force falls with the cube of the arm, and each wire springs back
only from a certain arm on. Drawn with the middle of the alloy's moduli; the limit lines keep to the
ends of its ranges, as the forecast does.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil, floor, log10, sqrt
from typing import Final, Literal

from cases.domain.clasp import MPA_PER_GPA, shortest_arm_mm, tip_force_n
from cases.domain.claspforecast import ClaspForecast
from cases.domain.crosssection import section_properties
from cases.domain.quantity import Band
from cases.domain.wire import Wire, neighbours

Point = tuple[float, float]
Place = Literal["thinner", "chosen", "thicker"]

# How far the picture reaches to both sides of the chosen arm, and above the chosen force.
_AROUND_MM: Final = 4.0
_SHORTEST_SHOWN_MM: Final = 3.0
_HEADROOM: Final = 2.5
_STEPS: Final = 32
_LEAST_FORCE_N: Final = 1e-6
# Below this no arm that can be drawn stays bent.
_LEAST_UNDERCUT_MM: Final = 1e-6
# A section of this size, to find how it scales.
_ONE_MM: Final = 1.0


@dataclass(frozen=True, slots=True)
class Curve:
    """One wire.

    Attributes
    ----------
    wire, place
        The wire, and whether it is the chosen one, the next thinner or the next thicker.
    points
        Arm in mm and force in N, as far as the picture reaches.
    at_arm_n
        Its force at the chosen arm.
    springs_from_mm
        The arm from which it springs back for certain.
    """

    wire: Wire
    place: Place
    points: tuple[Point, ...]
    at_arm_n: float
    springs_from_mm: float


@dataclass(frozen=True, slots=True)
class ForceChart:
    """Everything that is drawn, in mm and N.

    Attributes
    ----------
    arm_mm, force_n
        What the two axes reach from and to.
    curves
        Thinner, chosen, thicker, where there are such wires.
    chosen, chosen_force_n
        The chosen arm with the middle force, and that force as a band.
    may_stay, will_stay
        Limits across all diameters: left of the first a wire may stay bent, left of the second it
        will. Empty where they lie outside of the picture, or without an undercut.
    """

    forecast: ClaspForecast
    arm_mm: Band
    force_n: Band
    curves: tuple[Curve, ...]
    chosen: Point
    chosen_force_n: Band
    may_stay: tuple[Point, ...]
    will_stay: tuple[Point, ...]


def tick_step(span: float) -> float:
    """Return the distance between the marks of an axis: 1, 2 or 5 times a power of ten.

    Parameters
    ----------
    span
        What the axis covers, above zero; it gets three marks or more.
    """
    power: float = 10.0 ** floor(log10(span / 3))
    return next((power * times for times in (5, 2) if span >= 3 * power * times), power)


def _axis_top(value: float) -> float:
    """Return the mark at or above a value, 1 where there is nothing to show."""
    if value < _LEAST_FORCE_N:
        return 1.0
    step = tick_step(value)
    return ceil(value / step) * step


def _force(forecast: ClaspForecast, wire: Wire, arm_mm: float) -> float:
    """The neighbours are drawn tapered alike."""
    return forecast.taper.force * tip_force_n(
        diameter_mm=wire.mm,
        length_mm=arm_mm,
        undercut_mm=forecast.undercut_mm,
        modulus_gpa=forecast.alloy.modulus_gpa.middle,
        section=forecast.section,
    )


def _curve(forecast: ClaspForecast, wire: Wire, arm: Band, top_n: float) -> Curve:
    chosen = forecast.wire.mm
    place: Place = "chosen"
    if wire.mm != chosen:
        place = "thinner" if wire.mm < chosen else "thicker"
    # The force goes with 1/L³, so this is where the curve enters the picture from above.
    enters = (_force(forecast, wire, 1.0) / top_n) ** (1 / 3)
    start = max(arm.low, enters)
    arms = [start + (arm.high - start) * step / _STEPS for step in range(_STEPS + 1)]
    return Curve(
        wire=wire,
        place=place,
        # A wire that is above the picture everywhere is not drawn.
        points=tuple((mm, _force(forecast, wire, mm)) for mm in arms) if start < arm.high else (),
        at_arm_n=_force(forecast, wire, forecast.arm_mm),
        springs_from_mm=sqrt(forecast.taper.stress)
        * shortest_arm_mm(
            diameter_mm=wire.mm,
            undercut_mm=forecast.undercut_mm,
            modulus_gpa=forecast.alloy.modulus_gpa.high,
            yield_mpa=forecast.alloy.yield_mpa.low,
            section=forecast.section,
        ),
    )


def _limit(
    forecast: ClaspForecast, modulus_gpa: float, yield_mpa: float, arm: Band, top_n: float
) -> tuple[Point, ...]:
    """Where wires of every diameter just spring back, as far as that lies in the picture.

    At an arm L the thickest wire that still springs back is d = σ·L²/(3·E·u·c₁), c₁ the farthest
    edge of a section of 1 mm; its force 3·E·I₁·d⁴·u/L³ goes with L⁵. A taper takes its share of
    the stress and of the force.
    """
    if forecast.undercut_mm < _LEAST_UNDERCUT_MM:
        return ()
    shape = section_properties(forecast.section, _ONE_MM)
    taper = forecast.taper
    limit = 3 * modulus_gpa * MPA_PER_GPA * forecast.undercut_mm * shape.weak_edge_mm * taper.stress
    drawn = taper.force * 3 * forecast.alloy.modulus_gpa.middle * MPA_PER_GPA * forecast.undercut_mm
    per_length = drawn * shape.weak_mm4 * (yield_mpa / limit) ** 4
    leaves = min(arm.high, (top_n / per_length) ** (1 / 5))
    if leaves <= arm.low:
        return ()
    arms = [arm.low + (leaves - arm.low) * step / _STEPS for step in range(_STEPS + 1)]
    return tuple((mm, per_length * mm**5) for mm in arms)


def force_chart(forecast: ClaspForecast) -> ForceChart:
    """Prepare the chart of force against arm length for a clasp that was reckoned."""
    alloy = forecast.alloy
    # An arm shorter than the picture usually begins still stands in it.
    shortest = min(_SHORTEST_SHOWN_MM, forecast.arm_mm / 2)
    arm = Band(
        max(shortest, floor(forecast.arm_mm - _AROUND_MM)), ceil(forecast.arm_mm + _AROUND_MM)
    )
    middle_n = _force(forecast, forecast.wire, forecast.arm_mm)
    top_n = _axis_top(_HEADROOM * middle_n)
    wires = sorted((forecast.wire, *neighbours(forecast.wire)), key=lambda wire: wire.mm)
    return ForceChart(
        forecast=forecast,
        arm_mm=arm,
        force_n=Band(0.0, top_n),
        curves=tuple(_curve(forecast, wire, arm, top_n) for wire in wires),
        chosen=(forecast.arm_mm, middle_n),
        chosen_force_n=forecast.force_n,
        may_stay=_limit(forecast, alloy.modulus_gpa.high, alloy.yield_mpa.low, arm, top_n),
        will_stay=_limit(forecast, alloy.modulus_gpa.low, alloy.yield_mpa.high, arm, top_n),
    )
