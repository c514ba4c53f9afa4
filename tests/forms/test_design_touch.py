"""Teeth and faces as people write them, and what a touch does to them."""

from __future__ import annotations

import pytest

from cases.forms.design.entries import parse_faces, say_faces
from cases.forms.design.touch import TOOLS, renumbered, touched

EMPTY = {"replaced": "", "gaps": "", "extracted": "", "clasps": "", "rests": "", "blocked": ""}


def touch(entries: dict[str, str], tool: str, tooth: int) -> dict[str, str]:
    return touched({**EMPTY, **entries}, tool, tooth, arch="lower", notation="fdi")[0]


def said(entries: dict[str, str], tool: str, tooth: int, notation: str = "fdi") -> str:
    return touched({**EMPTY, **entries}, tool, tooth, arch="lower", notation=notation)[1]


@pytest.mark.parametrize(
    ("text", "faces"),
    [
        ("", set()),
        ("35 distal", {(35, "distal")}),
        ("35 distal; 44 mesial lingual", {(35, "distal"), (44, "mesial"), (44, "lingual")}),
        ("35 Palatal", {(35, "lingual")}),
    ],
)
def test_faces_are_read(text: str, faces: set[tuple[int, str]]) -> None:
    assert parse_faces(text, "fdi") == faces


@pytest.mark.parametrize("text", ["35", "35 back", "99 distal", "distal"])
def test_faces_that_say_nothing_are_refused(text: str) -> None:
    with pytest.raises(ValueError, match=r"\w"):
        parse_faces(text, "fdi")


def test_faces_are_written_along_the_arch() -> None:
    faces = {(35, "distal"), (44, "lingual"), (44, "mesial")}

    assert say_faces(faces, "lower", "fdi") == "44 mesial lingual, 35 distal"
    assert parse_faces(say_faces(faces, "lower", "palmer"), "palmer") == faces


def test_touch_puts_a_tooth_there_and_the_next_takes_it_away() -> None:
    once = touch({}, "replaced", 46)
    twice = touch(once, "replaced", 46)

    assert (once["replaced"], twice["replaced"]) == ("46", "")


def test_tooth_that_goes_loses_its_clasp() -> None:
    after = touch({"clasps": "45", "rests": "45"}, "gaps", 45)

    assert (after["gaps"], after["clasps"], after["rests"]) == ("45", "", "")


def test_a_tooth_is_taken_out_and_replaced_or_not() -> None:
    assert said({}, "out", 45) == "45 is taken out at delivery and not replaced."
    assert said({"out": "45"}, "out", 45) == "45 is not taken out after all."
    left = touch({"extracted": "45, 46"}, "out", 45)
    assert (left["extracted"], left["out"]) == ("46", "45")
    replaced = touch({"out": "45"}, "extracted", 45)
    assert (replaced["extracted"], replaced["out"]) == ("45", "")
    gone = touch({"out": "45", "clasps": "44"}, "gaps", 45)
    assert (gone["gaps"], gone["out"], gone["clasps"]) == ("45", "", "44")
    # A milk tooth stands until then.
    milk = touch({"primary": "85"}, "out", 45)
    assert (milk["primary"], milk["out"]) == ("85", "85")


def test_what_goes_with_a_tooth_is_said() -> None:
    assert said({"clasps": "45", "stops": "45"}, "replaced", 45) == (
        "45 is replaced. Taken away with it: clasp, acrylic stop."
    )
    assert said({}, "replaced", 45) == "45 is replaced."


@pytest.mark.parametrize("gone", ["replaced", "gaps", "extracted", "out", "dropped"])
@pytest.mark.parametrize("tool", ["clasps", "rests", "stops", "abutments"])
def test_nothing_is_put_on_a_tooth_that_is_gone(tool: str, gone: str) -> None:
    entries, sentence = touched(
        {**EMPTY, gone: "45, 46"}, tool, 45, arch="lower", notation="universal"
    )
    # The entry is unreadable in this numbering, so nothing is guessed.
    assert (entries[gone], sentence) == ("45, 46", "An entry cannot be read. Correct it first.")
    assert touch({gone: "45, 46"}, tool, 45) == {**EMPTY, gone: "45, 46"}
    assert said({gone: "29"}, tool, 45, "universal").startswith("29 will not be there: nothing")
    assert touch({gone: "46"}, tool, 45)[tool] == "45"


