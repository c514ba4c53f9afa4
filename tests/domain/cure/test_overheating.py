"""Low, some or high: the classes of the classic programs, and the words beside them."""

from __future__ import annotations

import pytest

from cases.domain.cure.heat import OutsideRange
from cases.domain.cure.overheating import RISKS, SCENARIOS, Limits, expect
from tests.domain.cure.test_heat import FAST, LONG, SHORT, STRAIGHT

LATE_BOIL = [(0, 23), (30, 65), (120, 65), (140, 100), (230, 100)]


@pytest.mark.parametrize(
    ("program", "classes"),
    [
        (LONG, ["low", "low", "low", "low"]),
        (SHORT, ["low", "low", "low", "low"]),
        (FAST, ["some", "some", "some", "high"]),
        (STRAIGHT, ["some", "some", "high", "high"]),
    ],
)
def test_classes_of_3_6_9_and_12_mm(program: list[tuple[float, float]], classes: list[str]) -> None:
    assert [expect(program, mm).risk for mm in (3, 6, 9, 12)] == classes


@pytest.mark.parametrize("program", [LONG, SHORT, LATE_BOIL, FAST, STRAIGHT])
def test_thicker_resin_is_never_of_a_lower_class(program: list[tuple[float, float]]) -> None:
    ranks = [RISKS.index(expect(program, mm).risk) for mm in (2, 4, 8, 11, 14, 20)]

    assert ranks == sorted(ranks)


def test_the_class_is_the_third_lowest_and_the_band_the_spread() -> None:
    found = expect(STRAIGHT, 6)

    assert found.risks == ("some", "high", "some", "some")
    assert found.risk == "some"
    live = [one.live_peak_c for one in found.scenarios]
    assert len(live) == len(SCENARIOS)
    assert (found.live_c.low, found.live_c.high) == (min(live), max(live))


def test_a_hot_bath_while_it_sets_is_some_risk_in_the_thinnest_resin() -> None:
    found = expect(STRAIGHT, 1)

    assert found.risk == "some"
    assert "hotter than 85 °C while the resin" in found.reason


def test_a_lab_may_set_its_own_limits() -> None:
    assert expect(LONG, 12, limits=Limits(boils_c=80, near_c=75)).risk == "high"
    assert expect(LONG, 12, limits=Limits(near_c=80)).risk == "some"


def test_words_are_a_band_and_never_one_number() -> None:
    found = expect(LONG, 12)

    assert found.band_words == (
        "Estimate for a 12 mm section: 74 to 95 °C in the core before it is hard throughout; it "
        "sets fastest about 30 to 52 min after the flask goes in."
    )
    assert found.note.startswith("Heating estimate only.")
    assert "%" not in found.band_words + found.reason + found.note


def test_a_program_in_which_nothing_sets_is_refused() -> None:
    with pytest.raises(OutsideRange, match="may not set"):
        expect([(0, 23), (25, 70)], 12)
