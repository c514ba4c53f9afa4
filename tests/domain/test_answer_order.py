"""What each answer does to an order, or leaves for somebody to do."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime
from typing import Any

import pytest

from cases.domain.answer_order import _RULES, _SETTLED, Given, effect_of
from cases.domain.order import Disinfection, Extraction, Item, OrderForm
from cases.domain.questions import BY_NUMBER, QUESTIONS, answer_to
from tests.factories import NOW

DAY = date(2027, 1, 12)


def effect(number: int, answer: str, how: Any = "practice", **given: Any) -> Any:
    order = given.pop("order", OrderForm())
    return effect_of(number, answer, Given(**given), order, how)


def test_every_rule_is_of_an_answer_that_is_offered() -> None:
    for number, key in [*_RULES, *_SETTLED]:
        assert answer_to(BY_NUMBER[number], key).key == key


def test_every_answer_changes_something_is_settled_or_sends_somebody() -> None:
    for question in QUESTIONS:
        for answer in question.answers:
            found = effect(question.number, answer.key)
            known = (question.number, answer.key) in _SETTLED
            assert found.changes or found.bar is not None or found.step or known, answer


@pytest.mark.parametrize(
    ("number", "answer", "given", "changes"),
    [
        (2, "no", {}, {"disinfection": Disinfection("no")}),
        (
            2, "yes", {"agent": "spray", "minutes": 10},
            {"disinfection": Disinfection("yes", "practice", "spray", 10)},
        ),
        (3, "shade", {"shade": "A2", "guide": "the old one"},
         {"shade_how": "named", "shade": "A2", "shade_guide": "the old one"}),
        (3, "old-piece", {}, {"shade_how": "old-piece"}),
        (3, "laboratory", {}, {"shade_how": "laboratory"}),
        (4, "name", {"mould": "3C"}, {"mould_how": "named", "mould": "3C"}),
        (4, "as-before", {}, {"mould_how": "as-before"}),
        (6, "rim", {}, {"bite": "rim"}),
        (6, "record", {"day": DAY},
         {"bite": "record", "items": (Item("bite", follows_later=True, expected_on=DAY),)}),
        (7, "these", {"depths": {36: "flush"}},
         {"extractions": (Extraction(36, "flush"),), "extraction_order": True}),
        (14, "left-full", {}, {"borders": "left-full"}),
        (14, "reduced-2mm", {}, {"borders": "reduced-2mm"}),
        (15, "none", {}, {"polish": "none"}),
        (20, "none-known", {}, {"allergies": ("none-known",)}),
        (20, "nickel", {}, {"allergies": ("nickel",)}),
        (20, "other-allergy", {"words": "Cobalt"},
         {"allergies": ("other-allergy",), "allergy_words": "Cobalt"}),
        (21, "no", {}, {"try_in": False}),
        (22, "new-day", {"day": DAY}, {"needed_on": DAY}),
    ],
)  # fmt: skip
def test_clear_answer_changes_the_order(
    number: int, answer: str, given: dict[str, Any], changes: dict[str, Any]
) -> None:
    assert effect(number, answer, **given).changes == changes


@pytest.mark.parametrize(
    ("number", "answer", "how", "given", "left"),
    [
        (1, "alginate", "practice", {}, ("order", "missing")),
        (2, "yes", "practice", {"agent": "spray"}, ("order", "missing")),
        (2, "yes", "telephone", {"agent": "spray", "minutes": 9}, ("look", "in-writing")),
        (3, "shade", "practice", {"words": "A2, I think"}, ("order", "missing")),
        (4, "name", "practice", {"mould": "x" * 41}, ("order", "missing")),
        (6, "photograph", "practice", {}, ("order", "words")),
        (7, "these", "telephone", {"depths": {36: "flush"}}, ("order", "in-writing")),
        (14, "other", "practice", {"words": "As last time"}, ("order", "words")),
        (16, "laboratory", "practice", {}, ("design", "words")),
        (17, "make-room", "practice", {}, ("design", "words")),
        (22, "finish-without", "practice", {"words": "polish"}, ("order", "words")),
        (23, "remake", "practice", {"day": DAY}, ("remake", "words")),
        (25, "confirm", "practice", {}, ("order", "words")),
        (25, "confirm", "telephone", {}, ("written", "in-writing")),
        (0, "other", "practice", {"words": "36 and 37"}, ("order", "words")),
        (14, "ring-me", "practice", {}, ("ring", "words")),
    ],
)
def test_answer_that_is_not_clear_is_left_to_a_person(
    number: int, answer: str, how: str, given: dict[str, Any], left: tuple[str, str]
) -> None:
    found = effect(number, answer, how, **given)

    assert (found.changes, found.bar) == ({}, None)
    assert (found.step, found.why) == left


def test_words_beside_a_clear_answer_are_left_to_read() -> None:
    found = effect(14, "left-full", words="but free the frenum")

    assert found.changes == {"borders": "left-full"}
    assert (found.step, found.why) == ("look", "words")


def test_impression_is_told_only_what_was_not_known_of_it() -> None:
    known = Item("opposing", "impression", material="polyether", taken_at=NOW)
    scan, later = Item("working", "scan"), Item("working", "impression", follows_later=True)
    order = OrderForm(items=(Item("working", "impression"), known, scan, later))
    at = datetime.fromisoformat("2026-12-09T08:00:00+00:00")

    told = effect(1, "alginate", at=at, order=order)

    first = Item("working", "impression", material="alginate", taken_at=at)
    assert told.changes == {"items": (first, known, scan, later)}
    assert (told.fact, told.step) == (True, "")


@pytest.mark.parametrize(
    ("answer", "material"),
    [("silicone", ""), ("long-alginate", "long-alginate"), ("other-material", "other")],
)
def test_pour_limit_that_nobody_told_is_not_guessed(answer: str, material: str) -> None:
    order = OrderForm(items=(Item("working", "impression"),))

    told = effect(1, answer, at=NOW, order=order)

    assert told.changes["items"][0].material == material
    assert (told.step, told.why) == ("look", "limit")


def test_depth_may_be_told_on_the_telephone_for_teeth_ordered_in_writing() -> None:
    order = OrderForm(extractions=(Extraction(36),), extraction_order=True)

    told = effect(7, "these", "telephone", depths={36: "1mm"}, order=order)
    none = effect(7, "none", "telephone", order=order)

    assert told.changes == {"extractions": (Extraction(36, "1mm"),)}
    assert (none.changes, none.why) == ({}, "in-writing")


def test_none_known_takes_no_told_allergy_back() -> None:
    order = OrderForm(allergies=("acrylic",))

    assert effect(20, "none-known", order=order).why == "conflict"
    assert effect(20, "nickel", order=order).changes == {"allergies": ("acrylic", "nickel")}


def test_new_day_moves_the_appointment_and_forgets_the_hour_of_the_old_one() -> None:
    order = replace(OrderForm(), appointment_on=date(2026, 12, 23), needed_on=date(2026, 12, 21))

    moved = effect(22, "new-day", day=DAY, order=order)

    assert moved.changes == {"appointment_on": DAY, "appointment_time": None, "needed_on": None}
    assert (moved.step, moved.why) == ("promise", "day")


def test_given_is_read_from_json() -> None:
    read = Given.from_json(
        {"day": "2027-01-12", "at": "2026-12-09T08:00:00+01:00", "depths": {"36": "flush"}}
    )

    assert (read.day, read.depths) == (DAY, {36: "flush"})
    with pytest.raises(ValueError, match="zone"):
        Given.from_json({"at": "2026-12-09T08:00:00"})
    with pytest.raises(TypeError):
        Given.from_json({"moon": 1})
