"""Judging an order: slips of the desk are errors, the practice's gaps are asked for."""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest

from cases.domain.order import (
    DEFAULT_PROFILE,
    Disinfection,
    Extraction,
    Item,
    OrderForm,
    Problem,
    errors,
    problems,
    required_profile,
)

NOW = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)
TODAY = date(2026, 3, 2)
TAKEN = NOW - timedelta(minutes=40)
WORKING = Item("working", form="impression", material="alginate", taken_at=TAKEN, tray="stock")

GOOD = OrderForm(
    arch="lower",
    replaces=(35, 36),
    shade="A2",
    shade_guide="the usual guide",
    mould_how="laboratory",
    materials="heat-cured acrylic",
    borders="left-full",
    polish="all-outer",
    bite="by-hand",
    ordered_on=TODAY,
    appointment_on=date(2026, 3, 12),
    received_at=NOW - timedelta(minutes=20),
    items=(WORKING, replace(WORKING, kind="opposing")),
    disinfection=Disinfection("yes", "practice", "spray", 10, NOW - timedelta(minutes=30)),
    dentist_named=True,
    signed=True,
    licence_given=True,
)


def judged(**changes: Any) -> tuple[Problem, ...]:
    return problems(replace(GOOD, **changes), DEFAULT_PROFILE, now=NOW, today=TODAY)


def wrong(**changes: Any) -> list[tuple[str, str]]:
    found = list(errors(replace(GOOD, **changes), now=NOW, today=TODAY))
    assert all(problem.is_error and not problem.stops for problem in found)
    return [(problem.field, problem.sentence) for problem in found]


def test_good_order_has_no_problems() -> None:
    assert judged() == ()


@pytest.mark.parametrize(
    ("changes", "field", "words"),
    [
        ({"kind": "bridge"}, "kind", "must be one of: New piece"),
        ({"arch": ""}, "arch", "must be one of: Upper, Lower"),
        ({"borders": "short"}, "borders", "The order for the borders must be one of"),
        ({"polish": "bright"}, "polish", "must be one of"),
        ({"bite": "guess"}, "bite", "must be one of"),
        ({"shade_how": "x"}, "shade_how", "must be one of"),
        ({"mould_how": "x"}, "mould_how", "must be one of"),
        ({"remake_start": "x"}, "remake_start", "must be one of"),
        ({"replaces": (35, 16)}, "replaces", "16 is a tooth of the upper arch, and the order is"),
        ({"replaces": (39,)}, "replaces", "39 is not the number of a tooth"),
        ({"replaces": (75,)}, "replaces", "75 is a milk tooth"),
        ({"replaces": (35, 35)}, "replaces", "entered twice"),
        ({"extractions": (Extraction(11, "flush"),)}, "extractions", "tooth of the upper arch"),
        ({"extractions": (Extraction(36, "3mm"),)}, "extractions", "depth of a cut must be one"),
        (
            {"appointment_on": date(2026, 3, 1)},
            "appointment_on",
            "The appointment, Sunday 1 March, is before today. Correct the date.",
        ),
        ({"needed_on": date(2026, 2, 27)}, "needed_on", "is before today"),
        ({"needed_on": date(2026, 3, 13)}, "needed_on", "after the appointment on Thursday"),
        ({"ordered_on": date(2026, 3, 3)}, "ordered_on", "still to come"),
        ({"received_at": NOW + timedelta(minutes=1)}, "received_at", "later than now"),
        ({"allergies": ("dust",)}, "allergies", "Allergies must be of"),
        ({"allergies": ("none-known", "nickel")}, "allergies", "cannot both be right"),
        ({"allergies": ("other-allergy",)}, "allergy_words", "Write which other allergy"),
    ],
)
def test_slip_of_the_desk_is_an_error_with_the_next_step(
    changes: dict[str, Any], field: str, words: str
) -> None:
    ((named, sentence),) = wrong(**changes)

    assert named == field
    assert words in sentence


