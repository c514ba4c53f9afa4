"""Opening hours: sums in open minutes, right on the nights when the clocks change."""

from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cases.domain.calendar import Hours, LabCalendar, NeverOpen, say_day, say_day_from

RIGA = ZoneInfo("Europe/Riga")
DAY: Hours = ((time(8), time(12)), (time(13), time(17)))
WEEK: tuple[Hours, ...] = (DAY, DAY, DAY, DAY, ((time(8), time(12)),), (), ())
HOLIDAY = date(2026, 3, 4)  # a Wednesday

LAB = LabCalendar(RIGA, WEEK, frozenset({HOLIDAY}))
ROUND_THE_CLOCK = LabCalendar(RIGA, (((time(0), time(0)),),) * 7)

SPRING = date(2026, 3, 29)  # 03:00 becomes 04:00 in Riga: a day of 23 hours
AUTUMN = date(2026, 10, 25)  # 04:00 becomes 03:00 in Riga: a day of 25 hours


def riga(day: date, hour: int, minute: int = 0, *, fold: int = 0) -> datetime:
    wall = datetime.combine(day, time(hour, minute, fold=fold), tzinfo=RIGA)
    return wall.astimezone(UTC)


MONDAY = date(2026, 3, 2)
TUESDAY = date(2026, 3, 3)
THURSDAY = date(2026, 3, 5)
FRIDAY = date(2026, 3, 6)
NEXT_MONDAY = date(2026, 3, 9)


@pytest.mark.parametrize(
    "week",
    [
        (DAY,) * 6,
        (((time(12), time(8)),), *(DAY,) * 6),
        (((time(8), time(8)),), *(DAY,) * 6),
        (((time(8), time(13)), (time(12), time(17))), *(DAY,) * 6),
        (((time(13), time(0)), (time(8), time(9))), *(DAY,) * 6),
    ],
)
def test_calendar_refuses_an_impossible_week(week: tuple[Hours, ...]) -> None:
    with pytest.raises(ValueError, match=r"seven days|without overlap"):
        LabCalendar(RIGA, week)


@pytest.mark.parametrize(
    ("day", "closed"),
    [(MONDAY, False), (HOLIDAY, True), (date(2026, 3, 7), True), (FRIDAY, False)],
)
def test_is_closed_knows_holidays_and_weekends(day: date, closed: bool) -> None:
    assert LAB.is_closed(day) is closed


def test_local_day_is_the_day_on_the_wall() -> None:
    assert LAB.local_day(datetime(2026, 3, 2, 22, 30, tzinfo=UTC)) == TUESDAY
    with pytest.raises(ValueError, match="without a zone"):
        LAB.local_day(datetime(2026, 3, 2, 22, 30))  # noqa: DTZ001 - the refusal under test


def test_at_gives_the_first_instant_the_wall_shows_a_time() -> None:
    assert LAB.at(MONDAY, time(8)) == datetime(2026, 3, 2, 6, 0, tzinfo=UTC)
    assert LAB.at(AUTUMN, time(3, 30)) == riga(AUTUMN, 3, 30, fold=0)
    # 03:30 does not exist that night; it counts as 04:30.
    assert LAB.at(SPRING, time(3, 30)) == riga(SPRING, 4, 30)


def test_open_intervals_are_in_utc_and_in_order() -> None:
    assert LAB.open_intervals(MONDAY) == (
        (riga(MONDAY, 8), riga(MONDAY, 12)),
        (riga(MONDAY, 13), riga(MONDAY, 17)),
    )
    assert LAB.open_intervals(HOLIDAY) == ()


@pytest.mark.parametrize(("day", "hours"), [(MONDAY, 24), (SPRING, 23), (AUTUMN, 25)])
def test_open_intervals_of_a_whole_day_follow_the_clock_change(day: date, hours: int) -> None:
    ((start, end),) = ROUND_THE_CLOCK.open_intervals(day)

    assert end - start == timedelta(hours=hours)


@pytest.mark.parametrize(
    ("day", "hours", "worked"),
    [
        (AUTUMN, (time(2), time(3, 30)), 150),  # open until the second 03:30
        (AUTUMN, (time(3, 30), time(5)), 150),  # open from the first 03:30
        (SPRING, (time(2), time(3, 30)), 90),  # the missing 03:30 counts as 04:30
        (SPRING, (time(2), time(5)), 120),
        (SPRING, (time(3), time(3, 59)), 59),  # slips to 04:00 - 04:59
    ],
)
def test_open_minutes_of_a_night_shift_on_change_nights(
    day: date, hours: tuple[time, time], worked: int
) -> None:
    lab = LabCalendar(RIGA, ((hours,),) * 7)

    (span,) = lab.open_intervals(day)

    assert span[1] - span[0] == timedelta(minutes=worked)


def test_open_span_that_the_clocks_jump_over_is_gone() -> None:
    lab = LabCalendar(RIGA, (((time(3, 30), time(4)),),) * 7)

    assert lab.open_intervals(SPRING) == ()
    assert lab.next_open(riga(SPRING, 1)) == riga(date(2026, 3, 30), 3, 30)


