"""Serial numbers that are given once and never again."""

from __future__ import annotations

from datetime import datetime

from cases.domain.casenumber import make
from cases.models import Counter
from cases.selectors.hours import lab_calendar


def next_in(series: str) -> int:
    """Return the next number of a series; call it inside the transaction that uses it."""
    Counter.objects.get_or_create(series=series)
    counter = Counter.objects.select_for_update().get(series=series)
    counter.last += 1
    counter.save(update_fields=["last"])
    return counter.last


def case_number(now: datetime) -> str:
    """Return a new case number of the year on the lab's wall at ``now``."""
    year = lab_calendar().local_day(now).year % 100
    return str(make(year, next_in(f"case-{year:02d}")))
