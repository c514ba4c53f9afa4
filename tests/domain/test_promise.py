"""The promised day: back from the appointment, forward from the bench, hand-counted."""

from datetime import UTC, date, datetime, time, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cases.domain.calendar import Hours, LabCalendar, NeverOpen
from cases.domain.promise import (
    Before,
    ShipRoute,
    Step,
    earliest_finish,
    first_appointment,
    first_ship_day,
    latest_ship_day,
    must_arrive_by,
    propose,
)

RIGA = ZoneInfo("Europe/Riga")
DAY: Hours = ((time(8), time(16)),)
LAB = LabCalendar(RIGA, (DAY, DAY, DAY, DAY, DAY, (), ()), frozenset({date(2026, 3, 5)}))

# March 2026: the 2nd is a Monday, the 5th (Thursday) is closed at the laboratory.
MON, TUE, WED, THU, FRI, SAT = (date(2026, 3, day) for day in range(2, 8))
MON2, TUE2, WED2, THU2, FRI2 = (date(2026, 3, day) for day in range(9, 14))

DAILY = ShipRoute(transit_days=1, cut_off=time(15))


def at(day: date, hour: int, minute: int = 0) -> datetime:
    return datetime.combine(day, time(hour, minute), tzinfo=RIGA).astimezone(UTC)


@pytest.mark.parametrize("entries", [{"ship_weekdays": frozenset({7})}, {"transit_days": -1}])
def test_ship_route_refuses_impossible_entries(entries: dict[str, object]) -> None:
    with pytest.raises(ValueError, match=r"Weekdays count|cannot be negative"):
        ShipRoute(**entries)  # type: ignore[arg-type]


def test_practice_open_knows_weekdays_and_closed_days() -> None:
    route = ShipRoute(practice_weekdays=frozenset({0, 2}), practice_closed=frozenset({WED}))

    assert route.practice_open(MON)
    assert not route.practice_open(TUE)
    assert not route.practice_open(WED)


@pytest.mark.parametrize(
    ("route", "ship", "arrives"),
    [
        (DAILY, MON, TUE),
        (DAILY, FRI, MON2),
        (ShipRoute(transit_days=2), THU, MON2),
        (ShipRoute(transit_days=0), MON, MON),
        (ShipRoute(transit_days=0), SAT, MON2),
        (ShipRoute(transit_days=1, practice_closed=frozenset({TUE})), MON, WED),
        (ShipRoute(transit_days=1, travel_closed=frozenset({TUE})), MON, WED),
        (ShipRoute(practice_weekdays=frozenset()), MON, None),
    ],
)
def test_arrives_counts_travelling_days_until_somebody_takes_it_in(
    route: ShipRoute, ship: date, arrives: date | None
) -> None:
    assert route.arrives(ship) == arrives


@pytest.mark.parametrize(
    ("appointment", "needed", "by"),
    [
        (WED2, None, TUE2),
        (MON2, None, FRI),  # one working day before a Monday is Friday
        (WED2, WED2, WED2),  # the practice's own word comes first
        (None, FRI, FRI),
        (None, None, None),
    ],
)
def test_must_arrive_by_is_the_needed_day_or_one_working_day_before(
    appointment: date | None, needed: date | None, by: date | None
) -> None:
    assert must_arrive_by(DAILY, appointment_on=appointment, needed_on=needed) == by


def test_must_arrive_by_is_none_for_a_practice_that_is_never_open() -> None:
    closed = ShipRoute(practice_weekdays=frozenset())

    assert must_arrive_by(closed, appointment_on=WED2, needed_on=None) is None
    assert latest_ship_day(closed, LAB, appointment_on=WED2) is None


@pytest.mark.parametrize(
    ("route", "appointment", "ship"),
    [
        (DAILY, WED2, MON2),
        (DAILY, MON2, WED),  # must be there Friday; Thursday the laboratory is closed
        (ShipRoute(ship_weekdays=frozenset({1}), transit_days=1), FRI2, TUE2),
        (ShipRoute(ship_weekdays=frozenset({1}), transit_days=1), WED2, TUE),
        (ShipRoute(transit_days=0), WED2, TUE2),
        (ShipRoute(ship_weekdays=frozenset()), WED2, None),
    ],
)
def test_latest_ship_day_is_the_last_that_arrives_in_time(
    route: ShipRoute, appointment: date, ship: date | None
) -> None:
    assert latest_ship_day(route, LAB, appointment_on=appointment) == ship


