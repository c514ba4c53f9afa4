"""Give the practice a date; every promise is a row, none is overwritten."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any

from django.utils.translation import gettext as _

from cases.domain.calendar import NeverOpen
from cases.domain.promise import NOT_BEFORE_LEAVING, Before, Proposal, Step, propose
from cases.domain.route import Route
from cases.models import Case, Practice, Promise
from cases.selectors.hours import lab_calendar, ship_route
from cases.services.access import lock_open_case
from cases.services.hold import settle
from cases.services.record import Recorder, Refusal, verb


def steps_of(route: Route) -> list[Step]:
    """Return a route as the promise reads it."""
    before: dict[str, list[Before]] = {}
    for edge in route.edges:
        wait = 0 if edge.before in NOT_BEFORE_LEAVING else edge.min_wait
        before.setdefault(edge.after, []).append(Before(edge.before, wait))
    return [
        Step(stage.spec.key, stage.minutes, tuple(before.get(stage.spec.key, ())))
        for stage in route.stages
    ]


def proposal(
    route: Route,
    practice: Practice,
    *,
    now: datetime,
    appointment_on: date | None,
    needed_on: date | None,
) -> Proposal:
    """Return the ship day to promise for a route, or the first day that fits."""
    try:
        return propose(
            steps_of(route),
            ship_route(practice),
            lab_calendar(),
            now=now,
            appointment_on=appointment_on,
            needed_on=needed_on,
        )
    except NeverOpen as error:
        raise Refusal("no-hours", str(error), field="ship_on") from error


def day_to_come(text: str, now: datetime) -> date:
    """Return an ISO day as a date that is not over on the lab's wall.

    Raises
    ------
    Refusal
        ``no-day``, ``past-day``.
    """
    try:
        day = date.fromisoformat(text)
    except ValueError:
        raise Refusal("no-day", _("Enter the day on which it leaves."), field="ship_on") from None
    if day < lab_calendar().local_day(now):
        raise Refusal("past-day", _("That day is over. Choose a day to come."), field="ship_on")
    return day


def give(record: Recorder, case: Case, day: date, reason: str) -> Promise:
    """Create a promise under the current event and set what the case leaves by."""
    leaves_at = lab_calendar().at(day, case.practice.cut_off)
    promise = record.create(
        Promise, case=case, ship_on=day, reason=reason[:200], by=record.person, given_at=record.now
    )
    record.change(
        case,
        promised_on=day,
        first_promised_on=case.first_promised_on or day,
        leaves_at=leaves_at,
    )
    return promise


@verb("case.promise", may="log-cases")
def promise_day(
    record: Recorder, *, case: int, version: int, ship_on: str, reason: str = ""
) -> dict[str, Any]:
    """Promise a ship day (ISO date); a later promise needs a reason."""
    row = lock_open_case(case, version=version)
    day = day_to_come(ship_on, record.now)
    if row.promises.exists() and not reason.strip():
        raise Refusal("no-reason", _("Say why the day moves."), field="reason")
    record.event("case.promised", case=row, ship_on=day)
    give(record, row, day, reason.strip())
    for question in row.questions.filter(awaits="promise", settled_at__isnull=True):
        settle(record, question, "")
    record.change(row, version=row.version + 1)
    return {"case": row.pk, "version": row.version}
