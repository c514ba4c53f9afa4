"""The history: newest first, fifty on a page, with the rows that its words stand in."""

from __future__ import annotations

import pytest

from cases.models import Note
from cases.selectors.history import PAGE_SIZE, history
from cases.services.close_case import write_note
from tests.factories import make_case, make_shop

pytestmark = pytest.mark.django_db


def test_newest_event_stands_first_with_its_words() -> None:
    shop = make_shop()
    case = make_case(shop)
    write_note(shop.envelope("noor"), case=case.pk, text="Sooner")

    shown = history(case)

    first = shown.page.object_list[0]
    note = shown.row(first, "Note")
    assert isinstance(note, Note)
    assert (first.kind, note.text) == ("note.written", "Sooner")


def test_history_goes_on_on_a_second_page() -> None:
    shop = make_shop()
    case = make_case(shop)
    for n in range(PAGE_SIZE):
        write_note(shop.envelope("noor"), case=case.pk, text=str(n))

    first, second = history(case), history(case, page=2)

    assert len(first.page.object_list) == PAGE_SIZE
    assert [event.kind for event in second.page.object_list][-1] == "case.logged"
    assert second.row(second.page.object_list[0], "Note") is None
