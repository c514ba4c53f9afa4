"""Design rules as data: no source, no rule; limits within bounds, and nothing silenced."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from cases.domain.design_review import RULES, review
from cases.domain.limit import Limit
from cases.domain.rule_spec import MARKS, Rule, load, with_limits
from tests.domain.rule_designs import FREE, found, of


def test_a_rule_without_a_source_or_its_mark_cannot_be_loaded() -> None:
    rule = RULES["PATH-1"]

    for source in ("", "A textbook, 4th edition"):
        with pytest.raises(ValueError, match="no source with a mark"):
            replace(rule, source=source)
    assert all(any(mark in one.source for mark in MARKS) for one in RULES.values())


@pytest.mark.parametrize(
    "source",
    [
        "from memory", ", read", "; from memory", "a textbook, from memory", "student notes, read",
        "judgement; from memory", "Stewart, from memory; Zarb", "the 3rd edition, from memory",
        "Stewart, from memory, against a guideline, read in its abstract", "judgement;",
    ],
)  # fmt: skip
def test_a_mark_that_says_how_something_is_known_wants_something_named(source: str) -> None:
    with pytest.raises(ValueError, match="no source with a mark"):
        replace(RULES["PATH-1"], source=source)


@pytest.mark.parametrize(
    "source",
    [
        "Stewart, from memory",
        "common practice, no published source",
        "judgement",
        "Pound, from memory; the number: judgement",
        "notes at example.org/cards, read: weak",
    ],
)
def test_a_named_source_or_one_that_says_that_there_is_none_can_be_loaded(source: str) -> None:
    assert replace(RULES["PATH-1"], source=source).source == source


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"severity": "perhaps"}, "has the severity"),
        ({"words": "Start level"}, "whole sentence"),
        ({"question": 99}, "no question of the list"),
    ],
)
def test_a_rule_that_makes_no_sense_cannot_be_loaded(changes: dict[str, Any], words: str) -> None:
    with pytest.raises(ValueError, match=words):
        replace(RULES["PATH-1"], **changes)


def test_two_rules_or_limits_of_one_name_cannot_be_loaded() -> None:
    rule = RULES["PATH-1"]

    with pytest.raises(ValueError, match="two rules PATH-1"):
        load([rule], [rule])
    with pytest.raises(ValueError, match="two limits"):
        load([replace(rule, limits=rule.limits * 2)])
    with pytest.raises(ValueError, match="outside its own bounds"):
        Limit("tilt", 30, "°", "Most tilt", 3, 20)


def test_a_lab_changes_a_limit_and_nothing_else() -> None:
    tilted = of(FREE, survey=replace(FREE.survey, tilt_deg=7.0, tilt_to="front"))

    strict = review(tilted, {"PATH-1": {"tilt": 5.0}})

    assert "PATH-1" not in {one.rule for one in review(tilted)}
    assert next(one for one in strict if one.rule == "PATH-1").sentence == (
        "The cast is tilted by 7°, more than 5°. Start level: a small tilt may even out undercuts "
        "on the gap walls, a large one only moves them."
    )
    assert {one.source for one in strict} <= {rule.source for rule in RULES.values()}


@pytest.mark.parametrize(
    "changed",
    [
        {"PATH-1": {"tilt": 20.5}}, {"PATH-1": {"tilt": 2.9}}, {"PATH-1": {"tilt": float("nan")}},
        {"PATH-1": {"tilt": "10"}}, {"PATH-1": {"tilt": True}}, {"PATH-1": {"source": 0.0}},
        {"PATH-1": {"off": 1.0}}, {"PATH-9": {"tilt": 10.0}},
    ],
)  # fmt: skip
def test_a_limit_out_of_its_bounds_or_of_no_rule_is_refused(changed: dict[str, Any]) -> None:
    with pytest.raises(ValueError, match="PATH"):
        review(of(FREE), changed)


@pytest.mark.parametrize("rule", RULES.values(), ids=lambda rule: rule.id)
def test_every_limit_may_stand_at_either_bound(rule: Rule) -> None:
    for limit in rule.limits:
        for value in (limit.low, limit.high):
            changed = {rule.id: {limit.name: value}}
            assert with_limits(RULES, changed)[rule.id][limit.name] == value
            review(of(FREE, survey=found((44, "distal", 0.5))), changed)
