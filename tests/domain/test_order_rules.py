"""What an order can lack: the practice is asked and only the stages that need it wait."""

from dataclasses import replace
from datetime import UTC, date, datetime

import pytest

from cases.domain.order_choices import ITEM_STAGES, values
from cases.domain.order_form import Disinfection, Extraction, Item, OrderForm
from cases.domain.order_rules import (
    NEED_THE_PIECE,
    RULES,
    SHAPING,
    Problem,
    follows_later,
    told_allergies,
)
from cases.domain.questions import BY_NUMBER
from cases.domain.reasons import HOLD

TAKEN = datetime(2026, 3, 2, 8, 0, tzinfo=UTC)
WORKING = Item("working", form="impression", material="alginate", taken_at=TAKEN, tray="stock")
OPPOSING = replace(WORKING, kind="opposing")
PIECE = Item("old-piece")

COMPLETE = OrderForm(
    arch="lower",
    description="Lower partial",
    replaces=(35, 36),
    shade="A2",
    shade_guide="the usual guide",
    mould_how="laboratory",
    materials="heat-cured acrylic",
    borders="left-full",
    polish="all-outer",
    bite="by-hand",
    try_in=True,
    allergies=("none-known",),
    ordered_on=date(2026, 3, 1),
    appointment_on=date(2026, 3, 12),
    items=(WORKING, OPPOSING),
    disinfection=Disinfection("yes", "practice", "spray", 10),
    dentist_named=True,
    signed=True,
    licence_given=True,
)


def found(rule: str, **changes: object) -> list[Problem]:
    return list(RULES[rule](replace(COMPLETE, **changes)))  # type: ignore[arg-type]


@pytest.mark.parametrize("rule", list(RULES))
def test_complete_order_lacks_nothing(rule: str) -> None:
    assert found(rule) == []


@pytest.mark.parametrize(
    ("rule", "changes", "question", "stops"),
    [
        ("working", {"items": (OPPOSING,)}, None, ITEM_STAGES["working"]),
        ("piece", {"kind": "repair"}, None, NEED_THE_PIECE),
        ("taken", {"items": (replace(WORKING, taken_at=None),)}, 1, ("pour", "pick-up")),
        ("taken", {"items": (replace(WORKING, material=""),)}, 1, ("pour", "pick-up")),
        ("taken", {"items": (replace(WORKING, material="long-alginate"),)}, None, ()),
        ("disinfection", {"disinfection": Disinfection()}, 2, ()),
        ("disinfection", {"disinfection": Disinfection("yes", "practice", "spray")}, 2, ()),
        ("replaces", {"replaces": ()}, None, SHAPING),
        ("extractions", {"extractions": (Extraction(36, "flush"),)}, 7, ("cast-prep",)),
        (
            "extractions",
            {"extractions": (Extraction(36),), "extraction_order": True},
            7,
            ("cast-prep",),
        ),
        ("shade", {"shade": ""}, 3, ("teeth",)),
        ("shade", {"shade_guide": " "}, 3, ("teeth",)),
        ("mould", {"mould_how": ""}, 4, ("teeth",)),
        ("mould", {"mould_how": "named"}, 4, ("teeth",)),
        ("bite", {"bite": ""}, 6, ("mount",)),
        ("bite", {"bite": "record"}, 6, ("mount",)),
        ("bite", {"items": (WORKING,)}, 6, ("mount",)),
        ("borders", {"borders": ""}, 14, ("wax",)),
        ("polish", {"polish": ""}, 15, ("finish",)),
        ("day", {"appointment_on": None}, None, ()),
        ("task", {"kind": "adjustment", "description": ""}, None, SHAPING),
        ("remake_start", {"kind": "remake"}, None, ("trim", *SHAPING)),
        ("description", {"description": " ", "replaces": ()}, None, SHAPING),
        ("materials", {"materials": ""}, None, SHAPING),
        ("allergies", {"allergies": ()}, 20, ("clasps", "pack", "self-cure")),
        ("try_in", {"try_in": None}, 21, ("try-in", "wax")),
        ("ordered_on", {"ordered_on": None}, None, SHAPING),
        ("dentist_named", {"dentist_named": False}, None, SHAPING),
        ("signed", {"signed": False}, None, SHAPING),
        ("licence_given", {"licence_given": False}, None, SHAPING),
    ],
)
def test_missing_thing_is_asked_and_stops_only_what_needs_it(
    rule: str, changes: dict[str, object], question: int | None, stops: tuple[str, ...]
) -> None:
    (problem,) = found(rule, **changes)

    assert not problem.is_error
    assert problem.question == question
    assert problem.stops == stops
    assert problem.hold_reason in {reason.key for reason in HOLD.reasons}
    assert problem.sentence.endswith(".")


def test_question_of_a_rule_stops_what_the_question_list_says_or_nothing() -> None:
    for changes, rule in (
        ({"borders": ""}, "borders"),
        ({"polish": ""}, "polish"),
        ({"shade": ""}, "shade"),
        ({"bite": ""}, "bite"),
        ({"try_in": None}, "try_in"),
        ({"allergies": ()}, "allergies"),
    ):
        (problem,) = found(rule, **changes)
        assert problem.question is not None
        assert problem.stops == BY_NUMBER[problem.question].stops


