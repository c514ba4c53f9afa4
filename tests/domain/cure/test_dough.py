"""The window of a dough: its states at their edges, whom it calls, what the room does to it."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from cases.domain.cure.dough import WARN_BEFORE, room_words, window

MIXED = datetime(2026, 12, 9, 13, 0, tzinfo=UTC)


def after(minutes: float) -> datetime:
    return MIXED + timedelta(minutes=minutes)


@pytest.mark.parametrize(
    ("minutes", "state"),
    [
        (0, "mixing"), (7.99, "mixing"), (8, "open"), (11.99, "open"), (12, "closing"),
        (14.99, "closing"), (15, "passed"), (600, "passed"),
    ],
)  # fmt: skip
def test_states_change_at_the_makers_minutes(minutes: float, state: str) -> None:
    assert window(MIXED, 8, 15).state(after(minutes)) == state


@pytest.mark.parametrize(
    ("minutes", "missed"), [(7.9, "early"), (8, ""), (15, ""), (15.1, "late"), (None, "")]
)
def test_closing_outside_the_makers_minutes_is_told(minutes: float | None, missed: str) -> None:
    closed = None if minutes is None else after(minutes)

    assert replace(window(MIXED, 8, 15), closed_at=closed).missed == missed
    assert replace(window(MIXED, None, None), closed_at=closed).missed == ""


def test_without_the_makers_minutes_the_label_decides() -> None:
    dough = window(MIXED, None, None)

    assert dough.state(after(30)) == "unknown"
    assert dough.instants == {}


def test_an_end_alone_is_a_window_and_a_beginning_alone_is_none() -> None:
    assert window(MIXED, None, 15).state(after(1)) == "open"
    assert window(MIXED, 8, None).state(after(1)) == "mixing"
    assert window(MIXED, 8, None).state(after(9)) == "unknown"


def test_the_bench_is_called_when_it_opens_before_it_closes_and_when_it_has() -> None:
    dough = window(MIXED, 8, 15)

    assert dough.instants == {
        "dough": after(8), "dough-soon": after(15) - WARN_BEFORE, "dough-over": after(15),
    }  # fmt: skip


def test_once_closed_it_calls_nobody_and_says_its_minutes() -> None:
    dough = replace(window(MIXED, 8, 15), closed_at=after(12.5))

    assert dough.state(after(60)) == "closed"
    assert dough.instants == {}
    assert dough.minutes_to_closing() == 12.5
    assert window(MIXED, 8, 15).minutes_to_closing() is None


@pytest.mark.parametrize(
    ("room", "maker", "part"),
    [
        (None, 23, ""),
        (23, 23, ""),
        (25, 23, ""),
        (21, 23, ""),
        (25.5, 23, "stiff earlier"),
        (20, 23, "ready later"),
        (23, None, "nobody entered which"),
    ],
)
def test_the_room_is_spoken_of_only_where_it_differs(
    room: float | None, maker: float | None, part: str
) -> None:
    said = room_words(room, maker)

    assert part in said
    assert bool(said) == bool(part)
