"""Programs: the classic cycles as examples, what cannot be one, and how water boils up a hill."""

from __future__ import annotations

import json
from dataclasses import replace
from math import nan, sqrt

import pytest

from cases.domain.cure.dose import equivalent_minutes
from cases.domain.cure.program import (
    EXAMPLES,
    LONG,
    SHORT,
    Hold,
    Program,
    as_json,
    boiling_c,
    problems,
    read_program,
)


# Source: reckoned apart from this program from the standard atmosphere and Antoine's equation.
@pytest.mark.parametrize(
    ("metres", "celsius"),
    [(0, 100.0), (500, 98.3), (1000, 96.7), (1500, 95.0), (1600, 94.7), (2000, 93.4)],
)
def test_a_bath_boils_lower_up_a_hill(metres: float, celsius: float) -> None:
    assert boiling_c(metres) == pytest.approx(celsius, abs=0.05)


def saturation_c(pa: float) -> float:
    """Return at what temperature water boils under a pressure, °C.

    Source: IAPWS-IF97, region 4, backward equation; it gives the release's own check value of
    372.755919 K at 0.1 MPa.
    """
    n = (
        1167.0521452767, -724213.16703206, -17.073846940092, 12020.82470247, -3232555.0322333,
        14.91510861353, -4823.2657361591, 405113.40542057, -0.23855557567849, 650.17534844798,
    )  # fmt: skip
    root = (pa / 1e6) ** 0.25
    e = root**2 + n[2] * root + n[5]
    f = n[0] * root**2 + n[3] * root + n[6]
    g = n[1] * root**2 + n[4] * root + n[7]
    d = 2 * g / (-f - sqrt(f**2 - 4 * e * g))
    return (n[9] + d - sqrt((n[9] + d) ** 2 - 4 * (n[8] + n[9] * d))) / 2 - 273.15


# Pressures by geopotential height: tables of the US Standard Atmosphere 1976, from memory.
@pytest.mark.parametrize(
    ("metres", "hpa"),
    [(0, 1013.25), (500, 954.61), (1000, 898.75), (2000, 794.95), (3000, 701.09), (5000, 540.20)],
)
def test_a_bath_boils_as_the_steam_tables_say(metres: float, hpa: float) -> None:
    assert saturation_c(1e5) + 273.15 == pytest.approx(372.755919, abs=1e-6)
    assert boiling_c(metres) == pytest.approx(saturation_c(100 * hpa), abs=0.1)


@pytest.mark.parametrize("metres", [-431, 5001, nan])
def test_altitude_has_limits(metres: float) -> None:
    with pytest.raises(ValueError, match="An altitude is a number of metres"):
        boiling_c(metres)


def test_examples_are_the_two_classic_cycles_and_name_their_source() -> None:
    assert {key: program.holds for key, program in EXAMPLES.items()} == {
        "long": ((74, 480),),
        "short": ((74, 120), (100, 60)),
    }
    for program in EXAMPLES.values():
        assert problems(program) == ()
        assert "Phillips" in program.source
        assert "from memory" in program.status
        assert program.compared_on == ""


def test_points_are_the_ramp_and_the_hold() -> None:
    assert LONG.points() == ((0, 23), (30, 74), (510, 74))
    assert SHORT.points(20) == ((0, 20), (30, 74), (150, 74), (180, 100), (240, 100))
    seconds = [(minute * 60, celsius) for minute, celsius in LONG.points()]
    assert equivalent_minutes(seconds) == pytest.approx(484.5, abs=0.1)


def test_points_of_a_hot_bath_have_no_ramp() -> None:
    straight = Program("straight", (Hold(100, 60, boil=True),), "leaflet")
    moved = Program("two baths", (Hold(74, 90), Hold(100, 30)), "leaflet")

    assert straight.points() == ((0, 100), (60, 100))
    assert moved.points() == ((0, 74), (90, 74), (90, 100), (120, 100))


def test_only_a_boil_follows_the_altitude() -> None:
    high = SHORT.at_altitude(1000)

    assert high.stages[0] == SHORT.stages[0]
    assert high.stages[1].celsius == pytest.approx(96.7, abs=0.05)
    assert SHORT.at_altitude(-100).stages[1].celsius == 100


def test_sums_of_minutes() -> None:
    assert (SHORT.bath_minutes, SHORT.cooling_minutes) == (240, 45)


@pytest.mark.parametrize(
    ("wrong", "sentence"),
    [
        ({"name": " "}, "no name"),
        ({"source": ""}, "Whose instruction"),
        ({"stages": ()}, "one stage or more"),
        ({"stages": (Hold(60, 3000),)}, "65 to 103"),
        ({"stages": (Hold(165, 480),)}, "65 to 103"),
        ({"stages": (Hold(nan, 480),)}, "65 to 103"),
        ({"stages": (Hold(74, 0),)}, "minutes above zero"),
        ({"stages": (Hold(74, nan),)}, "minutes above zero"),
        ({"stages": (Hold(74, 480, -1),)}, "zero or more"),
        ({"stages": (Hold(74, 60), Hold(74, 60))}, "no hotter"),
        ({"stages": (Hold(101, 60),)}, "boils at 100.0"),
        ({"stages": (Hold(74, 120), Hold(80, 60, boil=True))}, "marked as a boil"),
        ({"bench_rest_minutes": -5}, "zero or more"),
        ({"bench_cool_minutes": nan}, "zero or more"),
        ({"largest_mm": 0}, "above zero"),
        ({"compared_on": "9.12.2026"}, "2026-12-09"),
    ],
)
def test_what_is_no_program_is_said(wrong: dict[str, object], sentence: str) -> None:
    (found,) = problems(replace(LONG, **wrong))

    assert sentence in found


def test_what_the_bath_cannot_reach_is_said_unless_it_is_a_boil() -> None:
    plain = replace(SHORT, stages=(Hold(74, 120), Hold(100, 60)))

    assert "boils at 93.4 °C" in problems(plain, 2000)[0]
    assert problems(SHORT, 2000) == ()


def test_a_boil_is_written_as_hot_as_water_boils_here_or_hotter() -> None:
    boils = [replace(SHORT, stages=(Hold(74, 120), Hold(c, 60, boil=True))) for c in (93, 98, 100)]

    assert [bool(problems(one)) for one in boils] == [True, False, False]
    assert [bool(problems(one, 2000)) for one in boils] == [False, False, False]


@pytest.mark.parametrize("program", EXAMPLES.values())
def test_a_program_is_kept_as_json_and_read_back(program: Program) -> None:
    kept = json.loads(json.dumps(as_json(program)))

    assert read_program(kept) == program


@pytest.mark.parametrize("data", [None, [], {"name": "x"}, {**as_json(LONG), "heat": 1}])
def test_json_of_another_shape_is_refused(data: object) -> None:
    with pytest.raises(ValueError, match="program"):
        read_program(data)
