"""What a design changes, in sentences."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta

from django.core.paginator import Paginator

from cases.domain.design import Bar, Clasp, Design
from cases.models import CheckItem, Event
from cases.selectors.history import Drawn, History
from cases.views.case.design_words import changes_of
from cases.views.case.history_words import check_words
from cases.views.case.page import design_rows

BEFORE = Design("lower", clasps=(Clasp(44, wire_mm=0.9),), bar=True, strengthener=Bar(size_mm=1.3))


def said(**changes: object) -> list[str]:
    """What is said of a design with these changes."""
    return changes_of(BEFORE, replace(BEFORE, **changes), "fdi")


def test_what_was_measured_at_a_clasp_is_not_said_to_be_another_wire() -> None:
    wider, thicker = Clasp(44, wire_mm=0.9, room_mm=1.5), Clasp(44, wire_mm=1.0)
    assert said(clasps=(wider,)) == ["Room where a wire crosses the bite: 44."]
    assert said(clasps=(thicker,)) == ["Other wire, undercut or arm on 44."]


def test_another_bar_and_another_copy_material_are_said() -> None:
    assert said(strengthener=Bar(size_mm=1.5)) == ["The bar: changed."]
    assert said(bar=False, strengthener=None) == ["No bar."]
    assert said(copy_in="gel") == ["How it is blocked out: changed."]


def test_milk_teeth_are_said_by_their_own_numbers() -> None:
    held = replace(BEFORE, clasps=(), primary=frozenset({35}))
    clasped = replace(held, clasps=(Clasp(35),))
    assert changes_of(held, clasped, "fdi") == ["Clasp on 75."]
    # What is given up is said as it stood.
    gone = replace(held, primary=frozenset(), missing=frozenset({35}))
    assert "No clasp on 75." in changes_of(clasped, gone, "fdi")
    rows = {row.label: row.now for row in design_rows(clasped, "universal")}
    assert (rows["Milk teeth still there"], rows["Clasps"]) == ("K", "K")
    rested = replace(held, rests=frozenset({35}))
    assert {row.label: row.now for row in design_rows(rested, "fdi")}["Wire rests"] == "75"


def test_a_check_in_the_history_names_the_milk_tooth_that_stood_then() -> None:
    noon = datetime(2026, 3, 2, 12, tzinfo=UTC)
    item = CheckItem(key="line", subject="35 distal", spec={"words": "Blocked out: 35 distal."})
    past = History(
        page=Paginator([], 1).get_page(1),
        stages={},
        checks={"line": item},
        people={},
        designs=(
            Drawn(1, noon, provisional=False, milk=frozenset({35})),
            Drawn(2, noon + timedelta(days=1), provisional=False, milk=frozenset()),
        ),
    )
    then, later = (Event(happened_at=noon + timedelta(hours=n)) for n in (1, 25))
    assert check_words(item, "fdi", past.milk(then)) == "Blocked out: 75 distal."
    assert check_words(item, "fdi", past.milk(later)) == "Blocked out: 35 distal."
    assert past.milk(Event(happened_at=noon - timedelta(hours=1))) == frozenset()
