"""Tooth numbers: three systems, one tooth."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cases.domain import teeth

EVERY_TOOTH = tuple(fdi for fdi in range(100) if teeth.is_tooth(fdi))
UPPER_UNIVERSAL = (18, 17, 16, 15, 14, 13, 12, 11, 21, 22, 23, 24, 25, 26, 27, 28)
LOWER_UNIVERSAL = (38, 37, 36, 35, 34, 33, 32, 31, 41, 42, 43, 44, 45, 46, 47, 48)
PRIMARY_UNIVERSAL = (
    55, 54, 53, 52, 51, 61, 62, 63, 64, 65, 75, 74, 73, 72, 71, 81, 82, 83, 84, 85,
)  # fmt: skip


def test_teeth_are_fifty_two() -> None:
    assert len(EVERY_TOOTH) == 52


@pytest.mark.parametrize("system", teeth.SYSTEMS)
@pytest.mark.parametrize("fdi", EVERY_TOOTH)
def test_label_comes_back_as_the_same_tooth(fdi: int, system: str) -> None:
    assert teeth.to_fdi(teeth.from_fdi(fdi, system), system) == fdi


@pytest.mark.parametrize(
    ("number", "fdi"), list(enumerate(UPPER_UNIVERSAL + LOWER_UNIVERSAL, start=1))
)
def test_universal_numbers_run_clockwise(number: int, fdi: int) -> None:
    assert teeth.to_fdi(str(number), "universal") == fdi


@pytest.mark.parametrize(
    ("letter", "fdi"), list(zip("ABCDEFGHIJKLMNOPQRST", PRIMARY_UNIVERSAL, strict=True))
)
def test_universal_letters_run_clockwise(letter: str, fdi: int) -> None:
    assert teeth.to_fdi(letter, "universal") == fdi


PALMER_QUADRANTS = {"UR": 1, "UL": 2, "LL": 3, "LR": 4}
PALMER = {
    f"{corner}{place}": quadrant * 10 + int(place)
    for corner, quadrant in PALMER_QUADRANTS.items()
    for place in "12345678"
} | {
    f"{corner}{letter}": (quadrant + 4) * 10 + place
    for corner, quadrant in PALMER_QUADRANTS.items()
    for place, letter in enumerate("abcde", start=1)
}


@pytest.mark.parametrize(("label", "fdi"), PALMER.items())
def test_palmer_names_every_tooth_both_ways(label: str, fdi: int) -> None:
    assert teeth.to_fdi(label, "palmer") == fdi
    assert teeth.from_fdi(fdi, "palmer") == label


@given(
    st.lists(st.sampled_from(EVERY_TOOTH)),
    st.sampled_from(teeth.SYSTEMS),
    st.sampled_from(teeth.SYSTEMS),
)
def test_renumbering_there_and_back_changes_nothing(row: list[int], one: str, other: str) -> None:
    def renumber(labels: list[str], source: str, target: str) -> list[str]:
        return [teeth.from_fdi(teeth.to_fdi(label, source), target) for label in labels]

    labels = [teeth.from_fdi(fdi, one) for fdi in row]

    assert renumber(renumber(labels, one, other), other, one) == labels


@pytest.mark.parametrize(
    ("label", "fdi"),
    [("UR6", 16), ("UL1", 21), ("LL8", 38), ("LR5", 45), ("URa", 51), ("LLe", 75), ("LRC", 83)],
)
def test_palmer_labels_name_quadrant_and_place(label: str, fdi: int) -> None:
    assert teeth.to_fdi(label, "palmer") == fdi


def test_the_same_label_is_another_tooth_in_another_system() -> None:
    assert teeth.to_fdi("11", "fdi") == 11
    assert teeth.to_fdi("11", "universal") == 23


@pytest.mark.parametrize(
    ("label", "system"),
    [
        ("", "fdi"), ("19", "fdi"), ("56", "fdi"), ("91", "fdi"), (" 16", "fdi"), ("016", "fdi"),
        ("+16", "fdi"), ("1٦", "fdi"), ("A", "fdi"), ("0", "universal"), ("33", "universal"),
        ("U", "universal"), ("a", "universal"), ("D1", "universal"), ("03", "universal"),
        ("UR9", "palmer"), ("UR0", "palmer"), ("URf", "palmer"), ("XR6", "palmer"),
        ("16", "palmer"), ("6", "palmer"), ("ur6", "palmer"), ("16", "FDI"), ("16", ""),
        ("16", None), ("16", ["fdi"]), (16, "fdi"), (True, "universal"), (None, "fdi"),
        (b"16", "fdi"), (["16"], "fdi"),
    ],
)  # fmt: skip
def test_to_fdi_refuses_what_names_no_tooth(label: object, system: object) -> None:
    with pytest.raises(ValueError, match=r"\.$"):
        teeth.to_fdi(label, system)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("fdi", "system"),
    [(0, "fdi"), (19, "fdi"), (-16, "fdi"), (56, "palmer"), ("16", "fdi"), (True, "fdi"),
     (16.0, "fdi"), (None, "fdi"), (16, "zsigmondy"), (16, None)],
)  # fmt: skip
def test_from_fdi_refuses_what_is_no_tooth(fdi: object, system: object) -> None:
    with pytest.raises(ValueError, match=r"\.$"):
        teeth.from_fdi(fdi, system)  # type: ignore[arg-type]


def test_teeth_of_arch_run_from_the_patients_right_to_the_left() -> None:
    assert teeth.teeth_of_arch("upper") == UPPER_UNIVERSAL
    assert teeth.teeth_of_arch("lower") == tuple(reversed(LOWER_UNIVERSAL))
    assert teeth.teeth_of_arch("upper", primary=True) == PRIMARY_UNIVERSAL[:10]
    assert teeth.teeth_of_arch("lower", primary=True) == tuple(reversed(PRIMARY_UNIVERSAL[10:]))


def test_teeth_of_arch_refuses_an_unknown_arch() -> None:
    with pytest.raises(ValueError, match="'middle' is not an arch"):
        teeth.teeth_of_arch("middle")


@pytest.mark.parametrize(
    ("fdi", "kind", "anterior"),
    [(12, "incisor", True), (33, "canine", True), (34, "premolar", False), (46, "molar", False),
     (54, "molar", False), (83, "canine", True)],
)  # fmt: skip
def test_kind_and_anterior_follow_the_place(fdi: int, kind: str, anterior: bool) -> None:
    assert teeth.kind(fdi) == kind
    assert teeth.is_anterior(fdi) is anterior


@pytest.mark.parametrize(
    ("fdi", "arch"), [(18, "upper"), (65, "upper"), (31, "lower"), (85, "lower")]
)
def test_arch_of_names_the_arch(fdi: int, arch: str) -> None:
    assert teeth.arch_of(fdi) == arch


@pytest.mark.parametrize(
    ("text", "system", "found"),
    [
        ("34, 35-37", "fdi", (34, 35, 36, 37)),
        ("12-22", "fdi", (12, 11, 21, 22)),
        ("42 – 32", "fdi", (42, 41, 31, 32)),
        ("37-34;46 45", "fdi", (37, 36, 35, 34, 46, 45)),
        ("34, 34-35", "fdi", (34, 35)),
        ("18-20, 29", "universal", (37, 36, 35, 45)),
        ("LL5-LL7", "palmer", (35, 36, 37)),
        ("A-C", "universal", (55, 54, 53)),
        ("  ", "fdi", ()),
    ],
)
def test_parse_teeth_reads_lists_as_people_write_them(
    text: str, system: str, found: tuple[int, ...]
) -> None:
    assert teeth.parse_teeth(text, system) == found


@pytest.mark.parametrize(
    ("text", "wrong"),
    [
        ("34, 39", "“39”"), ("35-", "“35-”"), ("34-35-36", "“34-35-36”"), ("26-36", "“26-36”"),
        ("34-75", "“34-75”"), ("34, x5", "“x5”"), ("35-39", "“35-39”"),
    ],
)  # fmt: skip
def test_parse_teeth_names_the_wrong_part(text: str, wrong: str) -> None:
    with pytest.raises(ValueError, match=wrong):
        teeth.parse_teeth(text, "fdi")


def test_parse_teeth_refuses_an_unknown_system_even_for_blank_text() -> None:
    with pytest.raises(ValueError, match="numbering system"):
        teeth.parse_teeth("", "other")
