"""The van's list and the day's print: every row, over as many pages as it takes."""

from __future__ import annotations

from datetime import date

import pytest

from cases.documents.lists import DayRow, Round, Stop, day_print_pdf, van_list_pdf
from tests.documents.sample import HOUSE, NOW, pages_of, sample


def day_rows(count: int) -> tuple[DayRow, ...]:
    return tuple(
        DayRow(
            f"26-{n:04d}-A", sample().arch, "Practice at the quay", f"Q-{n}",
            "Trim and finish to the ordered level", "Mara", "Wed 23 Dec. 2026, 16:00", "rush",
        )
        for n in range(1, count + 1)
    )  # fmt: skip


@pytest.mark.parametrize(("count", "pages"), [(1, 1), (60, 4)])
def test_day_print_has_every_case_on_its_pages(count: int, pages: int) -> None:
    found = pages_of(day_print_pdf(day_rows(count), HOUSE, now=NOW))

    words = " ".join(found)
    assert len(found) == pages
    assert all(row.number in words and row.patient_ref in words for row in day_rows(count))
    assert f"page {pages} of {pages}" in found[-1]


def test_day_print_says_stage_person_and_when_it_leaves() -> None:
    (words,) = pages_of(day_print_pdf(day_rows(1), HOUSE, now=NOW))

    for said in (
        "One open case", "As it stood Mon 21 Dec. 2026, 10:00.",
        "Trim and finish to the ordered level", "Mara", "Wed 23 Dec. 2026, 16:00", "rush",
        "stays in the lab",
    ):  # fmt: skip
        assert said in words


def test_day_print_of_an_empty_lab_says_so() -> None:
    assert "No open cases" in pages_of(day_print_pdf((), HOUSE, now=NOW))[0]


def test_van_list_tells_where_to_stop_and_what_to_do() -> None:
    rounds = (
        Round("North", (Stop("Practice at the quay", "4 Quay Road\n1010 Town", "01 555 0100",
                             ("D26-0012 (2 pieces)",), ("impression",)),)),
        Round("", (Stop("Upper Town", "", "", (), ("old piece",)),)),
    )  # fmt: skip

    (words,) = pages_of(van_list_pdf(date(2026, 12, 21), rounds, HOUSE, now=NOW))

    for said in (
        "Van, Mon 21 Dec. 2026", "2 stops.", "North", "Practice at the quay",
        "4 Quay Road, 1010 Town", "01 555 0100", "Hand over D26-0012 (2 pieces)",
        "Fetch: impression", "Without a route", "Upper Town", "Fetch: old piece",
    ):  # fmt: skip
        assert said in words


def test_van_list_of_a_quiet_day_says_so() -> None:
    words = pages_of(van_list_pdf(date(2026, 12, 21), (), HOUSE, now=NOW))[0]

    assert "Nothing goes out and nothing is to be fetched." in words
