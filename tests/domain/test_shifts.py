"""When somebody has gone home and left a stage running."""

from __future__ import annotations

from datetime import UTC, datetime, time
from zoneinfo import ZoneInfo

import pytest

from cases.domain.shifts import left_at

VIENNA = ZoneInfo("Europe/Vienna")
DAY = ((time(8), time(12)), (time(13), time(17)))
OPEN = ((time(8), time(18)),)


def at(hour: int, minute: int = 0, day: int = 9) -> datetime:
    """Return an instant by the wall in Vienna in December (one hour ahead of UTC)."""
    return datetime(2026, 12, day, hour, minute, tzinfo=VIENNA).astimezone(UTC)


@pytest.mark.parametrize(
    ("began", "now", "expected"),
    [
        (at(9), at(11), None),  # in the middle of the shift
        (at(9), at(12, 10), None),  # ten minutes into the break: may still be there
        (at(9), at(12, 16), at(12)),  # a quarter of an hour into it: gone to lunch
        (at(9), at(20), at(12)),
        (at(14), at(17, 15), None),
        (at(14), at(17, 16), at(17)),
        (at(17, 5), at(17, 59), None),  # begun after the shift: until the lab closes
        (at(17, 5), at(18, 16), at(18)),
        (at(19), at(23, 59), None),  # begun in the closed lab: until midnight
        (at(19), at(1, day=10), at(0, day=10)),
    ],
)
def test_hands_leave_at_the_end_of_the_shift(
    began: datetime, now: datetime, expected: datetime | None
) -> None:
    assert left_at(began, now, zone=VIENNA, shifts=DAY, opening=OPEN) == expected


def test_short_break_is_worked_through() -> None:
    with_break = ((time(8), time(10)), (time(10, 10), time(17)))

    left = left_at(at(9), at(10, 30), zone=VIENNA, shifts=with_break, opening=OPEN)

    assert left is None


def test_day_without_shift_ends_with_the_lab() -> None:
    assert left_at(at(9), at(20), zone=VIENNA, shifts=(), opening=OPEN) == at(18)


def test_closed_day_ends_at_midnight() -> None:
    assert left_at(at(9), at(20), zone=VIENNA, shifts=(), opening=()) is None


def test_shift_on_the_night_of_the_clock_change_ends_by_the_wall() -> None:
    began = datetime(2026, 10, 25, 7, tzinfo=UTC)  # 08:00 in Vienna, clocks went back at 3

    left = left_at(
        began,
        datetime(2026, 10, 25, 20, tzinfo=UTC),
        zone=VIENNA,
        shifts=((time(8), time(17)),),
        opening=(),
    )

    assert left == datetime(2026, 10, 25, 16, tzinfo=UTC)
