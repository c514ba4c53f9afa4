"""The dose: half-lives, the sums along ramps, and what no record can be."""

from __future__ import annotations

from itertools import pairwise
from math import exp, inf, nan

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad

from cases.domain.cure.dose import (
    KINETICS,
    breakdown,
    equivalent_minutes,
    fraction_left,
    half_life_hours,
    minutes_at,
    rate_per_s,
)

Points = list[tuple[float, float]]


def minutes(*points: tuple[float, float]) -> Points:
    """Write a record in minutes, as programs are read."""
    return [(minute * 60.0, celsius) for minute, celsius in points]


def by_quadrature(points: Points, kinetics: str) -> float:
    """Sum the rate along the line by SciPy, apart from the program."""
    chosen = KINETICS[kinetics]
    total = 0.0
    for (start_s, start_c), (end_s, end_c) in pairwise(points):
        if end_s == start_s:
            continue

        def rate(
            t: float,
            at: float = start_s,
            c: float = start_c,
            slope: float = (end_c - start_c) / (end_s - start_s),
        ) -> float:
            kelvin = c + slope * (t - at) + 273.15
            return chosen.frequency_per_s * exp(-chosen.activation_j_mol / (8.314462618 * kelvin))

        total += quad(rate, start_s, end_s, epsabs=0, epsrel=1e-12, limit=400)[0]
    return total  # fmt: skip


def test_half_lives_of_the_default_set() -> None:
    assert half_life_hours(74) == pytest.approx(8.075, rel=5e-3)
    assert half_life_hours(92) == pytest.approx(0.947, rel=5e-3)
    assert half_life_hours(131) * 3600 == pytest.approx(63, rel=1e-2)
    assert rate_per_s(100) / rate_per_s(74) == pytest.approx(20.70, rel=5e-3)


# Source: an independent half-life table in benzene, 1 h at 92 °C, 1 min at 131 °C and 10 h near
# 73 °C; and 8.4, 4.3 and 2.4 h at 75, 80 and 85 °C in 0.2 molar benzene. The solvents differ.
@pytest.mark.parametrize(
    ("celsius", "hours"), [(92, 1.0), (131, 1 / 60), (73, 10.0), (75, 8.4), (80, 4.3), (85, 2.4)]
)
def test_half_lives_stand_beside_the_published_tables(celsius: float, hours: float) -> None:
    assert half_life_hours(celsius, "db") == pytest.approx(hours, rel=0.2)
    assert half_life_hours(celsius, "a") == pytest.approx(hours, rel=0.4)


@pytest.mark.parametrize(
    ("celsius", "per_second"),
    [(60, 4.555e-6), (70, 1.650e-5), (74, 2.704e-5), (80, 5.557e-5), (90, 1.751e-4),
     (100, 5.185e-4)],
)  # fmt: skip
def test_rates_of_the_set_in_chlorobenzene(celsius: float, per_second: float) -> None:
    assert rate_per_s(celsius, "a") == pytest.approx(per_second, rel=3e-4)


@pytest.mark.parametrize(
    ("celsius", "hours"), [(71.24, 10), (90.86, 1), (112.84, 0.1), (131.88, 1 / 60)]
)
def test_temperatures_of_round_half_lives_in_chlorobenzene(celsius: float, hours: float) -> None:
    assert half_life_hours(celsius, "a") == pytest.approx(hours, rel=1e-3)


@pytest.mark.parametrize(
    ("points", "left"),
    [
        (minutes((0, 74), (480, 74)), 0.4589),
        (minutes((0, 74), (540, 74)), 0.4163),
        (minutes((0, 74), (480, 74), (480, 100), (540, 100)), 0.0710),
        (minutes((0, 74), (120, 74), (120, 100), (180, 100)), 0.1273),
        (minutes((0, 74), (90, 74), (90, 100), (150, 100)), 0.1336),
        (minutes((0, 73), (90, 73), (90, 100), (120, 100)), 0.3456),
    ],
)
def test_what_is_left_in_chlorobenzene_after_ideal_cycles(points: Points, left: float) -> None:
    assert fraction_left(points, "a") == pytest.approx(left, abs=6e-5)


