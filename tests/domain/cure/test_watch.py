"""A bath that stops heating is named at the second reading; a bath that heats is left alone."""

from __future__ import annotations

from itertools import pairwise
from math import exp
from random import Random
from typing import Any

import pytest

from cases.domain.cure.program import LONG, SHORT, Hold, Program
from cases.domain.cure.watch import Finding, watch

Readings = list[tuple[float, float]]
COOLING_MINUTES = 150.0
"""Time constant of a bath with its heater off: the one of the acceptance check of a power cut."""


def asked(program: Program, minute: float) -> float:
    """Return what the program asks of the bath."""
    points = program.points()
    for (m0, c0), (m1, c1) in pairwise(points):
        if m0 <= minute <= m1 and m1 > m0:
            return c0 + (c1 - c0) * (minute - m0) / (m1 - m0)
    return points[-1][1]


def good(program: Program, until: float, every: float = 1.0) -> Readings:
    """Return a bath that follows its program, as a probe reads it to a tenth."""
    count = int(until / every) + 1
    return [(n * every, round(asked(program, n * every), 1)) for n in range(count)]


def off_from(
    program: Program, stop: float, until: float, every: float, tau: float = COOLING_MINUTES
) -> Readings:
    """Return the same bath with its heater off from some minute on."""
    warm = asked(program, stop)
    return [
        (
            minute,
            celsius if minute <= stop else round(23 + (warm - 23) * exp(-(minute - stop) / tau), 1),
        )
        for minute, celsius in good(program, until, every)
    ]


def noticed(program: Program, readings: Readings) -> tuple[Finding, float] | None:
    """Return the first finding while the readings come in, and the minute of it."""
    for n in range(1, len(readings) + 1):
        found = watch(program, program.bath_minutes, readings[:n], readings[n - 1][0])
        if found is not None:
            return found, readings[n - 1][0]
    return None


@pytest.mark.parametrize("program", [LONG, SHORT], ids=["long", "short"])
@pytest.mark.parametrize("every", [1 / 6, 0.5, 1.0, 5.0, 10.0])
def test_bath_that_follows_its_program_is_left_alone(program: Program, every: float) -> None:
    readings = good(program, program.bath_minutes, every)

    found = [
        watch(program, program.bath_minutes, readings[:n], readings[n - 1][0])
        for n in range(1, len(readings) + 1, 7)
    ]

    assert set(found) == {None}


@pytest.mark.parametrize(("every", "stop"), [(1.0, 200.0), (2.0, 200.0), (5.0, 200.0), (5.0, 90.0)])
def test_heater_that_stops_at_a_hold_is_named_at_the_second_reading(
    every: float, stop: float
) -> None:
    seen = noticed(LONG, off_from(LONG, stop, stop + 60, every))

    assert seen is not None
    found, minute = seen
    assert (found.kind, found.stage, found.celsius) == ("dropping", 0, 74.0)
    assert minute == stop + 2 * every
    assert found.since == minute


@pytest.mark.parametrize("every", [1.0, 5.0])
def test_heater_that_stops_on_the_way_up_is_named_at_the_second_reading(every: float) -> None:
    seen = noticed(LONG, off_from(LONG, 15.0, 60.0, every))

    assert seen is not None
    found, minute = seen
    assert (found.kind, minute) == ("not-rising", 15.0 + 2 * every)


def test_bath_that_never_heats_is_named_once_hands_have_had_their_time() -> None:
    seen = noticed(LONG, [(float(n), 23.0 + n % 2 / 10) for n in range(30)])

    assert seen is not None
    assert (seen[0].kind, seen[1]) == ("not-rising", 5.0)


def test_bath_that_is_not_turned_up_to_the_boil_names_that_stage() -> None:
    boil = sum(hold.ramp_minutes + hold.minutes for hold in SHORT.stages[:1])
    readings = [(m, c if m <= boil else 74.0) for m, c in good(SHORT, boil + 20)]

    seen = noticed(SHORT, readings)

    assert seen is not None
    assert (seen[0].kind, seen[0].stage) == ("not-rising", 1)
    assert seen[1] == pytest.approx(boil + 5, abs=1)


def test_fast_feed_is_noticed_within_two_minutes_and_two_readings_far_off_at_once() -> None:
    slowly = noticed(LONG, off_from(LONG, 200.0, 210.0, 1 / 6))
    fell = [*good(LONG, 200.0, 1 / 6), (200.2, 65.0), (200.4, 55.0)]

    assert slowly is not None
    assert slowly[1] <= 203.0
    assert noticed(LONG, fell) == (Finding("dropping", 0, 74.0, 200.4), 200.4)


def test_thermostat_that_swings_by_half_a_kelvin_and_an_overshoot_are_left_alone() -> None:
    swings = [
        (m, c if m < 40 else 74 + [0.4, 0.1, -0.2, -0.4, -0.1, 0.2][int(m) % 6])
        for m, c in good(LONG, 300.0)
    ]
    over = [(m, c if m < 30 else 74 + 3 * exp(-(m - 30) / 8)) for m, c in good(LONG, 300.0)]

    assert noticed(LONG, swings) is None
    assert noticed(LONG, over) is None