def test_latest_ship_day_needs_a_day_to_aim_at() -> None:
    assert latest_ship_day(DAILY, LAB) is None
    assert latest_ship_day(DAILY, LAB, needed_on=WED2) == TUE2


@pytest.mark.parametrize(
    ("route", "ship", "appointment"),
    [
        (DAILY, MON2, WED2),
        (DAILY, THU, MON2),  # there on Friday
        (ShipRoute(transit_days=0), TUE2, WED2),
        (ShipRoute(practice_weekdays=frozenset()), TUE2, None),
        (ShipRoute(practice_weekdays=frozenset({1}), transit_days=1), MON, TUE2),
    ],
)
def test_first_appointment_is_a_day_of_the_practice_after_the_box_came(
    route: ShipRoute, ship: date, appointment: date | None
) -> None:
    assert first_appointment(route, ship) == appointment


@pytest.mark.parametrize(
    ("ready", "ship"),
    [
        (at(MON, 15), MON),
        (at(MON, 15, 1), TUE),
        (at(WED, 15, 30), FRI),
        (at(FRI, 16), MON2),
    ],
)
def test_first_ship_day_minds_cut_off_and_closed_days(ready: datetime, ship: date) -> None:
    assert first_ship_day(DAILY, LAB, ready) == ship


def test_first_ship_day_is_none_when_no_box_ever_leaves() -> None:
    assert first_ship_day(ShipRoute(ship_weekdays=frozenset()), LAB, at(MON, 9)) is None


def test_earliest_finish_of_nothing_is_now() -> None:
    assert earliest_finish([], LAB, at(MON, 7)) == at(MON, 7)


def test_earliest_finish_works_attended_minutes_in_open_hours_only() -> None:
    assert earliest_finish([Step("wax", 60)], LAB, at(MON, 15, 30)) == at(TUE, 8, 30)


def test_earliest_finish_lets_waits_run_on_the_clock_overnight() -> None:
    steps = [
        Step("cure", 10),
        Step("deflask", 20, (Before("cure", 540),)),  # nine hours, over night
    ]

    # cure 15:50-16:00, wait until 01:00, hands again at 08:00
    assert earliest_finish(steps, LAB, at(MON, 15, 50)) == at(TUE, 8, 20)


def test_earliest_finish_works_elsewhere_while_plaster_sets() -> None:
    steps = [
        Step("mount", 10),
        Step("teeth", 30, (Before("mount", 30), Before("clasps"))),
        Step("clasps", 60),
    ]

    # mount 8:00-8:10, clasps 8:10-9:10 (set at 8:40), teeth 9:10-9:40
    assert earliest_finish(steps, LAB, at(MON, 8)) == at(MON, 9, 40)


def test_earliest_finish_has_only_one_pair_of_hands() -> None:
    steps = [Step("bar", 60), Step("clasps", 60)]

    assert earliest_finish(steps, LAB, at(MON, 8)) == at(MON, 10)


def test_earliest_finish_lets_a_stage_without_hands_pass_outside_hours() -> None:
    steps = [
        Step("wax", 30),
        Step("try-in", 0, (Before("wax"),)),
        Step("finish", 30, (Before("try-in", 24 * 60),)),
    ]

    # wax ends 16:00 Monday, a day at the practice, finish 16:00 Tuesday = 8:00 Wednesday
    assert earliest_finish(steps, LAB, at(MON, 15, 30)) == at(WED, 8, 30)


def test_earliest_finish_counts_absent_predecessors_as_done_and_minds_running_waits() -> None:
    steps = [Step("trim", 10, (Before("pour", 60),), not_before=at(MON, 8, 45))]

    assert earliest_finish(steps, LAB, at(MON, 8)) == at(MON, 8, 55)
    assert earliest_finish(steps, LAB, at(MON, 9)) == at(MON, 9, 10)


