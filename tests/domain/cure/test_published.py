"""What published studies of cures found, asked of the model in order, not in figures.

One of them it does not reproduce, and says so: pores of thin specimens in boiling water. Numbers
of leftover monomer are compared here, with each other and with two published ones that were part
of what the constants were fitted to or lie near it; they are said nowhere else.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from cases.domain.cure.heat import simulate
from cases.domain.cure.heat_constants import value
from cases.domain.cure.heat_grid import flask
from cases.domain.cure.heat_kinetics import mixed
from cases.domain.cure.heat_march import march
from cases.domain.cure.overheating import expect
from tests.domain.cure.test_heat import LONG, SHORT, STRAIGHT

BOILS = value("mma_boiling_point")
Points = list[tuple[float, float]]


def left_over(program: Points, *, in_flask: bool) -> float:
    """Return the share of the mass that is still monomer, on the mean of a 3 mm section.

    Out of the flask the resin is as warm as the bath: a film that takes up all heat.
    """
    slab = flask(3)
    if not in_flask:
        slab = replace(flask(1), layers=flask(1).layers[:1], film=1e6)
    share = mixed(2.3, 0.5).monomer_share
    return float(share * (1 - march([slab], program).converted[-1, 0].mean()))


def hold(celsius: float, minutes: float) -> Points:
    return [(0, 23), (30, celsius), (30 + minutes, celsius)]


def then_boil(program: Points, minutes: float) -> Points:
    end = program[-1][0]
    return [*program, (end + 20, 100), (end + 20 + minutes, 100)]


def test_a_thick_section_boils_its_monomer_only_when_heated_fast() -> None:
    """Phillips/Anusavice, from memory: above the boiling point straight into 100 °C, not at 74."""
    assert simulate(STRAIGHT, 12).peak_c > BOILS > simulate(LONG, 12).peak_c


@pytest.mark.parametrize("thickness", [3, 6])
@pytest.mark.parametrize("program", [LONG, SHORT])
def test_conventional_cycles_boil_no_monomer_at_3_and_6_mm(
    program: Points, thickness: float
) -> None:
    """Study of the University of Mosul (rden), abstract read: no difference in porosity."""
    assert simulate(program, thickness).live_peak_c < BOILS
    assert expect(program, thickness).risk == "low"


def test_pores_of_thin_specimens_in_boiling_water_are_not_reproduced() -> None:
    """Nisar 2015, IJDSR 3(3), abstract read: 3 mm straight into 100 °C was the most porous.

    The model finds no boiling monomer there. It must not be called *low* all the same: the rule
    of the hot bath while it sets stands in for what the model does not know.
    """
    assert simulate(STRAIGHT, 3).live_peak_c < BOILS
    found = expect(STRAIGHT, 3)
    assert found.risk == "some"
    assert "free of pores" in found.note


def test_a_boil_after_70_degrees_leaves_less_monomer() -> None:
    """Vallittu 1998, abstract read: 70 then 100 °C significantly less than 70 °C only."""
    alone = hold(70, 420)

    assert left_over(then_boil(alone, 60), in_flask=True) < left_over(alone, in_flask=True)


def test_an_hour_of_boil_after_the_long_cycle_leaves_less_monomer() -> None:
    """Taught, from memory: a terminal boil of an hour is strongly advised."""
    assert left_over(then_boil(LONG, 60), in_flask=True) < left_over(LONG, in_flask=True)


def test_the_cycles_of_a_soft_liner_study_stand_in_its_order_where_resin_is_bath() -> None:
    """Abstract read: 73 °C 90 min + 100 °C 30 min below 73 °C 9 h; two hours of boil lowest.

    In a flask of 20 mm gypsum the first two turn round, as a boil of 30 min hardly reaches the
    resin: the bath's program alone does not decide it.
    """
    short = then_boil(hold(73, 90), 30)
    long = hold(73, 540)
    longest = then_boil(long, 120)

    bare = [left_over(program, in_flask=False) for program in (longest, short, long)]
    assert bare == sorted(bare)
    assert left_over(longest, in_flask=True) < left_over(long, in_flask=True)
    assert left_over(short, in_flask=True) > left_over(long, in_flask=True)


@pytest.mark.parametrize(
    ("program", "percent", "factor"),
    [([(0, 100), (720, 100)], 0.07, 3), (then_boil(LONG, 60), 0.67, 2)],
    ids=["twelve-hours-of-boil", "hot-water"],
)
def test_leftover_monomer_is_of_the_published_size(
    program: Points, percent: float, factor: float
) -> None:
    """Vallittu 1998, 12 h at 100 °C, abstract read: the order of magnitude, and part of the fit.

    A hot-water cure of a review, cycle not read: within a factor of two after the long cycle.
    """
    assert percent / factor < 100 * left_over(program, in_flask=True) < percent * factor
