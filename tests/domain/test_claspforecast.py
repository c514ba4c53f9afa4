"""What a clasp will do: bands from the ranges, and when which warning speaks."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cases.domain.alloys import ALLOYS, Alloy
from cases.domain.clasp import bending_stress_mpa, shortest_arm_mm, tip_force_n, usual_wire
from cases.domain.claspforecast import ClaspForecast, forecast, whole_piece
from cases.domain.quantity import Band
from cases.domain.wire import parse_wire

STAINLESS = ALLOYS["stainless"]


def _forecast(
    wire: str = "0.9 mm", undercut: float = 0.25, arm: float = 9.5, alloy: Alloy = STAINLESS
) -> ClaspForecast:
    return forecast(wire=parse_wire(wire), alloy=alloy, undercut_mm=undercut, arm_mm=arm)


def _with_stress_of_1_to_2(strength: Band) -> ClaspForecast:
    """An arm whose stress is 1000 to 2000 MPa, of an alloy that yields at ``strength``."""
    # 3·E·d·u/(2L²) with d 1, u 0.5, L 10 is 7.5 MPa for each GPa.
    alloy = replace(STAINLESS, modulus_gpa=Band(1000 / 7.5, 2000 / 7.5), yield_mpa=strength)
    found = _forecast("1.0 mm", 0.5, 10, alloy)
    assert found.stress_mpa == Band(pytest.approx(1000), pytest.approx(2000))
    return found


def test_bands_reach_from_the_softest_wire_to_the_stiffest() -> None:
    arm = {"diameter_mm": 0.9, "length_mm": 9.5, "undercut_mm": 0.25}
    found = _forecast()

    for modulus, force, stress in (
        (160, found.force_n.low, found.stress_mpa.low),
        (200, found.force_n.high, found.stress_mpa.high),
    ):
        assert force == pytest.approx(tip_force_n(**arm, modulus_gpa=modulus))
        assert stress == pytest.approx(bending_stress_mpa(**arm, modulus_gpa=modulus))
    assert found.reserve.low == pytest.approx(1 - found.stress_mpa.high / 1100)
    assert found.reserve.high == pytest.approx(1 - found.stress_mpa.low / 1760)
    assert found.shortest_arm_mm.low == pytest.approx(
        shortest_arm_mm(diameter_mm=0.9, undercut_mm=0.25, modulus_gpa=160, yield_mpa=1760)
    )
    assert found.shortest_arm_mm.high == pytest.approx(
        shortest_arm_mm(diameter_mm=0.9, undercut_mm=0.25, modulus_gpa=200, yield_mpa=1100)
    )


def test_withdrawal_reaches_from_the_profile_to_the_wedge() -> None:
    found = _forecast()

    assert found.withdrawal_n.low == pytest.approx(found.force_n.low * 0.300, rel=2e-3)
    assert found.withdrawal_n.high == pytest.approx(found.force_n.high * 0.60825, rel=1e-4)
    assert found.tip_depth_mm == pytest.approx(1.37, abs=0.005)


@pytest.mark.parametrize(
    ("strength", "stays"),
    [
        (Band(2239, 3000), "quiet"),  # middle 1500 is 0.67 of 2238.8
        (Band(2238, 3000), "near"),
        (Band(2001, 2100), "near"),
        (Band(1999, 2100), "may"),
        (Band(500, 1001), "may"),
        (Band(500, 999), "will"),
    ],
)
def test_whether_the_wire_stays_bent(strength: Band, stays: str) -> None:
    assert _with_stress_of_1_to_2(strength).stays == stays


@pytest.mark.parametrize(
    ("wire", "undercut", "arm", "stays"),
    [("18 AWG", 0.508, 8, "will"), ("20 AWG", 0.508, 8, "may"), ("19 AWG", 0.254, 12, "quiet")],
)
def test_stainless_wire_stays_bent_where_the_arm_is_short(
    wire: str, undercut: float, arm: float, stays: str
) -> None:
    assert _forecast(wire, undercut, arm).stays == stays


def test_a_warning_says_the_fact_and_what_to_do() -> None:
    found = _forecast("18 AWG", 0.508, 8)

    assert found.stays_words == (
        "Will stay bent at the first insertion: at least 1950 MPa, and it yields at 1760 at most. "
        "An arm of 12.0 mm would spring back; or take a thinner wire or a shallower undercut."
    )
    assert found.holds_words.startswith("Too stiff: about 7.7 to 19.5 N to pull it off. Take")
    assert "straight beam" in found.note


def test_the_arm_that_a_warning_names_does_spring_back() -> None:
    words = _forecast("1.0 mm", 0.5, 8).stays_words
    named = float(words.split("An arm of ")[1].split(" ")[0])

    assert _forecast("1.0 mm", 0.5, named).stays == "near"
    assert _forecast("1.0 mm", 0.5, named - 0.1).stays == "may"


def _pulling(middle: float) -> ClaspForecast:
    """An arm whose pull has this middle: the force goes with the modulus."""
    one = _forecast(alloy=replace(STAINLESS, modulus_gpa=Band(10, 10)))
    modulus = 10 * middle / one.withdrawal_n.middle
    return _forecast(alloy=replace(STAINLESS, modulus_gpa=Band(modulus, modulus)))


@pytest.mark.parametrize(
    ("pull", "holds"),
    [
        (0.69, "too-weak"), (0.71, "rather-weak"), (0.99, "rather-weak"), (1.01, "fits"),
        (4.99, "fits"), (5.01, "rather-stiff"), (6.99, "rather-stiff"), (7.01, "too-stiff"),
    ],
)  # fmt: skip
def test_how_a_clasp_holds(pull: float, holds: str) -> None:
    assert _pulling(pull).holds == holds


@pytest.mark.parametrize("tooth", [33, 34, 46])
def test_the_usual_wires_fit_and_spring_back(tooth: int) -> None:
    usual = usual_wire(tooth)
    found = _forecast(f"{usual.wire_mm} mm", usual.undercut_mm, usual.arm_mm)

    assert found.holds == "fits"
    assert found.stays in {"quiet", "near"}


def test_no_undercut_gives_no_hold() -> None:
    found = _forecast(undercut=0)

    assert found.force_n == Band(0, 0)
    assert (found.stays, found.holds) == ("quiet", "too-weak")


@given(st.floats(0.05, 1.0), st.floats(4, 20), st.sampled_from(sorted(ALLOYS)))
def test_bands_never_turn_over(undercut: float, arm: float, alloy: str) -> None:
    found = _forecast("0.9 mm", undercut, arm, ALLOYS[alloy])

    for band in (
        found.force_n,
        found.stress_mpa,
        found.reserve,
        found.shortest_arm_mm,
        found.withdrawal_n,
    ):
        assert band.low <= band.high
    assert found.stays_words
    assert found.holds_words


@pytest.mark.parametrize(
    ("pulls", "verdict"),
    [
        ((1.4, 1.5), "too-weak"), ((1.5, 1.6), "fits"), ((4.9, 5.0), "fits"),
        ((5.0, 5.1), "too-stiff"), ((3.1,), "fits"),
    ],
)  # fmt: skip
def test_all_clasps_together(pulls: tuple[float, ...], verdict: str) -> None:
    found = whole_piece(_pulling(pull) for pull in pulls)

    assert found is not None
    assert found.verdict == verdict
    assert found.withdrawal_n.middle == pytest.approx(sum(pulls))
    assert "3 to 10" in found.words


def test_a_piece_without_clasps_has_no_pull() -> None:
    assert whole_piece([]) is None


def test_forecast_refuses_an_arm_of_nothing() -> None:
    with pytest.raises(ValueError, match="The free arm has to be a number above zero, not 0"):
        _forecast(arm=0)


@pytest.mark.parametrize("share", [0.4, 0.5, 0.8])
def test_a_tapered_arm_is_softer_and_its_shortest_springs_back(share: float) -> None:
    def tapered(arm: float) -> ClaspForecast:
        return forecast(
            wire=parse_wire("0.9 mm"), alloy=STAINLESS, undercut_mm=0.25, arm_mm=arm,
            tip_share=share,
        )  # fmt: skip

    plain, found = _forecast(), tapered(9.5)
    # F goes with the flexibility d₀/d₁, the stress at s from the tip with F·s/d³.
    deepest = max((s / 1000) / (share + (1 - share) * s / 1000) ** 3 for s in range(1, 1001))

    assert found.force_n.high == pytest.approx(share * plain.force_n.high)
    assert found.withdrawal_n.high == pytest.approx(share * plain.withdrawal_n.high)
    assert found.stress_mpa.high == pytest.approx(share * deepest * plain.stress_mpa.high, rel=1e-5)
    assert tapered(found.shortest_arm_mm.high).stress_mpa.high == pytest.approx(1100)
    assert tapered(found.shortest_arm_mm.low).stress_mpa.low == pytest.approx(1760)


def test_only_a_round_arm_is_reckoned_tapered() -> None:
    with pytest.raises(ValueError, match="Only a round arm"):
        forecast(
            wire=parse_wire("0.9 mm"), alloy=STAINLESS, undercut_mm=0.25, arm_mm=9.5,
            section="half_round", tip_share=0.5,
        )  # fmt: skip