@pytest.mark.parametrize(
    ("points", "equivalent", "left"),
    [
        (minutes((0, 74), (480, 74)), 480.0, 0.5032),
        (minutes((0, 100), (60, 100)), 1241.9, 0.1692),
        (minutes((0, 70), (420, 70)), 252.99, None),
    ],
)
def test_holds_of_the_default_set(points: Points, equivalent: float, left: float | None) -> None:
    assert equivalent_minutes(points) == pytest.approx(equivalent, rel=2e-3)
    if left is not None:
        assert fraction_left(points) == pytest.approx(left, rel=2e-3)


@pytest.mark.parametrize(
    ("start_c", "end_c", "long", "equivalent"), [(23, 74, 30, 4.492), (74, 100, 20, 134.2)]
)
def test_ramps_need_no_readings_along_them(
    start_c: float, end_c: float, long: int, equivalent: float
) -> None:
    bare = minutes((0, start_c), (long, end_c))
    each_minute = minutes(
        *((minute, start_c + (end_c - start_c) * minute / long) for minute in range(long + 1))
    )

    assert equivalent_minutes(bare) == pytest.approx(equivalent, rel=5e-3)
    assert equivalent_minutes(each_minute) == pytest.approx(equivalent_minutes(bare), rel=1e-9)


def test_a_power_cut_costs_about_a_hundred_minutes() -> None:
    whole = minutes((0, 23), (30, 74), (510, 74))
    cut = minutes(*((float(m), bath_with_cut(m)) for m in range(511)))

    assert equivalent_minutes(whole) == pytest.approx(484.5, abs=0.1)
    assert equivalent_minutes(cut) == pytest.approx(379.6, abs=0.3)


def bath_with_cut(minute: float) -> float:
    """A bath that ramps to 74 in 30 min, is off from 180 to 300, and is back 15 min later."""
    if minute < 30:
        return 23 + 51 * minute / 30
    if minute <= 180:
        return 74
    cold = 23 + 51 * exp(-min(minute - 180, 120) / 150)
    if minute <= 300:
        return cold
    return min(74, cold + (74 - cold) * (minute - 300) / 15)


@pytest.mark.parametrize(("offset", "ratio"), [(-2, 0.78), (-1, 0.88), (1, 1.13), (2, 1.28)])
def test_the_thermometer_is_the_main_error(offset: float, ratio: float) -> None:
    true = equivalent_minutes(minutes((0, 74), (480, 74)))

    wrong = equivalent_minutes(minutes((0, 74 + offset), (480, 74 + offset)))

    assert wrong / true == pytest.approx(ratio, abs=5e-3)


def test_the_two_sets_nearly_agree_in_equivalent_minutes() -> None:
    near = minutes((0, 23), (30, 74), (510, 75))
    boil = minutes((0, 74), (120, 74), (140, 100), (200, 100))

    assert equivalent_minutes(near, "a") == pytest.approx(equivalent_minutes(near, "db"), rel=2e-3)
    assert equivalent_minutes(boil, "a") == pytest.approx(equivalent_minutes(boil, "db"), rel=0.07)


def test_sets_tell_where_they_come_from() -> None:
    assert set(KINETICS) == {"db", "a"}
    for key, kinetics in KINETICS.items():
        assert kinetics.key == key
        assert kinetics.source
        assert kinetics.status
        assert kinetics.measured_in


def test_reference_only_changes_the_unit() -> None:
    hour = minutes((0, 100), (60, 100))

    assert equivalent_minutes(hour, reference_c=100) == pytest.approx(60)
    assert minutes_at(100, equivalent_minutes(hour)) == pytest.approx(60)


