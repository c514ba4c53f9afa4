"""Text on paper: looked up, measured, shrunk, wrapped or refused, never cut."""

from __future__ import annotations

import pytest
from reportlab.lib.units import mm

from cases.documents.type import (
    CannotPrint,
    DoesNotFit,
    clean,
    fit,
    fit_lines,
    runs,
    width_pt,
    wrap,
)

LONG = "The dental practice of the upper and the lower town beside the river"


def test_short_text_keeps_its_size() -> None:
    assert fit("Dr Lind", width_mm=60, height_mm=6, size=10, floor=7).size == 10


def test_long_text_shrinks_on_one_line_first() -> None:
    width = width_pt(LONG, 10) / mm * 0.8

    found = fit(LONG, width_mm=width, height_mm=6, size=10, floor=7)

    assert found.lines == (LONG,)
    assert 7 <= found.size < 10
    assert width_pt(LONG, found.size) <= width * mm


def test_longer_text_wraps_at_the_floor_and_loses_nothing() -> None:
    found = fit(LONG, width_mm=40, height_mm=20, size=10, floor=7)

    assert found.size == 7
    assert len(found.lines) > 1
    assert " ".join(found.lines) == LONG
    assert all(width_pt(line, 7) <= 40 * mm for line in found.lines)


def test_text_that_does_not_fit_is_refused_with_its_words() -> None:
    with pytest.raises(DoesNotFit, match="The dental practice of the upper") as caught:
        fit(LONG, width_mm=20, height_mm=6, size=10, floor=7)

    assert caught.value.text == LONG


def test_word_wider_than_the_line_is_broken_between_letters() -> None:
    word = "Prothesenkunststoffverarbeitung"

    lines = wrap(word, 30, 10)

    assert "".join(lines) == word
    assert all(width_pt(line, 10) <= 30 for line in lines)


def test_running_text_wraps_before_it_shrinks() -> None:
    found = fit_lines(LONG, width_mm=40, height_mm=20, size=10, floor=7)

    assert found.size == 10
    assert " ".join(found.lines) == LONG


def test_running_text_shrinks_to_its_height() -> None:
    tall = fit_lines(LONG, width_mm=40, height_mm=20, size=10, floor=5).height_mm

    found = fit_lines(LONG, width_mm=40, height_mm=tall * 0.7, size=10, floor=5)

    assert found.size < 10
    assert found.height_mm <= tall * 0.7 + 0.01


@pytest.mark.parametrize(
    "name", ["Οδοντιατρείο Αθηνών", "Зуботехническая лаборатория", "Čeněk Ďurković", "Łódź µm"]
)
def test_greek_cyrillic_and_extended_latin_have_a_font(name: str) -> None:
    assert "".join(piece for _font, piece in runs(name)) == name


def test_other_letters_come_from_the_other_font_and_latin_stays() -> None:
    assert [font for font, _piece in runs("Dr Αθηνά Lind")] == ["Lab", "Lab-Other", "Lab"]


@pytest.mark.parametrize(
    ("text", "name"), [("木", "CJK UNIFIED IDEOGRAPH-6728"), ("☃", "SNOWMAN"), ("א", "ALEF")]
)
def test_character_without_a_font_is_refused_by_name(text: str, name: str) -> None:
    with pytest.raises(CannotPrint, match=name):
        fit(f"Dr {text}", width_mm=60, height_mm=6, size=10, floor=7)


def test_text_is_composed_and_white_space_is_one_space() -> None:
    assert clean("Cafe\u0301 \u202f at\tthe\nquay\u00ad ") == "Café at the quay"


def test_no_break_space_keeps_number_and_unit_together() -> None:
    lines = wrap("free arm 10\u00a0mm", width_pt("free arm 10", 10), 10)

    assert lines == ("free arm", "10\u00a0mm")
