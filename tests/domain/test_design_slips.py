"""What cannot be in a design at all: each slip refused with the way out, and just not."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from cases.domain.design import Design
from cases.domain.design_parts import Bar, Clasp, Room, Survey, Undercut
from cases.domain.design_review import blocking, review
from cases.domain.design_slips import LONGEST_ARM_MM, flaws
from cases.domain.rule_facts import Facts

GOOD = Design(
    "lower", missing=frozenset({46}), replaced=frozenset({46}), clasps=(Clasp(45),)
)  # fmt: skip
UPPER = Design("upper", missing=frozenset({16}), replaced=frozenset({16}))


def wire(**changes: Any) -> dict[str, Any]:
    return {"clasps": (Clasp(45, **changes),)}


def seen(tooth: int, side: Any, step: float) -> dict[str, Any]:
    return {"survey": Survey(undercuts=(Undercut(tooth, side, step),))}


def tip_and_face(tip: float, step: float) -> dict[str, Any]:
    """The clasp on 44 with a tip so deep, and what the gauge showed on the face where it lies."""
    seen_there = Survey(undercuts=(Undercut(44, "buccal", step),))
    return {"clasps": (Clasp(44, undercut_mm=tip),), "survey": seen_there}


@pytest.mark.parametrize(
    ("slip", "sound", "begins"),
    [
        (wire(wire_mm=1.6), wire(wire_mm=1.5), "The wire at 45 is 1.6 mm"),
        (wire(wire_mm=0.4), wire(wire_mm=0.5), "The wire at 45 is 0.4 mm"),
        (wire(free_arm_mm=15.5), wire(free_arm_mm=15.0), "A free arm of 15.5 mm does not lie"),
        (wire(free_arm_mm=0.0), wire(free_arm_mm=0.1), "A free arm of 0 mm does not lie"),
        (wire(undercut_mm=0.3), wire(undercut_mm=0.25), "0.3 mm at 45 is no step"),
        (wire(alloy="tin"), wire(alloy="gold"), "Nobody knows the alloy “tin”"),
        ({"stops": frozenset({46})}, {"stops": frozenset({45})}, "46 is missing: it cannot carry"),
        (
            {"abutments": frozenset({46})},
            {"abutments": frozenset({48})},
            "46 is missing: it cannot be an abutment",
        ),
        ({"dropped": frozenset({46})}, {}, "46 is both replaced and left out"),
        (
            {"dropped": frozenset({35})},
            {"missing": frozenset({35, 46}), "dropped": frozenset({35})},
            "35 is left out for want of room but not missing",
        ),
        ({"hollowed": frozenset({45})}, {"hollowed": frozenset({46})}, "45 is to be hollowed"),
        (
            {"missing": frozenset({44, 46}), "primary": frozenset({44})},
            {"primary": frozenset({44})},
            "A milk tooth stands at 44",
        ),
        (
            {"strengthener": Bar(size_mm=4.3)},
            {"strengthener": Bar(size_mm=4.2)},
            "A bar of 4.3 mm is none",
        ),
        ({"method": "wax"}, {"method": "plaster"}, "“wax” is no way to block out here"),
        (
            {"survey": Survey(tilt_deg=46.0, tilt_to="front")},
            {"survey": Survey(tilt_deg=45.0, tilt_to="front")},
            "A tilt of 46° is none",
        ),
        (
            {"survey": Survey(tilt_deg=8.0)},
            {"survey": Survey(tilt_deg=0.0)},
            "The cast is tilted by 8° and is said to be level",
        ),
        (
            tip_and_face(0.5, 0.25),
            tip_and_face(0.25, 0.5),
            "The tip at 44 goes 0.5 mm deep, and the gauge showed 0.25 mm",
        ),
        (
            tip_and_face(0.25, 0.0),
            tip_and_face(0.0, 0.0),
            "The tip at 44 goes 0.25 mm deep, and the gauge showed 0 mm",
        ),
        (seen(45, "distal", 0.6), seen(45, "distal", 0.5), "0.6 mm at 45 distal is no step"),
        (seen(45, "palatal", 0.5), seen(45, "lingual", 0.5), "0.5 mm at 45 palatal is no step"),
        (seen(15, "distal", 0.5), seen(45, "distal", 0.5), "15 is no tooth of the lower arch"),
        ({"rooms": (Room(16),)}, {"rooms": (Room(46),)}, "16 is no tooth of the lower arch"),
    ],
)
def test_slip_is_refused_and_what_just_is_none_is_not(
    slip: dict[str, Any], sound: dict[str, Any], begins: str
) -> None:
    said = flaws(replace(GOOD, **slip))

    assert [sentence.startswith(begins) for sentence in said] == [True]
    assert flaws(replace(GOOD, **sound)) == ()


@pytest.mark.parametrize(
    "half",
    [
        {"survey": Survey(tilt_deg=8.0)},
        {"clasps": (), "joints": 2},
        {"blocked": frozenset({(45, "distal")}), "method": "none"},
    ],
)
def test_what_waits_for_its_second_half_may_stand_in_a_draft(half: dict[str, Any]) -> None:
    unfinished = replace(GOOD, **half)

    assert len(flaws(unfinished)) == 1
    assert flaws(replace(unfinished, draft=True)) == ()


def test_an_upper_bar_needs_a_reason_and_a_lower_one_none() -> None:
    bare = replace(UPPER, bar=True)

    assert flaws(bare) == (
        "An upper piece has no bar as a rule. Say why it has one, or take the bar out.",
    )
    assert flaws(replace(bare, strengthener=Bar(reason=" "))) != ()
    assert flaws(replace(bare, strengthener=Bar(reason="the last one broke"))) == ()
    assert flaws(replace(bare, told=frozenset({"broke-before"}))) == ()
    assert flaws(replace(GOOD, bar=True)) == ()


@pytest.mark.parametrize(("tooth", "kind"), [(42, "incisor"), (43, "canine"), (47, "molar")])
def test_each_kind_of_tooth_carries_its_own_arm(tooth: int, kind: Any) -> None:
    longest = LONGEST_ARM_MM[kind]

    assert flaws(replace(GOOD, clasps=(Clasp(tooth, free_arm_mm=longest),))) == ()
    assert flaws(replace(GOOD, clasps=(Clasp(tooth, free_arm_mm=longest + 0.1),))) != ()


def test_what_only_keeps_a_design_from_being_finalised_is_no_slip() -> None:
    unfinished = replace(GOOD, draft=True)

    assert blocking(review(Facts(unfinished))) != ()
    assert flaws(unfinished) == ()
