"""The limits that a lab changed: kept within bounds and in order, the usual one when in doubt."""

from __future__ import annotations

from typing import Any

import pytest

from cases.domain.design_review import RULES
from cases.domain.rule_limits import IN_ORDER, LimitRefused, changed_by, usable


def test_limits_that_stand_in_order_do_so_as_usual() -> None:
    for rule, pairs in IN_ORDER.items():
        usual = {limit.name: limit.value for limit in RULES[rule].limits}
        assert all(usual[low] <= usual[high] for low, high in pairs)


def test_a_further_limit_leaves_the_others_as_they_were() -> None:
    changed = changed_by({"PATH-1": {"tilt": 8.0}}, {"CLP-12": {"away": 7.0}})

    assert changed == {"PATH-1": {"tilt": 8.0}, "CLP-12": {"away": 7.0}}


def test_the_usual_value_is_no_change() -> None:
    assert changed_by({"PATH-1": {"tilt": 8.0}}, {"PATH-1": {"tilt": 10.0}}) == {}


@pytest.mark.parametrize(
    ("values", "place", "words"),
    [
        ({"PATH-9": {"tilt": 8.0}}, ("PATH-9", "tilt"), "no rule PATH-9"),
        ({"PATH-1": {"source": 8.0}}, ("PATH-1", "source"), "no limit “source”"),
        ({"PATH-1": {"tilt": 20.5}}, ("PATH-1", "tilt"), "a number from 3 to 20°"),
        ({"PATH-1": {"tilt": float("nan")}}, ("PATH-1", "tilt"), "from 3 to 20"),
        ({"PATH-1": {"tilt": "8"}}, ("PATH-1", "tilt"), "from 3 to 20"),
        ({"CLP-11": {"least": 3.0}}, ("CLP-11", "least"), "would lie above"),
    ],
)
def test_what_cannot_be_is_refused_with_its_place(
    values: dict[str, Any], place: tuple[str, str], words: str
) -> None:
    with pytest.raises(LimitRefused, match=words) as refused:
        changed_by({}, values)

    assert (refused.value.rule, refused.value.limit) == place


def test_limits_that_would_cross_may_be_moved_together() -> None:
    both = {"CLP-4": {"least": 8.0, "most": 9.0}}

    assert changed_by({}, both) == both
    with pytest.raises(LimitRefused, match=r"\(8\).*\(7\)"):
        changed_by(both, {"CLP-4": {"most": 7.0}})


def test_a_stored_limit_that_no_rule_knows_any_more_is_passed_over() -> None:
    stored = {
        "PATH-1": {"tilt": 8.0, "off": 1.0},
        "PATH-9": {"tilt": 8.0},
        "BLK-4": {"both_sides": 9},
    }

    assert usable(stored) == {"PATH-1": {"tilt": 8.0}}
    assert changed_by(stored, {"PATH-1": {"tilt": 9.0}}) == {"PATH-1": {"tilt": 9.0}}
