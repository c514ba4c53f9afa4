"""The limits of the cure that a lab sets: bounded, in order, the usual one when in doubt."""

from __future__ import annotations

from typing import Any

import pytest

from cases.domain.cure import overheating, verdict
from cases.domain.cure.limit_words import of_estimate, of_verdict
from cases.domain.cure.program import LONG, SHORT
from cases.domain.cure.settings import (
    CURE_LIMITS,
    CureLimitRefused,
    changed_by,
    estimate_limits,
    in_force,
    problems,
    usable,
    usual_filling,
    verdict_limits,
)
from cases.domain.rule_spec import MARKS

USUAL = {
    "complete_percent": 98.0, "doubtful_percent": 85.0, "overshoot_k": 8.0,
    "probe_check_days": 365.0, "near_c": 95.0, "bath_at_setting_c": 85.0, "gypsum_mm": 20.0,
}  # fmt: skip


def test_a_lab_that_changed_nothing_judges_as_is_usual() -> None:
    assert in_force({}) == USUAL
    assert verdict_limits({}) == verdict.Limits()
    assert estimate_limits({}) == overheating.Limits()
    assert usual_filling({}) == overheating.USUAL


def test_each_limit_comes_to_where_it_is_judged_by() -> None:
    odd = {
        "complete_percent": 97.5, "doubtful_percent": 80.0, "overshoot_k": 5.0,
        "probe_check_days": 180.0, "near_c": 92.0, "bath_at_setting_c": 80.0, "gypsum_mm": 28.0,
    }  # fmt: skip

    assert verdict_limits(odd) == verdict.Limits(0.975, 0.8, 5.0, 180)
    assert isinstance(verdict_limits(odd).probe_check_days, int)
    assert estimate_limits(odd) == overheating.Limits(near_c=92.0, bath_at_setting_c=80.0)
    assert usual_filling(odd).gypsum_mm == 28.0


def test_every_limit_says_what_it_changes_and_where_it_comes_from() -> None:
    for limit in CURE_LIMITS.values():
        assert limit.changes.endswith(".")
        assert any(mark in limit.source for mark in ("assumed", *MARKS)), limit.name


def test_no_limit_lets_near_come_to_boiling() -> None:
    assert CURE_LIMITS["near_c"].high < overheating.Limits().boils_c


@pytest.mark.parametrize("end", ["low", "high"])
def test_the_estimate_reaches_a_lab_at_the_ends_of_the_bounds(end: str) -> None:
    ends = {key: getattr(limit, end) for key, limit in CURE_LIMITS.items()}

    found = overheating.expect(
        SHORT.points(), 6.0, filling=usual_filling(ends), limits=estimate_limits(ends)
    )

    assert found.filling.gypsum_mm == ends["gypsum_mm"]


def test_a_thin_piece_straight_into_boiling_water_is_never_low() -> None:
    loosest = {key: limit.high for key, limit in CURE_LIMITS.items()}

    found = overheating.expect([(0, 100), (60, 100)], 3.0, limits=estimate_limits(loosest))

    assert found.risk == "some"


def test_a_further_limit_leaves_the_others_as_they_were() -> None:
    assert changed_by({"near_c": 92.0}, {"gypsum_mm": 25}) == {"near_c": 92.0, "gypsum_mm": 25.0}


def test_the_usual_value_is_no_change() -> None:
    assert changed_by({"near_c": 92.0}, {"near_c": 95.0}) == {}


@pytest.mark.parametrize(
    ("values", "key", "words"),
    [
        ({"boils_c": 101.0}, "boils_c", "no limit “boils_c”. Load the page again"),
        (
            {"complete_percent": 0.98},
            "complete_percent",
            r"90 to 100\s%; usual is 98\s%. Enter",
        ),
        ({"near_c": 101}, "near_c", r"number from 85 to 100\s°C"),
        ({"gypsum_mm": float("nan")}, "gypsum_mm", r"from 10 to 40\smm"),
        ({"gypsum_mm": "20"}, "gypsum_mm", r"from 10 to 40\smm"),
        ({"gypsum_mm": True}, "gypsum_mm", r"from 10 to 40\smm"),
        ({"probe_check_days": 90.5}, "probe_check_days", r"whole number from 30 to 1095\sdays"),
        (
            {"doubtful_percent": 98},
            "doubtful_percent",
            r"\(98\s%\) has to lie below “Complete from”",
        ),
        ({"doubtful_percent": 99}, "doubtful_percent", "Lower the first or raise the second"),
    ],
)
def test_what_cannot_be_is_refused_with_its_place_and_the_way_out(
    values: dict[str, Any], key: str, words: str
) -> None:
    with pytest.raises(CureLimitRefused, match=words) as refused:
        changed_by({}, values)

    assert refused.value.key == key


def test_limits_that_would_cross_may_be_moved_together() -> None:
    both = {"complete_percent": 92.0, "doubtful_percent": 90.0}

    assert changed_by({}, both) == both
    with pytest.raises(CureLimitRefused, match=r"90\s%.*90\s%"):
        changed_by(both, {"complete_percent": 90.0})


def test_everything_that_is_wrong_is_said_at_once() -> None:
    crossed = {"complete_percent": 91.0, "doubtful_percent": 95.0}

    assert set(problems({}, {"near_c": 1.0, "gypsum_mm": 25.0, **crossed})) == {"near_c", *crossed}


def test_a_stored_limit_that_is_none_any_more_leaves_the_usual_one() -> None:
    stored = {"near_c": 92.0, "gypsum_mm": 400.0, "steam": 3.0, "overshoot_k": "8"}

    assert usable(stored) == {"near_c": 92.0}
    assert usable({"doubtful_percent": 98.5, "near_c": 92.0}) == {"near_c": 92.0}
    assert changed_by(stored, {"gypsum_mm": 25.0}) == {"near_c": 92.0, "gypsum_mm": 25.0}


def test_less_heating_counts_as_complete_only_where_the_lab_says_so() -> None:
    short = [(60.0 * minute, min(74.0, 23 + 1.7 * minute)) for minute in range(486)]

    usual = verdict.assess(short, LONG.holds)
    looser = verdict.assess(short, LONG.holds, limits=verdict_limits({"complete_percent": 95.0}))

    assert (usual.verdict, looser.verdict) == ("doubtful", "complete")


def test_limits_are_said_as_they_were_kept() -> None:
    kept = {"complete": 0.975, "doubtful": 0.8, "overshoot_k": 5.0, "probe_check_days": 180}

    assert of_verdict(kept).replace("\u00a0", " ") == (
        "complete from 97.5 %, doubtful from 80 % of what a stage needs; at most 5 °C above the "
        "first stage before the resin has set; a probe check counts for 180 days"
    )
    estimate = {"boils_c": 100.5, "near_c": 92.0, "bath_at_setting_c": 80.0}
    assert of_estimate(estimate).replace("\u00a0", " ") == (
        "The risk counts as some above 92 °C in the core, or with a bath above 80 °C while the "
        "resin sets, and as high above 100.5 °C in the core."
    )