# Whole milliseconds: no logger stamps finer, and a quadrature cannot follow a jump of 1e-311 s.
instants = st.lists(
    st.integers(0, 100_000_000).map(lambda ms: ms / 1000), min_size=2, max_size=12, unique=True
).map(sorted)
degrees = st.floats(min_value=-20, max_value=140)


@st.composite
def records(draw: st.DrawFn) -> Points:
    seconds = draw(instants.filter(lambda found: found[-1] - found[0] > 1))
    return [(second, draw(degrees)) for second in seconds]


@settings(max_examples=60, deadline=None)
@given(records(), st.sampled_from(["db", "a"]))
def test_sum_agrees_with_quadrature(points: Points, kinetics: str) -> None:
    assert breakdown(points, kinetics) == pytest.approx(by_quadrature(points, kinetics), rel=1e-9)


@given(records(), st.floats(min_value=0.01, max_value=0.99))
def test_splitting_a_record_changes_nothing(points: Points, share: float) -> None:
    cut_s = points[0][0] + share * (points[-1][0] - points[0][0])
    seconds, celsius = zip(*points, strict=True)
    middle = (cut_s, float(np.interp(cut_s, seconds, celsius)))
    before = [*(p for p in points if p[0] < cut_s), middle]
    after = [middle, *(p for p in points if p[0] > cut_s)]

    whole, parts = breakdown(points), breakdown(before) + breakdown(after)

    assert parts == pytest.approx(whole, rel=1e-9)
    assert breakdown([*before, *after[1:]]) == pytest.approx(whole, rel=1e-9)


@given(records(), st.floats(min_value=0, max_value=10_000), degrees)
def test_more_time_never_leaves_more(points: Points, longer: float, celsius: float) -> None:
    further = [*points, (points[-1][0] + longer, celsius)]

    assert fraction_left(further) <= fraction_left(points)
    assert 0 <= fraction_left(further) <= 1


@given(records(), st.data())
def test_hotter_is_never_a_smaller_dose(points: Points, data: st.DataObject) -> None:
    rise = st.floats(min_value=0, max_value=20)
    hotter = [(second, celsius + data.draw(rise)) for second, celsius in points]

    assert equivalent_minutes(hotter) >= equivalent_minutes(points) * (1 - 1e-12)


@pytest.mark.parametrize(
    "trace",
    [
        [], [(0, 74)], [(0, 74), (0, 74)], [(60, 74), (0, 74)], [(0, 74), (60, nan)],
        [(0, 74), (inf, 74)], [(0, 74), (60, 999)], [(0, 74), (60, -300)],
        [(0, 74, 1), (60, 74, 1)],
        None, 74, "0,74", [("0", "74"), ("60", "74")], [0, 74], [(0, None), (60, 74)], [(0,), (1,)],
        np.zeros((3, 3)), np.zeros(4),
    ],
)  # fmt: skip
@pytest.mark.parametrize("door", [fraction_left, equivalent_minutes])
def test_what_is_no_record_is_refused_in_a_sentence(door: object, trace: object) -> None:
    with pytest.raises(ValueError, match=r"^[A-Z].*[.?]$"):
        door(trace)  # type: ignore[operator]


def test_refusal_says_which_reading() -> None:
    with pytest.raises(ValueError, match="backwards at reading 3"):
        fraction_left([(0, 23), (60, 30), (30, 40)])


@pytest.mark.parametrize("kinetics", ["", "B", None, "DB", ["db"]])
def test_unknown_constants_are_refused(kinetics: object) -> None:
    with pytest.raises(ValueError, match="There are no constants"):
        fraction_left([(0, 74), (60, 74)], kinetics)  # type: ignore[arg-type]


@pytest.mark.parametrize("reference", [nan, inf, -273.15, 400])
def test_reference_that_is_no_temperature_is_refused(reference: float) -> None:
    with pytest.raises(ValueError, match="no temperature of a bath"):
        equivalent_minutes([(0, 74), (60, 74)], reference_c=reference)