@pytest.mark.parametrize(
    ("rule", "changes"),
    [
        ("working", {"kind": "adjustment", "items": (PIECE,)}),
        ("working", {"kind": "remake", "remake_start": "kept-master", "items": ()}),
        ("piece", {"kind": "repair", "items": (WORKING, PIECE)}),
        ("taken", {"items": (replace(WORKING, taken_at=None, follows_later=True),)}),
        ("taken", {"items": (Item("working", form="cast"),)}),
        ("taken", {"items": (replace(WORKING, material="other", pour_limit_minutes=60),)}),
        ("disinfection", {"disinfection": Disinfection("no")}),
        (
            "disinfection",
            {"disinfection": Disinfection(), "items": (Item("working", form="scan"),)},
        ),
        ("replaces", {"kind": "repair", "replaces": ()}),
        ("extractions", {"extractions": (Extraction(36, "2mm"),), "extraction_order": True}),
        ("shade", {"shade": "", "shade_how": "photograph"}),
        ("shade", {"shade": "", "kind": "adjustment"}),
        ("mould", {"mould_how": "named", "mould": "small square"}),
        ("bite", {"bite": "record", "items": (WORKING, Item("bite"))}),
        ("bite", {"bite": "", "kind": "addition"}),
        ("bite", {"bite": "rim", "items": (WORKING,)}),
        ("borders", {"borders": "", "items": (replace(WORKING, tray="special"),)}),
        ("borders", {"borders": "", "items": (replace(WORKING, material="polyether"),)}),
        ("polish", {"polish": "", "kind": "adjustment"}),
        ("day", {"appointment_on": None, "needed_on": date(2026, 3, 9)}),
        ("description", {"description": ""}),
        ("try_in", {"try_in": None, "kind": "repair"}),
    ],
)
def test_rule_does_not_ask_for_what_the_work_does_not_need(
    rule: str, changes: dict[str, object]
) -> None:
    assert found(rule, **changes) == []


def test_pair_must_have_an_arch_to_work_on_and_teeth_for_each() -> None:
    pair = {
        "arch": "both",
        "replaces": (11, 36),
        "items": (replace(WORKING, arch="upper"), replace(WORKING, arch="lower")),
    }

    assert found("working", **pair) == found("replaces", **pair) == []
    assert found("bite", **pair) == []
    (no_lower,) = found("working", **{**pair, "items": (replace(WORKING, arch="upper"),)})
    assert "lower arch" in no_lower.sentence
    (no_upper,) = found("replaces", **{**pair, "replaces": (36,)})
    assert "upper teeth" in no_upper.sentence


def test_taken_names_the_entry_that_is_missing() -> None:
    problems = found("taken", items=(WORKING, replace(OPPOSING, material="")))

    assert [problem.field for problem in problems] == ["items.1.material"]


def test_unwritten_extraction_waits_for_a_signature() -> None:
    (problem,) = found("extractions", extractions=(Extraction(36, "flush"),))

    assert problem.hold_reason == "signature"
    assert "No tooth is cut off the cast" in problem.sentence


@pytest.mark.parametrize(
    ("item", "stops", "said"),
    [
        (replace(OPPOSING, follows_later=True), ("mount",), "Opposing arch (impression)"),
        (Item("shade-tab", follows_later=True), ("teeth",), "Shade tab"),
        (Item("tray", follows_later=True), (), "Tray"),
        (Item("old-piece", follows_later=True), ("teeth",), "Old piece"),
    ],
)
def test_follows_later_holds_only_the_stages_that_need_it(
    item: Item, stops: tuple[str, ...], said: str
) -> None:
    (problem,) = follows_later(replace(COMPLETE, items=(WORKING, item)))

    assert (problem.field, problem.stops) == ("items.1.follows_later", stops)
    assert problem.sentence == f"{said} follows later. Only the stages that need it wait."
    assert problem.hold_reason == "record-or-cast"


def test_follows_later_says_the_day_and_that_a_repair_needs_its_piece() -> None:
    item = Item("old-piece", follows_later=True, expected_on=date(2026, 3, 4))

    (problem,) = follows_later(replace(COMPLETE, kind="repair", items=(item,)))

    assert problem.stops == NEED_THE_PIECE
    assert "on Wednesday 4 March" in problem.sentence


def test_follows_later_is_silent_about_what_came() -> None:
    assert list(follows_later(COMPLETE)) == []


@pytest.mark.parametrize(
    ("told", "stops"),
    [
        (("none-known",), []),
        (("nickel",), [("clasps", "bar")]),
        (("acrylic",), [(*SHAPING, "pack", "self-cure")]),
        (("acrylic", "nickel"), [(*SHAPING, "pack", "self-cure"), ("clasps", "bar")]),
        (("other-allergy",), []),
    ],
)
def test_told_allergy_waits_for_the_practice_to_decide(
    told: tuple[str, ...], stops: list[tuple[str, ...]]
) -> None:
    problems = list(told_allergies(replace(COMPLETE, allergies=told)))

    assert [problem.stops for problem in problems] == stops
    assert all("Ask the dentist" in problem.sentence for problem in problems)


def test_values_reads_the_first_of_each_pair() -> None:
    assert values((("a", "A"), ("b", "B"))) == {"a", "b"}