@pytest.mark.parametrize(
    ("tool", "tooth", "start", "sentence"),
    [
        ("hollowed", 45, {}, "No denture tooth comes at 45"),
        ("hollowed", 45, {"gaps": "45"}, "No denture tooth comes at 45"),
        ("hollowed", 45, {"out": "45"}, "No denture tooth comes at 45"),
        ("primary", 46, {}, "No milk tooth stands at a molar’s place"),
    ],
)
def test_a_touch_that_cannot_be_changes_nothing(
    tool: str, tooth: int, start: dict[str, str], sentence: str
) -> None:
    assert touch(start, tool, tooth) == {**EMPTY, **start}
    assert said(start, tool, tooth).startswith(sentence)


def test_first_blocked_face_chooses_plaster_over_none() -> None:
    after = touch({"method": "none"}, "distal", 35)

    assert (after["blocked"], after["method"]) == ("35 distal", "plaster")


@pytest.mark.parametrize(
    ("tool", "gone", "first", "second"),
    [
        (
            "survey-buccal", "",
            "45 buccal is surveyed: choose in the survey what the gauge shows there.",
            "45 buccal is not surveyed any more.",
        ),
        (
            "survey-lingual", "45",
            "The ridge at 45, lingual, is surveyed: choose in the survey what the gauge shows "
            "there.",
            "The ridge at 45, lingual, is not surveyed any more.",
        ),
    ],
)  # fmt: skip
def test_a_face_is_asked_for_in_the_survey_by_a_touch(
    tool: str, gone: str, first: str, second: str
) -> None:
    start = {**EMPTY, "replaced": gone, "more_faces": "43 lingual"}
    there, said_first = touched(start, tool, 45, arch="lower", notation="fdi")
    back, said_second = touched(there, tool, 45, arch="lower", notation="fdi")

    side = tool.removeprefix("survey-")
    assert (there["more_faces"], back["more_faces"]) == (f"45 {side}, 43 lingual", "43 lingual")
    assert (said_first, said_second) == (first, second)
    assert {name: there[name] for name in ("replaced", "blocked")} == {
        name: start[name] for name in ("replaced", "blocked")
    }


def test_a_face_that_the_survey_asks_for_anyway_is_not_taken_out_by_a_touch() -> None:
    after, sentence = touched(
        EMPTY, "survey-distal", 45, arch="lower", notation="fdi", asked=[(45, "distal")]
    )

    assert after == EMPTY
    assert sentence == "45 distal stands in the survey anyway: choose there what it shows."


def test_entries_that_cannot_be_read_are_left_alone() -> None:
    assert touch({"clasps": "45,"[:2] + "x"}, "replaced", 46)["clasps"] == "45"[:2] + "x"


@pytest.mark.parametrize("tool", [key for key, _words in TOOLS])
def test_every_touch_says_what_changed_and_the_next_takes_it_back(tool: str) -> None:
    start = {"replaced": "45"} if tool == "hollowed" else {}
    first = touched({**EMPTY, **start}, tool, 45, arch="lower", notation="fdi")
    second = touched(first[0], tool, 45, arch="lower", notation="fdi")
    assert "45" in first[1]
    assert "45" in second[1]
    assert first[1] != second[1]
    assert touched(second[0], tool, 45, arch="lower", notation="fdi")[0] == first[0]


def test_a_sentence_names_the_tooth_as_the_reader_writes_it() -> None:
    assert said({}, "clasps", 45, "universal") == "A clasp on 29."
    assert said({"clasps": "29"}, "clasps", 45, "universal") == "No clasp on 29."


def test_a_milk_tooth_is_written_by_its_own_number() -> None:
    assert touch({}, "primary", 35)["primary"] == "75"
    assert touch({"primary": "75"}, "primary", 35)["primary"] == ""