def test_same_trouble_keeps_its_instant_and_ends_when_the_bath_heats_again() -> None:
    cut = off_from(LONG, 200.0, 260.0, 5.0)
    later = [watch(LONG, LONG.bath_minutes, cut[:n], cut[n - 1][0]) for n in range(43, 53)]
    back = [*cut, *((260 + 5.0 * n, cut[-1][1] + 3 * n) for n in (1, 2))]

    assert len(set(later)) == 1
    assert later[0] is not None
    assert watch(LONG, LONG.bath_minutes, back, back[-1][0]) is None
    # And once it fails anew, it is told anew.
    anew = [*back, *((270 + 5.0 * n, back[-1][1] - n) for n in (1, 2))]
    again = watch(LONG, LONG.bath_minutes, anew, anew[-1][0])
    assert again is not None
    assert again.since > later[0].since


def test_silence_is_told_after_two_readings_that_did_not_come() -> None:
    readings = good(LONG, 100.0)
    known: dict[str, Any] = {"program": LONG, "minutes": LONG.bath_minutes, "readings": readings}

    assert watch(**known, now_minute=102.9) is None
    assert watch(**known, now_minute=103.1) == Finding("silent", 0, 74.0, 100.0)


def test_feed_that_never_came_is_silent_from_the_beginning() -> None:
    assert watch(LONG, LONG.bath_minutes, [], 9.0) is None
    assert watch(LONG, LONG.bath_minutes, [], 11.0) == Finding("silent", 0, 74.0, 0.0)


@pytest.mark.parametrize("minute", [-1.0, LONG.bath_minutes + 1])
def test_nothing_is_asked_of_a_bath_before_and_after(minute: float) -> None:
    assert watch(LONG, LONG.bath_minutes, [(-30.0, 20.0), (-20.0, 20.0)], minute) is None


def test_cold_flasks_that_cool_a_hot_bath_for_a_moment_are_no_failure() -> None:
    program = Program("straight", (Hold(74.0, 480.0),), "test")
    readings = [(0.0, 74.0), (1.0, 69.0), (2.0, 69.8), (3.0, 70.9), (4.0, 72.0), (5.0, 73.0)]

    assert noticed(program, readings) is None


def swinging(swing: float, tau: float, noise: float, seed: int) -> Readings:
    """Return the first three hours under a thermostat that switches ``swing`` K beside 74 °C.

    The bath cools with the time constant ``tau`` and warms as quickly as it was brought up; the
    probe reads to a tenth, and beside it by ``noise`` K (one standard deviation).
    """
    rise, random, step = 51 / 30, Random(seed), 1 / 6
    celsius, heats, readings = 23.0, True, []
    for n in range(180 * 6):
        minute = n * step
        if n % 6 == 0:
            readings.append((float(n // 6), round(celsius + random.gauss(0, noise), 1)))
        asked_now = min(74.0, 23 + rise * minute)
        heats = celsius < asked_now + swing if heats else celsius <= asked_now - swing
        celsius += step * (2 * rise * heats - (celsius - 23) / tau)
    return readings


@pytest.mark.parametrize("every", [1 / 6, 0.5, 1.0])
@pytest.mark.parametrize(
    ("tau", "within"), [(300.0, 4), (450.0, 8), (600.0, 8), (900.0, 11), (1200.0, 17)]
)
def test_bath_that_keeps_its_heat_well_is_noticed_before_it_has_lost_a_kelvin(
    tau: float, within: float, every: float
) -> None:
    readings = [one for one in off_from(LONG, 200.0, 230.0, every, tau) if one[0] >= 90]

    seen = noticed(LONG, readings)

    assert seen is not None
    assert seen[0].kind == "dropping"
    assert seen[1] <= 200 + within + 1e-9
    assert dict(readings)[seen[1]] >= 73.0


def test_slow_fall_that_was_named_keeps_its_instant() -> None:
    cut = [one for one in off_from(LONG, 200.0, 260.0, 1.0, 600.0) if one[0] >= 90]

    found = {watch(LONG, LONG.bath_minutes, cut[:n], cut[n - 1][0]) for n in range(120, len(cut))}

    assert len(found) == 1
    assert None not in found


@pytest.mark.parametrize(
    ("swing", "tau", "noise"),
    [
        (0.4, 150.0, 0.1), (0.8, 150.0, 0.0), (0.8, 300.0, 0.0), (0.8, 600.0, 0.0),
        (0.4, 600.0, 0.1), (0.1, 300.0, 0.1),
    ],
)  # fmt: skip
def test_thermostat_that_swings_by_less_than_a_kelvin_is_left_alone(
    swing: float, tau: float, noise: float
) -> None:
    for seed in range(2):
        assert noticed(LONG, swinging(swing, tau, noise, seed)) is None


def test_swing_of_more_than_a_kelvin_is_told_once() -> None:
    readings = swinging(1.4, 150.0, 0.0, 0)

    found = [
        watch(LONG, LONG.bath_minutes, readings[:n], readings[n - 1][0])
        for n in range(1, len(readings) + 1)
    ]

    assert len({one.since for one in found if one is not None}) == 1
    assert found[-1] is None


def test_heater_that_stops_as_its_hold_begins_is_named_a_reading_later() -> None:
    early = noticed(LONG, off_from(LONG, 35.0, 60.0, 1.0))
    late = noticed(LONG, off_from(LONG, 50.0, 70.0, 1.0))

    assert early is not None
    assert late is not None
    assert (early[1], late[1]) == (38.0, 52.0)
