"""The first start of a program that has somebody in the lab for what hands do."""

from __future__ import annotations

from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest

from cases.domain.calendar import LabCalendar
from cases.domain.cure.program import LONG, SHORT, Program
from cases.domain.cure.timing import attended_start, nearest_start

WALL = ZoneInfo("Europe/Vienna")
DAY = ((time(8), time(17)),)
CALENDAR = LabCalendar(
    zone=WALL, week=(DAY,) * 5 + ((), ()), closed_days=frozenset({date(2026, 12, 8)})
)


def at(text: str) -> datetime:
    return datetime.fromisoformat(text).replace(tzinfo=WALL)


@pytest.mark.parametrize(
    ("program", "itself", "now", "begins"),
    [
        # The long cycle lasts 8 h 30: from 16:00 it ends at night, from 23:30 at eight.
        (LONG, True, "2026-12-09T16:00", "2026-12-09T23:30"),
        # From 07:00 it ends at 15:30, and into tap water half an hour later somebody is there.
        (LONG, True, "2026-12-09T07:00", "2026-12-09T07:00"),
        # Ends at 16:45, but goes into tap water at 17:15: from 08:00 the day after.
        (LONG, True, "2026-12-09T08:15", "2026-12-09T23:30"),
        # Hands start this bath: nobody is there at half past eleven at night.
        (LONG, False, "2026-12-09T16:00", None),
        # Four hours, three of them with hands: begun at nine it is all in the day.
        (SHORT, False, "2026-12-09T09:00", "2026-12-09T09:00"),
        (SHORT, False, "2026-12-09T14:00", "2026-12-10T08:00"),
        # Friday evening: nobody is there for two days, which is longer than a flask may wait.
        (LONG, True, "2026-12-11T16:00", None),
        # Monday evening before a closed Tuesday: it would end on Wednesday.
        (LONG, True, "2026-12-07T20:00", None),
        (LONG, True, "2026-12-08T00:30", "2026-12-08T23:30"),
    ],
)
def test_start_has_hands(program: Program, itself: bool, now: str, begins: str | None) -> None:
    found = attended_start(program, at(now), CALENDAR, starts_itself=itself)

    assert found == (at(begins) if begins else None)


def test_start_counts_real_hours_over_a_change_of_the_clock() -> None:
    open_sunday = LabCalendar(zone=WALL, week=(DAY,) * 7, closed_days=frozenset())

    found = attended_start(LONG, at("2026-10-24T16:00"), open_sunday, starts_itself=True)

    # Back by an hour at three: 8 h 30 before eight in winter time is half past midnight in summer.
    assert found == at("2026-10-25T08:00").astimezone(ZoneInfo("UTC")) - timedelta(minutes=510)
    assert found.astimezone(WALL).strftime("%H:%M") == "00:30"


def test_lab_without_hours_has_no_such_start() -> None:
    closed = LabCalendar(zone=WALL, week=((),) * 7, closed_days=frozenset())

    assert attended_start(LONG, at("2026-12-09T16:00"), closed, starts_itself=True) is None
    assert nearest_start(LONG, at("2026-12-09T16:00"), closed, starts_itself=True) is None


@pytest.mark.parametrize(
    ("program", "itself", "now", "begins", "missed"),
    [
        # Friday evening: whenever it starts it ends before Monday at eight, so as late as may be.
        (LONG, True, "2026-12-11T16:00", "2026-12-12T16:00", ["take-out", "to-water"]),
        # Hands start this bath: from eight on the tap water falls after five and is left to the
        # next day; begun at a quarter to eight a quarter of an hour before people come is all.
        (LONG, False, "2026-12-09T16:00", "2026-12-10T07:45", ["heat"]),
        # Begun this minute the tap water is left all night: rather tomorrow.
        (LONG, False, "2026-12-09T08:20", "2026-12-10T07:45", ["heat"]),
    ],
)
def test_where_no_start_has_hands_for_all_the_one_that_leaves_least_is_named(
    program: Program, itself: bool, now: str, begins: str, missed: list[str]
) -> None:
    assert attended_start(program, at(now), CALENDAR, starts_itself=itself) is None

    found = nearest_start(program, at(now), CALENDAR, starts_itself=itself)

    assert found is not None
    assert found[0] == at(begins)
    assert [step.kind for step in found[1]] == missed
