"""The ticket and the label: their words, their code, and their size."""

from __future__ import annotations

import io
from collections.abc import Callable

import pytest
from pypdf import PdfReader
from reportlab.lib.units import mm

from cases.documents.facts import CaseFacts, House, Tick
from cases.documents.label import label_pdf
from cases.documents.ticket import ticket_pdf
from cases.documents.type import CannotPrint, DoesNotFit
from cases.domain.archform import ArchInput
from tests.documents.sample import HOUSE, NUMBER, US_HOUSE, codes_on, pages_of, sample


def size_mm(pdf: bytes) -> tuple[float, float]:
    box = PdfReader(io.BytesIO(pdf)).pages[0].mediabox
    return round(float(box.width) / mm, 1), round(float(box.height) / mm, 1)


@pytest.mark.parametrize(("house", "size"), [(HOUSE, (148.0, 210.0)), (US_HOUSE, (139.7, 215.9))])
def test_ticket_has_the_labs_paper_and_one_page(house: House, size: tuple[float, float]) -> None:
    pdf = ticket_pdf(sample(), house)

    assert size_mm(pdf) == size
    assert len(pages_of(pdf)) == 1


def test_ticket_tells_the_case() -> None:
    facts = sample()

    (words,) = pages_of(ticket_pdf(facts, HOUSE))

    for said in (
        NUMBER, "Test bench", "New piece, lower", "RUSH", "Treat as contaminated",
        "Practice at the quay", "Dr Lind", "Q-1180", "Wed 23 Dec. 2026, 09:30",
        "Mon 21 Dec. 2026, 16:00", "47–46, 36–37", "45 (0.9 mm), 35 (0.9 mm)",
        "plaster: 35 distal", "A3 (guide 2)", "26-0418-X", "Left at full depth for the dentist",
        "Always taken off", "None (smooth, satin from the paper)", "Allergy told: Nickel.",
        "Interim partial denture", "Press and clamp; Hot flask", "Reminder only",
    ):  # fmt: skip
        assert said in words
    assert all(tick.name in words for tick in facts.stages)
    assert f"{facts.stages[2].name}: left out" in words


def test_ticket_lists_the_stages_in_order() -> None:
    facts = sample()

    (words,) = pages_of(ticket_pdf(facts, HOUSE))

    places = [words.index(tick.name) for tick in facts.stages if tick.name != "Polish"]
    assert places == sorted(places)


@pytest.mark.parametrize("house", [HOUSE, US_HOUSE])
def test_code_on_the_ticket_is_the_number(house: House) -> None:
    assert codes_on(ticket_pdf(sample(), house)) == [NUMBER]


def test_long_names_wrap_on_the_ticket_whole() -> None:
    practice = "The dental practice of the upper and the lower town beside the old river bridge"

    (words,) = pages_of(ticket_pdf(sample(practice=practice), HOUSE))

    assert practice in words


@pytest.mark.parametrize("name", ["Οδοντιατρείο Αθηνών", "Зубной кабинет у моста"])
def test_greek_and_cyrillic_names_print(name: str) -> None:
    (words,) = pages_of(ticket_pdf(sample(practice=name), HOUSE))

    assert name in words


def test_ticket_with_an_unknown_character_is_refused() -> None:
    with pytest.raises(CannotPrint, match="SNOWMAN"):
        ticket_pdf(sample(dentist="Dr ☃"), HOUSE)


def test_more_stages_than_a_page_go_on_overleaf() -> None:
    many = tuple(Tick(f"Stage number {n}", "open") for n in range(60))

    first, second = pages_of(ticket_pdf(sample(stages=many), HOUSE))

    assert "goes on overleaf" in first
    assert NUMBER in second
    assert all(tick.name in f"{first} {second}" for tick in many)


def test_description_too_long_for_the_ticket_is_refused() -> None:
    with pytest.raises(DoesNotFit):
        ticket_pdf(sample(description="very long words " * 200), HOUSE)


def test_same_case_gives_the_same_paper() -> None:
    assert ticket_pdf(sample(), HOUSE) == ticket_pdf(sample(), HOUSE)


def test_label_has_number_and_code_and_nothing_of_the_patient() -> None:
    pdf = label_pdf(sample(), HOUSE)

    (words,) = pages_of(pdf)
    assert codes_on(pdf) == [NUMBER]
    assert NUMBER in words
    assert "RUSH" in words
    assert "Mon 21 Dec." in words
    assert "Q-1180" not in words
    assert size_mm(pdf) == (62.0, 29.0)


def test_label_of_a_long_number_still_fits() -> None:
    (words,) = pages_of(label_pdf(sample(number="26-123456789-Z"), HOUSE))

    assert "26-123456789-Z" in words


def inked(pdf: bytes) -> bytes:
    """The first page as pixels."""
    import pypdfium2

    document = pypdfium2.PdfDocument(pdf)
    pixels = document[0].render(scale=2).to_pil().convert("L").tobytes()
    document.close()
    return pixels


@pytest.mark.parametrize("paper", [label_pdf, ticket_pdf])
def test_label_and_ticket_bear_the_drawing_of_their_own_case(
    paper: Callable[[CaseFacts, House], bytes],
) -> None:
    own = inked(paper(sample(), HOUSE))
    other = ArchInput("lower", missing=(31,), replaced=(31,), clasps=(33, 43))

    assert inked(paper(sample(), HOUSE)) == own
    assert inked(paper(sample(arch=other), HOUSE)) != own
