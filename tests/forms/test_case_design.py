"""Teeth and faces as people write them, and what a touch does to them."""

from __future__ import annotations

import pytest

from cases.forms.case_design import parse_faces, say_faces, touched

EMPTY = {"replaced": "", "gaps": "", "extracted": "", "clasps": "", "rests": "", "blocked": ""}


def touch(entries: dict[str, str], tool: str, tooth: int) -> dict[str, str]:
    return touched({**EMPTY, **entries}, tool, tooth, arch="lower", notation="fdi")


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


def test_clasp_on_a_replaced_tooth_makes_it_stand() -> None:
    after = touch({"replaced": "45, 46"}, "clasps", 45)

    assert (after["replaced"], after["clasps"]) == ("46", "45")


def test_first_blocked_face_chooses_plaster_over_none() -> None:
    after = touch({"method": "none"}, "distal", 35)

    assert (after["blocked"], after["method"]) == ("35 distal", "plaster")


def test_entries_that_cannot_be_read_are_left_alone() -> None:
    assert touch({"clasps": "45,"[:2] + "x"}, "replaced", 46)["clasps"] == "45"[:2] + "x"
