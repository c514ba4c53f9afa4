"""What a decision about a cure means for the days that were promised, as far as the plan knows."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime

from django.db.models import Max
from django.utils.timezone import localtime

from cases.models import Case, Event, PlanCase
from cases.selectors.plan import state

MOVED_BY = (
    "case.sent-back", "load.case-held-longer", "load.cut-decided", "load.record-decided",
)  # fmt: skip
"""Events of a case that the plan must know of before its days mean anything."""


@dataclass(frozen=True)
class NewDate:
    """One case: when it leaves by the plan, and the day of it that may be promised.

    ``late``: that is past what was promised. Both instants are None where no plan tells them.
    """

    case: Case
    leaves_at: datetime | None = None
    ship_on: date | None = None
    late: bool = False


@dataclass(frozen=True)
class NewDates:
    """The cases in the order given, and what their days are worth.

    ``made_at`` is of the plan in force, None for none. ``known``: it knows what was decided; where
    it does not, no day is told. ``old``: nobody has planned for long.
    """

    rows: tuple[NewDate, ...]
    made_at: datetime | None
    known: bool
    old: bool


def new_dates(cases: Iterable[Case], now: datetime) -> NewDates:
    """Return when cases leave after a decision about their cure (five queries)."""
    wanted = list(cases)
    found = state(now)
    plan = found.plan
    keys = [case.pk for case in wanted]
    moved = Event.objects.filter(case__in=keys, kind__in=MOVED_BY).aggregate(last=Max("pk"))
    known = plan is not None and (moved["last"] or 0) <= plan.up_to_event
    leaving = {row.case_id: row for row in PlanCase.objects.filter(plan=plan, case__in=keys)}
    return NewDates(
        tuple(_of(case, leaving.get(case.pk) if known else None) for case in wanted),
        plan.made_at if plan else None,
        known,
        found.old,
    )


def _of(case: Case, row: PlanCase | None) -> NewDate:
    if row is None or row.leaves_at is None:
        return NewDate(case)
    return NewDate(case, row.leaves_at, localtime(row.leaves_at).date(), row.late_minutes > 0)