@pytest.mark.parametrize(
    ("instant", "is_open"),
    [
        (riga(MONDAY, 8), True),
        (riga(MONDAY, 12), False),
        (riga(MONDAY, 12, 59), False),
        (riga(MONDAY, 16, 59), True),
        (riga(HOLIDAY, 9), False),
    ],
)
def test_is_open_counts_the_opening_minute_but_not_the_closing_one(
    instant: datetime, is_open: bool
) -> None:
    assert LAB.is_open(instant) is is_open


@pytest.mark.parametrize(
    ("instant", "opens"),
    [
        (riga(MONDAY, 9), riga(MONDAY, 9)),
        (riga(MONDAY, 7), riga(MONDAY, 8)),
        (riga(MONDAY, 12), riga(MONDAY, 13)),
        (riga(TUESDAY, 17), riga(THURSDAY, 8)),
        (riga(FRIDAY, 12), riga(NEXT_MONDAY, 8)),
    ],
)
def test_next_open_skips_lunch_nights_and_closed_days(instant: datetime, opens: datetime) -> None:
    assert LAB.next_open(instant) == opens


@pytest.mark.parametrize(
    ("start", "minutes", "end"),
    [
        (riga(MONDAY, 9), 30, riga(MONDAY, 9, 30)),
        (riga(MONDAY, 11, 30), 60, riga(MONDAY, 13, 30)),
        (riga(MONDAY, 6), 60, riga(MONDAY, 9)),
        (riga(MONDAY, 16), 60, riga(MONDAY, 17)),
        (riga(MONDAY, 16), 61, riga(TUESDAY, 8, 1)),
        (riga(TUESDAY, 16, 30), 60, riga(THURSDAY, 8, 30)),
        (riga(MONDAY, 20), 0, riga(MONDAY, 20)),
        (riga(MONDAY, 8), 480 + 480 + 10, riga(THURSDAY, 8, 10)),
    ],
)
def test_add_open_minutes_works_only_while_open(
    start: datetime, minutes: float, end: datetime
) -> None:
    assert LAB.add_open_minutes(start, minutes) == end


@pytest.mark.parametrize(
    ("start", "end"),
    [
        (riga(SPRING, 1), riga(SPRING, 6)),
        (riga(AUTUMN, 1), riga(AUTUMN, 4)),
    ],
)
def test_add_open_minutes_counts_real_minutes_on_change_nights(
    start: datetime, end: datetime
) -> None:
    assert ROUND_THE_CLOCK.add_open_minutes(start, 240) == end
    assert end - start == timedelta(hours=4)


def test_add_open_minutes_refuses_negative_and_naive() -> None:
    with pytest.raises(ValueError, match="cannot be negative"):
        LAB.add_open_minutes(riga(MONDAY, 8), -1)
    with pytest.raises(ValueError, match="without a zone"):
        LAB.add_open_minutes(datetime(2026, 3, 2, 8), 10)  # noqa: DTZ001 - the refusal under test


def test_a_calendar_without_hours_says_so() -> None:
    never = LabCalendar(RIGA, ((),) * 7)

    with pytest.raises(NeverOpen, match="Enter its opening hours"):
        never.next_open(riga(MONDAY, 8))
    with pytest.raises(NeverOpen):
        never.add_open_minutes(riga(MONDAY, 8), 1)


@pytest.mark.parametrize(
    ("start", "end", "minutes"),
    [
        (riga(MONDAY, 9), riga(MONDAY, 10), 60),
        (riga(MONDAY, 11), riga(MONDAY, 14), 120),
        (riga(TUESDAY, 16), riga(THURSDAY, 9), 120),
        (riga(MONDAY, 10), riga(MONDAY, 9), 0),
    ],
)
def test_open_minutes_between_counts_open_time(
    start: datetime, end: datetime, minutes: float
) -> None:
    assert LAB.open_minutes_between(start, end) == minutes


@given(
    start=st.datetimes(datetime(2026, 1, 1), datetime(2026, 12, 31)).map(  # noqa: DTZ001
        lambda naive: naive.replace(tzinfo=UTC, microsecond=0, second=0)
    ),
    minutes=st.integers(0, 5000),
)
def test_added_minutes_are_exactly_the_open_minutes_in_between(
    start: datetime, minutes: int
) -> None:
    end = LAB.add_open_minutes(start, minutes)

    assert LAB.open_minutes_between(start, end) == minutes


def test_say_day_writes_a_day_as_people_say_it() -> None:
    assert say_day(MONDAY) == "Monday 2 March"
    assert say_day(date(2027, 12, 31)) == "Friday 31 December"


def test_day_that_is_far_off_is_said_with_its_year() -> None:
    today = date(2026, 12, 9)

    assert say_day_from(date(2027, 10, 4), today) == "Monday 4 October"
    assert say_day_from(date(2027, 10, 5), today) == "Tuesday 5 October 2027"
    assert say_day_from(date(2028, 1, 13), today) == "Thursday 13 January 2028"
    assert say_day_from(date(2026, 1, 5), today) == "Monday 5 January 2026"
