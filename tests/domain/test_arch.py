"""Kennedy classes with Applegate's rules, case by case."""

from __future__ import annotations

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from cases.domain.arch import Classification, classify
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


UNIVERSAL = {
    "K01": "18-21, 28-31",
    "K02": "18-21, 28-31, 24, 25",
    "K03": "18, 19, 20",
    "K04": "18-20, 29",
    "K06": "3, 4",
    "K07": "3, 4, 13",
    "K08": "3, 8, 9, 14",
    "K09": "8, 9",
    "K10": "7-10",
    "K11": "6-11",
    "K12": "8",
    "K13": "7, 8",
    "K15": "5-12",
    "K17": "18, 19",
    "K18": "18, 19",
    "K19": "18",
    "K20": "18, 30",
    "K21": "18, 19",
    "K26": "2-8",
    "K28": "1, 16",
    "K29": "23-26, 30",
    "K32": "8, 10",
    "K34": "14, 15",
    "K37": "1, 2, 3",
    "K39": "1",
    "K40": "23-26",
}


@pytest.mark.parametrize("row", UNIVERSAL)
def test_the_same_mouth_in_universal_numbers(row: str) -> None:
    missing, _not_replaced, _abutments, _expected = CASES[row]

    assert sorted(parse_teeth(UNIVERSAL[row], "universal")) == sorted(parse_teeth(missing, "fdi"))


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


@pytest.mark.parametrize(
    ("missing", "why"),
    [
        (
            "34-37, 44-47, 31, 41",
            (
                "Class I, bilateral free end: 44–47 on the right and 34–37 on the left",
                "Modification 1: bounded gap 41–31 across the midline",
            ),
        ),
        (
            "35-37, 45, 46, 42",
            (
                "Class II, unilateral free end: 35–37 on the left",
                "Modification 1: bounded gap 45–46 on the right",
                "Modification 2: bounded gap 42 on the right",
            ),
        ),
        (
            "15, 11, 21, 26",
            (
                "Class III, bounded gap: 26 on the left",
                "Modification 1: bounded gap 15 on the right",
                "Modification 2: bounded gap 11–21 across the midline",
            ),
        ),
        (
            "12-22",
            (
                "Class IV, one gap across the midline, in front of all remaining teeth: "
                "12–22 across the midline",
            ),
        ),
        ("38-48", ("no teeth left in this arch",)),
    ],
)
def test_why_names_the_deciding_areas_and_each_modification(
    missing: str, why: tuple[str, ...]
) -> None:
    found = classify(parse_teeth(missing, "fdi"))

    assert found is not None
    assert found.why() == why


def test_why_is_said_in_the_notation_of_the_reader() -> None:
    found = classify({35, 36, 37, 45})

    assert found is not None
    assert found.why("universal")[0].endswith("20–18 on the left")
    assert found.why("palmer")[1] == "Modification 1: bounded gap LR5 on the right"
    with pytest.raises(ValueError, match="numbering system"):
        found.why("other")


def test_gap_with_a_tooth_that_is_not_replaced_names_only_what_is_replaced() -> None:
    found = classify({12, 11, 21}, not_replaced={11})

    assert found is not None
    assert str(found) == "IV"
    assert found.areas[0].words() == "bounded gap 12, 21 across the midline"


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


@st.composite
def mouths(draw: st.DrawFn) -> tuple[frozenset[int], frozenset[int], frozenset[int]]:
    """Missing teeth of one arch, those not replaced, and the third molars that are abutments."""
    row = teeth_of_arch(draw(st.sampled_from(["upper", "lower"])))
    missing = draw(st.frozensets(st.sampled_from(row), min_size=1))
    not_replaced = draw(st.frozensets(st.sampled_from(sorted(missing))))
    thirds = [fdi for fdi in (row[0], row[-1]) if fdi not in missing]
    abutments = draw(st.frozensets(st.sampled_from(thirds))) if thirds else frozenset()
    return missing, not_replaced, abutments


def _classified(mouth: tuple[frozenset[int], ...]) -> Classification | None:
    missing, not_replaced, abutments = mouth
    return classify(missing, not_replaced=not_replaced, third_molar_abutments=abutments)


def _mirrored(teeth: frozenset[int]) -> frozenset[int]:
    other = {1: 2, 2: 1, 3: 4, 4: 3}
    return frozenset(other[fdi // 10] * 10 + fdi % 10 for fdi in teeth)


@given(mouths())
def test_mirroring_left_and_right_keeps_the_class(mouth: tuple[frozenset[int], ...]) -> None:
    assert str(_classified(mouth)) == str(_classified(tuple(map(_mirrored, mouth))))


@given(mouths(), st.data())
def test_a_further_bounded_gap_never_lowers_the_modifications(
    mouth: tuple[frozenset[int], ...], data: st.DataObject
) -> None:
    missing, not_replaced, abutments = mouth
    row = teeth_of_arch("upper" if min(missing) < 30 else "lower")
    # A tooth that stands between two that stand, so that its gap is a gap of its own.
    counted = [
        fdi
        for fdi in row
        if fdi not in not_replaced and (fdi % 10 < 8 or fdi in abutments or fdi in missing)
    ]
    between = [
        tooth
        for before, tooth, after in zip(counted, counted[1:], counted[2:], strict=False)
        if not {before, tooth, after} & missing
    ]
    assume(between)
    before = _classified(mouth)

    after = _classified((missing | {data.draw(st.sampled_from(between))}, not_replaced, abutments))

    assert after is not None
    if before is None:
        assert str(after) == "III"
    elif before.kennedy == "IV":
        assert str(after) == "III mod 1"
    else:
        assert after.kennedy == before.kennedy
        assert after.modifications == before.modifications + 1


@given(mouths())
def test_why_has_a_sentence_for_the_class_and_one_a_modification(
    mouth: tuple[frozenset[int], ...],
) -> None:
    found = _classified(mouth)
    assume(found is not None)
    assert found is not None

    assert len(found.why()) == 1 + found.modifications
    if found.kennedy != "edentulous":
        assert {*found.deciding, *found.modifying} == set(found.areas)
