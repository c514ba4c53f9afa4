"""The hour that the wall's clock leaves out in spring, in records of every kind."""

from __future__ import annotations

from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from cases.domain.cure.night import on_the_wall
from cases.domain.cure.samples import Samples

VIENNA = ZoneInfo("Europe/Vienna")
LORD_HOWE = ZoneInfo("Australia/Lord_Howe")
SPRING = datetime(2027, 3, 28, 1, 30, tzinfo=VIENNA)
AUTUMN = datetime(2026, 10, 25, 1, 30, tzinfo=VIENNA)


def lived(started: datetime, *minutes: float) -> list[float]:
    """Return the minutes that went by in a record of these minutes on the wall's clock."""
    seconds = np.array(minutes) * 60.0
    found = on_the_wall(Samples(seconds, np.full(len(seconds), 74.0)), started)
    return [second / 60 for second, _celsius in found.points]


@pytest.mark.parametrize(
    ("minutes", "expected"),
    [
        ((0, 29, 90, 100), [0, 29, 30, 40]),
        # Every two hours, or none for a long time: the hour is left out all the same.
        ((0, 120, 240), [0, 60, 180]),
        # Left on winter time: it has readings at 02:00, or at 02:59 at the latest.
        ((0, 29, 30, 90, 100), [0, 29, 30, 90, 100]),
        ((0, 29, 89, 90), [0, 29, 89, 90]),
        # Over before, or begun after, or ending within the hour.
        ((0, 10, 29), [0, 10, 29]),
        ((90, 100, 110), [90, 100, 110]),
        ((0, 29, 60), [0, 29, 60]),
    ],
)
def test_hour_is_left_out_where_the_record_jumps_over_it(
    minutes: tuple[float, ...], expected: list[float]
) -> None:
    assert lived(SPRING, *minutes) == pytest.approx(expected)


def test_nothing_is_left_out_in_autumn_nor_where_no_clock_is_changed() -> None:
    assert lived(AUTUMN, 0, 29, 90, 150) == [0, 29, 90, 150]
    assert lived(SPRING.replace(tzinfo=ZoneInfo("UTC")), 0, 29, 90) == [0, 29, 90]
    assert lived(SPRING - timedelta(days=7), 0, 29, 90) == [0, 29, 90]


def test_half_an_hour_is_left_out_where_that_is_how_the_clock_goes() -> None:
    began = datetime(2026, 10, 4, 1, 30, tzinfo=LORD_HOWE)

    assert lived(began, 0, 29, 60) == [0, 29, 30]
