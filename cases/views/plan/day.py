"""The plan of one day: who does what when, and what is in the baths."""

from __future__ import annotations

from datetime import date, datetime, time, timedelta
from typing import Any

from django.db.models import Q
from django.http import HttpResponse
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from cases.domain.calendar import LabCalendar, say_day
from cases.models import Bath, Person, PersonSkill, PlanStage, Station
from cases.selectors import plan as plans
from cases.selectors.hours import lab_calendar
from cases.selectors.planning.people import hours_on
from cases.selectors.planning.places import ANYWHERE
from cases.views.page import LabRequest, integer, page, show
from cases.views.plan.lanes import Lane, Window, bands, bars, hours, of_hands, window_of
from cases.views.plan.words import (
    at_words,
    bar_words,
    change_words,
    late_by,
    late_words,
    leaves_words,
    name_words,
    span_words,
    standing,
)

ZOOMS = (1, 2, 3)
MOST_LATE = 5
LOOKED_AHEAD = 14
"""Days in which the next one with work is sought."""


def day_of(request: LabRequest, calendar: LabCalendar) -> date:
    """Return the day that is asked for; without one the next on which somebody still works."""
    today = calendar.local_day(request.now)
    try:
        return date.fromisoformat(request.GET.get("day", ""))
    except ValueError:
        pass
    for ahead in range(LOOKED_AHEAD):
        open_ = calendar.open_intervals(today + timedelta(days=ahead))
        if open_ and open_[-1][1] > request.now:
            return today + timedelta(days=ahead)
    return today


def _skills(people: list[Person]) -> dict[int, str]:
    found: dict[int, list[str]] = {}
    for one in PersonSkill.objects.filter(person__in=people).select_related("skill"):
        found.setdefault(one.person_id, []).append(_(one.skill.name).split(":")[0])
    return {person: ", ".join(sorted(names)[:3]) for person, names in found.items()}


def _lanes(rows: list[PlanStage], calendar: LabCalendar, day: date) -> dict[str, Any]:
    """Return the lanes of everybody at a bench and of every bath, and the hours above them."""
    people = list(Person.objects.filter(active=True, is_technician=True).order_by("name", "pk"))
    known = {person.pk for person in people}
    people += [
        row.person
        for row in {one.person_id: one for one in rows}.values()
        if row.person is not None and row.person_id not in known
    ]
    skills, at_work = _skills(people), hours_on(calendar, [day], people)
    window = window_of(day, calendar, rows)
    lanes = []
    for person in people:
        lane = Lane(person.name, skills.get(person.pk, ""), person=person)
        lane.bars = of_hands(window, [row for row in rows if row.person_id == person.pk])
        lane.closed = bands(window, at_work[person.pk, day])
        lanes.append(lane)
    lanes += _baths(rows, window)
    return {"lanes": lanes, "hours": hours(window, calendar), "window": window}


def _baths(rows: list[PlanStage], window: Window) -> list[Lane]:
    lanes = []
    # One that was put out of use with flasks in it is shown until they are out.
    used = {row.bath_id for row in rows if row.bath_id is not None}
    for bath in Bath.objects.filter(Q(active=True) | Q(pk__in=used)).order_by("name", "pk"):
        lane = Lane(bath.name, _("%(n)d flasks") % {"n": bath.capacity}, bath=bath)
        lane.bars = bars(window, [row for row in rows if row.bath_id == bath.pk])
        lanes.append(lane)
    return lanes


def _places(rows: list[PlanStage], calendar: LabCalendar, day: date) -> dict[str, Any]:
    """Return the lanes of every station and every bath."""
    window = window_of(day, calendar, rows)
    open_ = calendar.open_intervals(day)
    by_hand = [row for row in rows if row.person_id is not None and row.bath_id is None]
    lanes = []
    for station in Station.objects.exclude(key=ANYWHERE).order_by("name", "pk"):
        words = ngettext("one place", "%(n)d places", station.count) % {"n": station.count}
        lane = Lane(_(station.name), words)
        lane.bars = bars(window, [row for row in by_hand if row.stage.station == station.key])
        lane.closed = bands(window, open_)
        if lane.bars:
            lanes.append(lane)
    lanes += _baths(rows, window)
    return {"lanes": lanes, "hours": hours(window, calendar), "window": window}


def _lists(lanes: list[Lane], noon: datetime) -> list[dict[str, Any]]:
    """Return the same lanes as lists, for small screens, paper and ears.

    Parameters
    ----------
    noon
        The middle of the day of the page: times of other days are said with theirs.
    """
    return [
        {
            "lane": lane,
            "rows": [
                {
                    "row": row,
                    "begins": at_words(row.begins_at, noon),
                    "ends": at_words(bar.ends_at if bar.loading else row.ends_at, noon),
                    "name": name_words(bar, row),
                    "changed": change_words(row, noon),
                }
                for bar in lane.bars
                for row in bar.rows
            ],
        }
        for lane in lanes
    ]


@page(may="see-cases")
def day(request: LabRequest) -> HttpResponse:
    """Show who does what when on one day, and what is in the baths."""
    calendar = lab_calendar()
    wanted = day_of(request, calendar)
    found = plans.state(request.now)
    rows, late, unplanned = [], [], []
    if found.plan is not None:
        midnight = calendar.at(wanted, time(0))
        rows = plans.between(found.plan, midnight, midnight + timedelta(days=1))
        late = list(plans.leaves(found.plan).filter(late_minutes__gt=0))
        unplanned = plans.without_place(found.plan)
    by = "places" if request.GET.get("by") == "places" else "people"
    drawn = (_places if by == "places" else _lanes)(rows, calendar, wanted)
    for lane in drawn["lanes"]:
        for bar in lane.bars:
            bar.span = span_words(bar)
            bar.words = bar_words(bar, request.now, bath=lane.bath is not None)
    zoom = integer(request.GET.get("zoom")) or ZOOMS[0]
    return show(
        request,
        "plan/day.html",
        {
            **drawn,
            "lists": _lists(drawn["lanes"], calendar.at(wanted, time(12))),
            "by": by,
            "day": wanted,
            "day_words": say_day(wanted),
            "heading": late_words(found.plan, late, wanted),
            "late": [
                (row, late_by(row), leaves_words(row, request.now)) for row in late[:MOST_LATE]
            ],
            "unplanned": unplanned[:MOST_LATE],
            "limits": found.plan.words[:MOST_LATE] if found.plan else [],
            **standing(request, found),
            "zoom": zoom if zoom in ZOOMS else ZOOMS[0],
            "zooms": ZOOMS,
            "paper": bool(request.GET.get("paper")),
            "before": wanted - timedelta(days=1),
            "after": wanted + timedelta(days=1),
            "may_pin": request.visitor.may("assign"),
        },
    )
