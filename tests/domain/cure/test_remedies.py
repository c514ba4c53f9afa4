"""Remedies against overheating: each run through the model, with its class, band and price."""

from __future__ import annotations

from dataclasses import replace

import pytest

from cases.domain.cure.heat import OutsideRange
from cases.domain.cure.overheating import RISKS, Filling, expect
from cases.domain.cure.program import LONG, Hold, Program
from cases.domain.cure.remedies import Remedy, remedies

FAST = Program("fast", (Hold(100.0, 60.0, ramp_minutes=30.0, boil=True),), "leaflet")
STRAIGHT = Program("straight", (Hold(100.0, 30.0, boil=True),), "leaflet")
TWO = Program("two", (Hold(74.0, 30.0, ramp_minutes=10.0), Hold(100.0, 60.0, 10.0)), "leaflet")


@pytest.fixture(scope="module")
def of_fast() -> dict[str, Remedy]:
    return {one.kind: one for one in remedies(FAST, [6.0, 12.0])}


def test_each_remedy_says_what_the_model_says_of_it(of_fast: dict[str, Remedy]) -> None:
    slow = replace(FAST, stages=(replace(FAST.stages[0], ramp_minutes=60.0),))
    found = expect(slow.points(), 12.0)

    assert of_fast["ramp"].risk == found.risk
    assert of_fast["ramp"].live_c == (found.live_c.low, found.live_c.high)
    thinner = expect(FAST.points(), 6.0)
    assert of_fast["thinner"].live_c == (thinner.live_c.low, thinner.live_c.high)
    less = expect(FAST.points(), 12.0, filling=Filling(gypsum_mm=12.0))
    assert of_fast["gypsum"].live_c == pytest.approx((less.live_c.low, less.live_c.high))


def test_prices_are_the_minutes_that_the_program_takes_longer(of_fast: dict[str, Remedy]) -> None:
    assert {kind: (one.was, one.now, one.more_minutes) for kind, one in of_fast.items()} == {
        "ramp": (30.0, 60.0, 30.0),
        "hold": (0.0, 90.0, 90.0),
        "gypsum": (20.0, 12.0, 0.0),
        "thinner": (12.0, 6.0, 0.0),
    }


def test_a_slower_way_up_and_a_thinner_piece_help_and_less_gypsum_does_not(
    of_fast: dict[str, Remedy],
) -> None:
    """Slower and thinner are the ordinal facts of the literature; of gypsum the model tells."""
    present = expect(FAST.points(), 12.0)

    assert present.risk == "high"
    for kind in ("ramp", "thinner"):
        assert of_fast[kind].helps
        assert RISKS.index(of_fast[kind].risk) < RISKS.index(present.risk)  # type: ignore[arg-type]
    assert not of_fast["gypsum"].helps


def test_straight_into_boiling_gets_a_way_up_of_an_hour() -> None:
    found = {one.kind: one for one in remedies(STRAIGHT, [12.0])}

    assert (found["ramp"].was, found["ramp"].now) == (0.0, 60.0)
    assert found["ramp"].helps
    assert "thinner" not in found


def test_a_program_with_a_lower_hold_is_held_there_an_hour_longer() -> None:
    found = {one.kind: one for one in remedies(TWO, [14.0])}

    assert (found["hold"].celsius, found["hold"].was, found["hold"].now) == (74.0, 30.0, 90.0)
    assert found["hold"].more_minutes == 60.0


def test_a_program_of_one_low_hold_has_nothing_to_be_held_longer_for() -> None:
    assert "hold" not in {one.kind for one in remedies(LONG, [16.0])}


def test_a_remedy_outside_the_range_says_why() -> None:
    slow = Program("slow", (Hold(100.0, 60.0, ramp_minutes=190.0, boil=True),), "leaflet")
    found = {one.kind: one for one in remedies(slow, [12.0])}

    assert "min before it is hot" in found["ramp"].refused
    assert (found["ramp"].risk, found["ramp"].live_c, found["ramp"].helps) == ("", (), False)


def test_what_has_no_estimate_has_no_remedy() -> None:
    with pytest.raises(OutsideRange):
        remedies(FAST, [25.0])
    with pytest.raises(ValueError, match="thickness"):
        remedies(FAST, [])


def test_remedies_are_plain_values_in_the_record(of_fast: dict[str, Remedy]) -> None:
    import json

    for one in of_fast.values():
        assert json.loads(json.dumps(one.as_json())) == one.as_json()