@pytest.mark.parametrize(
    ("changes", "field", "words"),
    [
        ({"kind": "spoon"}, "kind", "An item must be one of"),
        ({"form": ""}, "form", "Say in which form the arch came: Impression"),
        ({"form": "photograph"}, "form", "Say in which form"),
        ({"kind": "bite"}, "form", "Only an arch comes as impression"),
        ({"tray": "tea"}, "tray", "The tray must be one of"),
        ({"material": "putty"}, "material", "not in the list"),
        ({"pour_limit_minutes": 0}, "pour_limit_minutes", "at least one minute"),
        ({"expected_on": date(2026, 3, 1)}, "expected_on", "that is past"),
        (
            {"taken_at": NOW - timedelta(minutes=10)},
            "taken_at",
            "cannot have been taken after it was received",
        ),
    ],
)
def test_slip_in_an_item_names_the_item(changes: dict[str, Any], field: str, words: str) -> None:
    plain = {"disinfection": Disinfection("no")}

    ((named, sentence),) = wrong(items=(WORKING, replace(WORKING, **changes)), **plain)

    assert named == f"items.1.{field}"
    assert words in sentence


def test_impression_taken_later_than_now_is_an_error_without_a_time_received() -> None:
    late = replace(WORKING, taken_at=NOW + timedelta(minutes=5))

    ((named, sentence),) = wrong(items=(late,), received_at=None, disinfection=Disinfection("no"))

    assert named == "items.0.taken_at"
    assert "later than now" in sentence


def test_pair_must_say_which_arch_an_item_shows() -> None:
    ((named, _),) = wrong(arch="both", replaces=(11, 36), items=(WORKING,))

    assert named == "items.0.arch"
    assert wrong(arch="both", replaces=(11, 36), items=(replace(WORKING, arch="upper"),)) == []


@pytest.mark.parametrize(
    ("disinfection", "field", "words"),
    [
        (Disinfection("perhaps"), "done", "must be one of: Yes, No"),
        (Disinfection("yes", "postman", "spray", 10), "by", "Who disinfected must be one of"),
        (Disinfection("yes", "practice", "spray", 0), "minutes", "at least one minute"),
        (
            Disinfection("yes", "practice", "spray", 10, NOW + timedelta(minutes=1)),
            "at",
            "later than now",
        ),
        (
            Disinfection("yes", "practice", "spray", 10, TAKEN - timedelta(minutes=1)),
            "at",
            "before the impression was taken",
        ),
    ],
)
def test_slip_in_disinfection_is_an_error(
    disinfection: Disinfection, field: str, words: str
) -> None:
    ((named, sentence),) = wrong(disinfection=disinfection)

    assert named == f"disinfection.{field}"
    assert words in sentence


def test_problems_puts_errors_first_and_goes_on_to_what_is_missing() -> None:
    found = judged(appointment_on=date(2026, 3, 1), polish="", signed=False)

    assert [(problem.field, problem.kind) for problem in found] == [
        ("appointment_on", "error"),
        ("polish", "missing"),
        ("signed", "missing"),
    ]


def test_problems_stops_at_an_unknown_kind_because_the_rest_depends_on_it() -> None:
    assert [problem.field for problem in judged(kind="bridge", polish="")] == ["kind"]


def test_problems_asks_only_for_what_the_profile_requires() -> None:
    order = replace(GOOD, licence_given=False, dentist_named=True)
    west_virginia, montana = (
        problems(order, required_profile(key), now=NOW, today=TODAY)
        for key in ("us-west-virginia", "us-montana")
    )

    assert west_virginia == ()
    assert [problem.field for problem in montana] == ["licence_given"]


def test_problems_tells_of_allergies_and_late_items_whatever_the_profile() -> None:
    late = Item("bite", follows_later=True)

    found = judged(allergies=("nickel",), items=(*GOOD.items, late))

    assert [problem.field for problem in found] == ["items.2.follows_later", "allergies"]


def test_empty_order_is_logged_with_questions_and_without_errors() -> None:
    found = problems(OrderForm(), DEFAULT_PROFILE, now=NOW, today=TODAY)

    assert found
    assert not any(problem.is_error for problem in found)
