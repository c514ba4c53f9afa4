"""The plan of a week: how full each person is on each day, and what leaves."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

from django.http import HttpResponse

from cases.domain.calendar import Interval, LabCalendar, say_day
from cases.models import Person, Plan
from cases.selectors import plan as plans
from cases.selectors.hours import lab_calendar
from cases.selectors.planning.people import hours_on
from cases.views.page import LabRequest, page, show
from cases.views.plan.day import day_of
from cases.views.plan.lanes import loaded_at
from cases.views.plan.words import late_words, standing

DAYS = 7


@dataclass(frozen=True)
class Cell:
    """One person on one day: planned minutes of hands, minutes at work, stages."""

    day: date
    planned: int
    at_work: int
    stages: int

    @property
    def planned_hours(self) -> str:
        """The planned minutes in hours, as people write them."""
        return f"{self.planned / 60:.1f}"

    @property
    def hours(self) -> str:
        """The minutes at work in hours."""
        return f"{self.at_work / 60:.1f}"

    @property
    def percent(self) -> int:
        """How full the day is, in hundredths."""
        return round(100 * self.planned / self.at_work) if self.at_work else 0


Hours = dict[tuple[int, date], list[Interval]]


def _inside(begins: datetime, ends: datetime, spans: list[Interval]) -> float:
    """Return the minutes of a span within somebody's hours."""
    inside = (min(ends, end) - max(begins, start) for start, end in spans)
    return sum(max(timedelta(0), one) / timedelta(minutes=1) for one in inside)


def planned_minutes(
    plan: Plan, days: list[date], hours: Hours, calendar: LabCalendar
) -> dict[tuple[int, date], tuple[float, int]]:
    """Return the planned minutes and stages of each person on each day."""
    found: dict[tuple[int, date], tuple[float, int]] = {}
    once: set[tuple[int, str, datetime]] = set()
    begins = calendar.at(days[0], time(0))
    ends = calendar.at(days[-1] + timedelta(days=1), time(0))
    for row in plans.between(plan, begins, ends):
        if row.person_id is None:
            continue
        # Of a load only the hands that put it in count, and none of one that is in.
        until = row.ends_at if row.bath_id is None else loaded_at([row])
        if row.bath_id is not None and row.stage.state != "planned":
            continue
        # What is done together takes its minutes once.
        together = (row.person_id, row.together, row.begins_at)
        first = not row.together or together not in once
        once.add(together)
        for day in days:
            own = _inside(row.begins_at, until, hours.get((row.person_id, day), []))
            if own:
                minutes, stages = found.get((row.person_id, day), (0.0, 0))
                found[row.person_id, day] = (minutes + own * first, stages + 1)
    return found


def _cells(
    plan: Plan | None, people: list[Person], days: list[date], calendar: LabCalendar
) -> list[tuple[Person, list[Cell]]]:
    hours = hours_on(calendar, days, people)
    planned = planned_minutes(plan, days, hours, calendar) if plan else {}
    rows = []
    for person in people:
        cells = []
        for day in days:
            minutes, stages = planned.get((person.pk, day), (0.0, 0))
            spans = hours[person.pk, day]
            at_work = sum((end - start) / timedelta(minutes=1) for start, end in spans)
            cells.append(Cell(day, round(minutes), round(at_work), stages))
        rows.append((person, cells))
    return rows


@page(may="see-cases")
def week(request: LabRequest) -> HttpResponse:
    """Show how full the next days are for each person."""
    calendar = lab_calendar()
    first = day_of(request, calendar)
    days = [first + timedelta(days=ahead) for ahead in range(DAYS)]
    found = plans.state(request.now)
    people = list(Person.objects.filter(active=True, is_technician=True).order_by("name", "pk"))
    late = list(plans.leaves(found.plan).filter(late_minutes__gt=0)) if found.plan else []
    return show(
        request,
        "plan/week.html",
        {
            "days": [(day, say_day(day)) for day in days],
            "people": _cells(found.plan, people, days, calendar),
            "leaving": plans.leaving_by_day(found.plan, calendar, days) if found.plan else [],
            "heading": late_words(found.plan, late),
            **standing(request, found),
            "before": first - timedelta(days=DAYS),
            "after": first + timedelta(days=DAYS),
        },
    )
