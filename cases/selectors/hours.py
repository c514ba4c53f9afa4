"""The lab's calendar and the practices' van routes, as the domain reads them."""

from __future__ import annotations

from datetime import time
from zoneinfo import ZoneInfo

from cases.domain.calendar import LabCalendar
from cases.domain.promise import ShipRoute
from cases.models import ClosedDay, Lab, OpenHours, Practice


def lab_calendar() -> LabCalendar:
    """Return the lab's hours and closed days (three queries)."""
    lab = Lab.objects.first()
    hours: list[list[tuple[time, time]]] = [[] for _ in range(7)]
    for row in OpenHours.objects.all():
        hours[row.weekday].append((row.opens, row.closes))
    return LabCalendar(
        zone=ZoneInfo(lab.zone if lab else "UTC"),
        week=tuple(tuple(day) for day in hours),
        closed_days=frozenset(ClosedDay.objects.values_list("day", flat=True)),
    )


def ship_route(practice: Practice) -> ShipRoute:
    """Return how boxes travel to a practice."""
    return ShipRoute(
        ship_weekdays=frozenset(practice.ship_weekdays),
        transit_days=practice.transit_days,
        cut_off=practice.cut_off,
    )
