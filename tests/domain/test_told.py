"""What was told or seen: words of a design, read as facts by the rules that ask for them."""

from __future__ import annotations

from dataclasses import fields, replace

import pytest

from cases.domain.design import Design
from cases.domain.design_review import review
from cases.domain.design_slips import flaws
from cases.domain.rule_facts import Facts
from cases.domain.told import ALLOY_NAMED, DRAWING, TOLD, WORDS, facts_told
from tests.domain.rule_designs import FREE, FRONT, of


def test_every_word_says_a_fact_that_the_rules_know() -> None:
    known = {one.name for one in fields(Facts)}

    assert {key for word in WORDS for key in facts_told([word])} <= known
    assert facts_told(TOLD) == {word.replace("-", "_"): True for word in TOLD}
    assert facts_told([]) == {}
    assert all(facts_told([word]) for word in WORDS)
    assert len(WORDS) == len(TOLD) + len(DRAWING) + len(ALLOY_NAMED)


@pytest.mark.parametrize(
    ("word", "fact"), [("drawing-came", True), ("no-drawing", False), ("heavy-bite", None)]
)
def test_whether_a_drawing_came_is_yes_no_or_not_said(word: str, fact: bool | None) -> None:
    assert facts_told([word]).get("drawing_came") is fact


@pytest.mark.parametrize(
    ("word", "design", "rule"),
    [
        ("fit-back", FREE, "BLK-6"),
        ("cast-goes-home", FREE, "BLK-6"),
        ("later-piece", FREE, "BLK-6"),
        ("last-did-not-seat", FREE, "BLK-6"),
        ("no-drawing", FREE, "AGR-1"),
        ("full-front-ridge", FRONT, "BOR-5"),
        ("broke-before", replace(FREE, bar=False, strengthener=None), "BAR-1"),
        ("heavy-bite", replace(FREE, bar=False, strengthener=None), "BAR-1"),
    ],
)
def test_a_word_makes_its_rule_speak_of_it(word: str, design: Design, rule: str) -> None:
    def said(told: list[str]) -> set[str]:
        findings = review(of(design, facts_told(told)))
        return {one.sentence for one in findings if one.rule == rule}

    assert said([word]) - said([])


@pytest.mark.parametrize(
    ("word", "allergy", "rule"),
    [("acrylic-agreed", "acrylic", "ALL-1"), ("named-stainless", "nickel", "CLP-10")],
)
def test_an_answer_to_an_allergy_lets_the_rule_rest(word: str, allergy: str, rule: str) -> None:
    def speaks(told: list[str]) -> bool:
        facts = of(FREE, {allergy: True, **facts_told(told)})
        return rule in {one.rule for one in review(facts)}

    assert (speaks([]), speaks([word])) == (True, False)


@pytest.mark.parametrize(
    ("told", "sentence"),
    [
        ({"hearsay"}, "“hearsay” is nothing that can be told"),
        ({"drawing-came", "no-drawing"}, "Choose one."),
        ({"named-gold", "named-stainless"}, "Choose one."),
    ],
)
def test_what_cannot_be_told_is_a_slip(told: set[str], sentence: str) -> None:
    (flaw,) = flaws(replace(FREE, told=frozenset(told)))

    assert sentence in flaw


def test_what_was_told_is_stored_with_the_design_and_older_ones_have_none() -> None:
    design = replace(FREE, told=frozenset({"heavy-bite", "no-drawing"}))
    data = design.to_json()

    assert data["told"] == ["heavy-bite", "no-drawing"]
    assert Design.from_json(data) == design
    del data["told"]
    assert Design.from_json(data).told == frozenset()