@pytest.mark.parametrize(
    ("steps", "sentence"),
    [
        ([Step("wax", 1), Step("wax", 2)], "listed twice"),
        ([Step("wax", -1)], "cannot be negative"),
        ([Step("wax", 1), Step("pack", 1, (Before("wax", -5),))], "cannot be negative"),
        (
            [Step("wax", 1, (Before("pack"),)), Step("pack", 1, (Before("wax"),))],
            "in a circle: wax, pack",
        ),
    ],
)
def test_earliest_finish_refuses_an_impossible_network(steps: list[Step], sentence: str) -> None:
    with pytest.raises(ValueError, match=sentence):
        earliest_finish(steps, LAB, at(MON, 8))


def test_earliest_finish_without_open_hours_says_so() -> None:
    with pytest.raises(NeverOpen):
        earliest_finish([Step("wax", 1)], LabCalendar(RIGA, ((),) * 7), at(MON, 8))


@given(st.lists(st.tuples(st.integers(0, 90), st.integers(0, 600)), min_size=1, max_size=6))
def test_earliest_finish_of_a_chain_is_step_after_step(chain: list[tuple[int, int]]) -> None:
    steps = [Step("0", chain[0][0])]
    steps += [
        Step(str(place), minutes, (Before(str(place - 1), wait),))
        for place, (minutes, wait) in enumerate(chain)
        if place
    ]
    end = LAB.add_open_minutes(at(MON, 8), chain[0][0])
    for _, (minutes, wait) in pairwise(chain):
        end = LAB.add_open_minutes(end + timedelta(minutes=wait), minutes)

    assert earliest_finish(steps, LAB, at(MON, 8)) == end


WORK = [Step("wax", 60), Step("finish", 60, (Before("wax", 12 * 60),))]  # ready Tuesday 9:00


def test_propose_promises_the_last_ship_day_that_reaches_the_practice() -> None:
    proposal = propose(WORK, DAILY, LAB, now=at(MON, 8), appointment_on=WED2)

    assert (proposal.day, proposal.fits, proposal.first_day_that_fits) == (MON2, True, TUE)
    assert proposal.reasons[0] == (
        "Monday 9 March is the last ship day that reaches the practice by Tuesday 10 March, "
        "one working day before the appointment."
    )


def test_propose_names_the_first_day_that_fits_and_asks_to_choose() -> None:
    proposal = propose(WORK, DAILY, LAB, now=at(MON, 8), needed_on=TUE)

    assert (proposal.day, proposal.fits, proposal.first_day_that_fits) == (None, False, TUE)
    assert proposal.reasons == (
        "The work can be ready on Tuesday 3 March at the earliest.",
        "It would have to leave on Monday 2 March to be there by Tuesday 3 March, the day the "
        "practice named.",
        "The first ship day that fits is Tuesday 3 March and is at the practice on Wednesday "
        "4 March. Choose.",
    )


def test_propose_on_the_very_last_day_fits() -> None:
    assert propose(WORK, DAILY, LAB, now=at(MON, 8), needed_on=WED).day == TUE
    late = [*WORK, Step("polish", 6 * 60 + 1, (Before("finish"),))]  # Tuesday 15:01
    assert propose(late, DAILY, LAB, now=at(MON, 8), needed_on=WED).fits is False


def test_propose_without_a_day_to_aim_at_asks_the_practice() -> None:
    proposal = propose(WORK, DAILY, LAB, now=at(MON, 8))

    assert (proposal.day, proposal.fits, proposal.first_day_that_fits) == (None, False, TUE)
    assert "Ask the practice" in proposal.reasons[0]


def test_propose_says_when_nothing_ever_leaves() -> None:
    nowhere = ShipRoute(ship_weekdays=frozenset())

    proposal = propose(WORK, nowhere, LAB, now=at(MON, 8), needed_on=FRI)

    assert (proposal.day, proposal.first_day_that_fits) == (None, None)
    assert "Enter the weekdays" in proposal.reasons[0]


def test_propose_says_when_nobody_takes_the_box_in() -> None:
    closed = ShipRoute(practice_weekdays=frozenset())

    proposal = propose(WORK, closed, LAB, now=at(MON, 8), needed_on=FRI)

    assert (proposal.day, proposal.first_day_that_fits) == (None, TUE)
    assert proposal.reasons[0].startswith("No ship day reaches the practice by Friday 6 March")
