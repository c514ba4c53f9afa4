"""Days of the van: the lab's today, its midnight, and how a day is said."""

from __future__ import annotations

from datetime import date, datetime, time, timedelta

from django.utils import timezone
from django.utils.formats import date_format
from django.utils.translation import gettext as _

from cases.models import Practice


def midnight_after(now: datetime) -> datetime:
    """Return the end of today on the lab's wall (its zone is active in a request)."""
    tomorrow = timezone.localdate(now) + timedelta(days=1)
    return timezone.make_aware(datetime.combine(tomorrow, time()))


def say_day(day: date, today: date) -> str:
    """Say a day: "today", "tomorrow", "Friday 11 December"."""
    if day == today:
        return _("today")
    if day == today + timedelta(days=1):
        return _("tomorrow")
    return date_format(day, "l j F")


def next_ship_day(practice: Practice, today: date) -> date:
    """Return the next day, today included, on which the van leaves for a practice."""
    for ahead in range(7):
        day = today + timedelta(days=ahead)
        if not practice.ship_weekdays or day.weekday() in practice.ship_weekdays:
            return day
    return today
