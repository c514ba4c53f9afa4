"""The delivery note and its chairside sheets."""

from __future__ import annotations

import pytest

from cases.documents.delivery_note import Box, Piece, delivery_note_pdf
from cases.documents.facts import CaseFacts
from tests.documents.sample import HOUSE, NOW, NUMBER, US_HOUSE, pages_of, sample


def box(*pieces: Piece) -> Box:
    return Box(
        "D26-0012", "Practice at the quay", "4 Quay Road\n1010 Town", "Mon 21 Dec. 2026", NOW, "",
        pieces,
    )  # fmt: skip


def whole(facts: CaseFacts) -> Piece:
    return Piece(
        facts,
        soak="Lay in water 5 h instead of 24 h: the van was due.",
        alone="Its pair 26-0418-X is not in this box: it waits for a record.",
        returns=("bite record", "master cast"),
    )


def test_note_tells_what_is_in_the_box_and_what_comes_back() -> None:
    first, *_rest = pages_of(delivery_note_pdf(box(whole(sample())), HOUSE))

    for said in (
        "Delivery note D26-0012", "Test bench", "1 Mill Lane, 1020 Town", "Practice at the quay",
        "4 Quay Road", "Leaves the lab on Mon 21 Dec. 2026.", "One piece in this box", NUMBER,
        "Patient reference Q-1180", "Replaces 47–46, 36–37.", "to the order of Dr Lind",
        "Comes back with it: bite record, master cast.",
        "Its pair 26-0418-X is not in this box: it waits for a record.",
        "Lay in water 5 h instead of 24 h: the van was due.",
        "packed Mon 21 Dec. 2026, 10:00", "page 1 of 2",
    ):  # fmt: skip
        assert said in first


def test_chairside_sheet_says_what_must_not_be_ground() -> None:
    facts = sample(concessions=("Bracing behind 35 is at the line. (No room for more)",))

    _note, sheet = pages_of(delivery_note_pdf(box(whole(facts)), HOUSE))

    for said in (
        "Chairside sheet", NUMBER, "Blocked out: 35 distal.", "Plaster on the working cast",
        "Acrylic lies against these faces without block-out: 45 distal.",
        "Borders: left at full depth.", "Polish: not polished, as ordered",
        "Do not grind here", "Behind 45 and 35", "Over the bar", "Adjusting the wires",
        "45: 0.9 mm wire, undercut 0.25 mm, free arm 10 mm", "Never bend twice at the same place",
        "Bracing behind 35 is at the line. (No room for more)", "Lay in water 5 h",
        "for the treating dentist to judge",
    ):  # fmt: skip
        assert said in sheet


@pytest.mark.parametrize("house", [HOUSE, US_HOUSE])
def test_sixty_pieces_give_a_sheet_each_and_every_number(house: object) -> None:
    pieces = [Piece(sample(number=f"26-{n:04d}-A")) for n in range(1, 61)]

    pages = pages_of(delivery_note_pdf(box(*pieces), house))  # type: ignore[arg-type]

    sheets = [page for page in pages if "Chairside sheet" in page and "grind here" in page]
    note = " ".join(page for page in pages if "Do not grind" not in page)
    assert len(sheets) == 60
    assert all(piece.facts.number in note for piece in pieces)
    assert f"page {len(pages)} of {len(pages)}" in pages[-1]


def test_no_technician_is_named() -> None:
    words = " ".join(pages_of(delivery_note_pdf(box(whole(sample())), HOUSE)))

    assert "Mara" not in words