def test_a_hollowed_tooth_that_is_no_longer_replaced_is_not_hollowed() -> None:
    assert touch({"replaced": "36", "hollowed": "36"}, "replaced", 36)["hollowed"] == ""


def test_entries_read_the_same_in_another_numbering() -> None:
    entries = {**EMPTY, "replaced": "36, 37", "primary": "75", "blocked": "35 distal"}
    there = renumbered(entries, "fdi", "universal", arch="lower")
    assert (there["replaced"], there["primary"], there["blocked"]) == ("19, 18", "K", "20 distal")
    back = renumbered(there, "universal", "fdi", arch="lower")
    assert {name: back[name] for name in entries} == entries


def test_a_label_of_another_system_is_refused_and_never_guessed() -> None:
    mixed = {**EMPTY, "replaced": "UR6, 36"}
    there = renumbered(mixed, "fdi", "universal", arch="lower")
    assert there == {**EMPTY, "replaced": "UR6, 19"}


def test_what_cannot_be_read_hinders_nothing_else_from_being_renumbered() -> None:
    """18 is a tooth in FDI and another one in Universal: left as it was, it would be that."""
    entries = {
        **EMPTY,
        "replaced": "38, ?",
        "clasps": "35",
        "rests": "18",
        "more_faces": "18 mesial",
    }
    there = renumbered(entries, "fdi", "universal", arch="lower")
    names = ("replaced", "clasps", "rests", "more_faces")
    assert [there[name] for name in names] == ["17, ?", "20", "1", "1 mesial"]


def test_a_milk_tooth_that_stands_is_written_by_its_own_number_everywhere() -> None:
    start = {**EMPTY, "clasps": "35, 45", "blocked": "35 distal", "more_faces": "35 lingual"}
    there, said_first = touched(start, "primary", 35, arch="lower", notation="fdi")
    clasped, said_next = touched(there, "rests", 35, arch="lower", notation="fdi")
    back, _said = touched(clasped, "primary", 35, arch="lower", notation="fdi")

    assert (there["primary"], there["clasps"]) == ("75", "45, 75")
    assert (there["blocked"], there["more_faces"]) == ("75 distal", "75 lingual")
    assert (said_first, said_next) == ("At 35 the milk tooth still stands.", "A wire rest on 75.")
    assert (back["primary"], back["clasps"], back["rests"]) == ("", "45, 35", "35")
    assert (back["blocked"], back["more_faces"]) == ("35 distal", "35 lingual")


def test_a_milk_tooth_that_nobody_entered_is_not_guessed() -> None:
    entries = {**EMPTY, "clasps": "75"}
    after, sentence = touched(entries, "rests", 44, arch="lower", notation="fdi")

    assert (after, sentence) == (entries, "An entry cannot be read. Correct it first.")


def test_a_milk_tooth_may_stand_and_be_taken_out_at_delivery() -> None:
    first = touch({}, "primary", 35)
    both = touch(first, "extracted", 35)
    other_way = touch(touch({}, "extracted", 35), "primary", 35)

    assert [(one["primary"], one["extracted"]) for one in (both, other_way)] == [("75", "75")] * 2
    assert touch(first, "replaced", 35)["primary"] == ""


@pytest.mark.parametrize(("new", "row"), [("universal", "K, 29"), ("palmer", "LLe, LR5")])
def test_milk_teeth_are_renumbered_as_what_they_are(new: str, row: str) -> None:
    named = {"clasps": "75, 45", "primary": "75", "blocked": "75 distal"}
    there = renumbered({**EMPTY, **named}, "fdi", new, arch="lower")
    back = renumbered(there, new, "fdi", arch="lower")

    assert sorted(there["clasps"].split(", ")) == sorted(row.split(", "))
    assert (there["primary"], there["blocked"]) == (
        row.split(", ")[0],
        row.split(", ")[0] + " distal",
    )
    assert (back["clasps"], back["primary"], back["blocked"]) == ("45, 75", "75", "75 distal")
