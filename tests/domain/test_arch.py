"""Kennedy classes with Applegate's rules, case by case."""

from __future__ import annotations

import pytest

from cases.domain.arch import classify
from cases.domain.teeth import parse_teeth, teeth_of_arch

LOWER = frozenset(teeth_of_arch("lower"))

# Missing teeth; not replaced; third molars that are abutments; the class.
CASES = {
    "K01": ("34-37, 44-47", "", "", "I"),
    "K02": ("34-37, 44-47, 31, 41", "", "", "I mod 1"),
    "K03": ("35, 36, 37", "", "", "II"),
    "K04": ("35-37, 45", "", "", "II mod 1"),
    "K06": ("15, 16", "", "", "III"),
    "K07": ("15, 16, 25", "", "", "III mod 1"),
    "K08": ("16, 26, 11, 21", "", "", "III mod 2"),
    "K09": ("11, 21", "", "", "IV"),
    "K10": ("12-22", "", "", "IV"),
    "K11": ("13-23", "", "", "IV"),
    "K12": ("11", "", "", "III"),
    "K13": ("12, 11", "", "", "III"),
    "K15": ("14-24", "", "", "IV"),
    "K17": ("36, 37", "", "38", "III"),
    "K18": ("36, 37", "", "", "II"),
    "K19": ("37", "37", "", None),
    "K20": ("37, 46", "37", "", "III"),
    "K21": ("36, 37", "37", "", "II"),
    "K23": ("38-34, 32-42, 44-48", "38, 48", "", "I mod 1"),
    "K23 third molars standing": ("37-34, 32-42, 44-47", "", "", "I mod 1"),
    "K24": ("38-34, 32-48", "38, 48", "", "I"),
    "K26": ("17-11", "", "", "II"),
    "K28": ("18, 28", "18, 28", "", None),
    "K29": ("42-32, 46", "", "", "III mod 1"),
    "K31": ("38-48", "", "", "edentulous"),
    "K31 without third molars": ("37-47", "", "", "edentulous"),
    "K32": ("11, 22", "", "", "III mod 1"),
    "K34": ("26, 27", "", "28", "III"),
    "K37": ("16, 17, 18", "", "", "II"),
    "K39": ("18", "", "", "II"),
    "K40": ("42-32", "", "", "IV"),
    "nothing missing": ("", "", "", None),
    "only an abutment third molar left": ("37-48", "", "38", "II"),
    "free end over the midline": ("17-21", "", "", "II"),
}


@pytest.mark.parametrize(
    ("missing", "not_replaced", "abutments", "expected"), CASES.values(), ids=CASES
)
def test_classify_follows_the_rules(
    missing: str, not_replaced: str, abutments: str, expected: str | None
) -> None:
    found = classify(
        parse_teeth(missing, "fdi"),
        not_replaced=parse_teeth(not_replaced, "fdi"),
        third_molar_abutments=parse_teeth(abutments, "fdi"),
    )

    assert (None if found is None else str(found)) == expected


@pytest.mark.parametrize(
    ("universal", "expected"),
    [("18-21, 28-31", "I"), ("18-20, 29", "II mod 1"), ("5-12", "IV"), ("2-8", "II")],
)
def test_classify_gives_the_same_class_from_universal_numbers(
    universal: str, expected: str
) -> None:
    assert str(classify(parse_teeth(universal, "universal"))) == expected


def test_dropping_a_tooth_from_the_plan_changes_the_class() -> None:
    assert str(classify({35, 36, 37})) == "II"
    assert str(classify({35, 36, 37, 45})) == "II mod 1"


def test_areas_name_their_teeth_from_right_to_left() -> None:
    found = classify({35, 36, 37, 45, 31, 41})

    assert found is not None
    assert [area.teeth for area in found.areas] == [(45,), (41, 31), (35, 36, 37)]
    assert [area.free_end for area in found.areas] == [False, False, True]
    assert [area.crosses_midline for area in found.areas] == [False, True, False]


@pytest.mark.parametrize(
    ("missing", "reason"),
    [
        ("34-37, 44-47", "bilateral free end"),
        ("35-37", "unilateral free end"),
        ("35-37, 45", "unilateral free end, 1 more gap"),
        ("16, 26, 11, 21", "bounded gap, 2 more gaps"),
        ("11, 21", "one gap across the midline, in front of all remaining teeth"),
        ("38-48", "no teeth left in this arch"),
    ],
)
def test_reason_says_why_in_words(missing: str, reason: str) -> None:
    found = classify(parse_teeth(missing, "fdi"))

    assert found is not None
    assert found.reason == reason


def test_gap_that_is_not_replaced_joins_its_neighbours() -> None:
    assert classify({35, 36}, not_replaced={35, 36}) is None
    assert str(classify({35, 36}, not_replaced={36})) == "III"


@pytest.mark.parametrize(
    ("missing", "not_replaced", "abutments", "sentence"),
    [
        ({16, 36}, set(), set(), "two arches"),
        ({16}, {36}, set(), "two arches"),
        ({16}, set(), {38}, "two arches"),
        ({37, 38}, set(), {38}, "38 is missing"),
        ({36}, set(), {37}, "37 is not a third molar"),
        ({19}, set(), set(), "19 is not the FDI number"),
        ({"36"}, set(), set(), "'36' is not the FDI number"),
        ({True}, set(), set(), "True is not the FDI number"),
        ({75}, set(), set(), "75 is a primary tooth"),
    ],
)
def test_classify_refuses_teeth_that_cannot_be(
    missing: set[int], not_replaced: set[int], abutments: set[int], sentence: str
) -> None:
    with pytest.raises(ValueError, match=sentence):
        classify(missing, not_replaced=not_replaced, third_molar_abutments=abutments)


def test_classify_of_a_lone_tooth_is_bilateral_unless_it_ends_the_row() -> None:
    found = {
        tooth: str(classify(LOWER - {tooth}, third_molar_abutments={tooth} & {38, 48}))
        for tooth in LOWER
    }

    assert found == {tooth: "II" if tooth in {38, 48} else "I" for tooth in LOWER}
