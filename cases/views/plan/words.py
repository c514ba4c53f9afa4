"""What the pages of the plan say: when it was made, how it stands, what a row means."""

from __future__ import annotations

from datetime import date, datetime

from django.utils.formats import date_format
from django.utils.timezone import localtime
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from cases.domain.calendar import say_day
from cases.models import Plan, PlanCase, PlanStage
from cases.selectors.plan import State


def at_words(instant: datetime, now: datetime) -> str:
    """Say a time of the lab, with its day where it is not today."""
    at, today = localtime(instant), localtime(now).date()
    clock = f"{at:%H:%M}"
    if at.date() == today:
        return clock
    return _("%(day)s, %(time)s") % {"day": date_format(at, "D j M"), "time": clock}


def state_words(state: State, now: datetime) -> str:
    """Say how the plan stands, as one sentence."""
    plan = state.plan
    if plan is None:
        return _(
            "The planner makes the first one within a minute; after a start that has to compile it "
            "first, within some minutes."
        )
    made = at_words(plan.made_at, now)
    if state.old:
        return _(
            "The planner stands still. This plan is from %(made)s and knows nothing later: "
            "restart the worker."
        ) % {"made": made}
    if plan.how == "rules" and state.searched:
        words = _("Planned at %(made)s by the rules; the search found no better plan.")
    elif plan.how == "rules":
        words = _("Planned at %(made)s by the rules.")
    elif plan.how == "mend":
        words = _("Mended at %(made)s after something happened.")
    elif plan.how == "local":
        words = _(
            "Improved at %(made)s by search alone: the solver cannot be loaded. Install what the "
            "requirements name."
        )
    else:
        words = _("Improved at %(made)s.")
    return words % {"made": made}


def late_words(plan: Plan | None, late: list[PlanCase], day: date | None = None) -> str:
    """Say what will be late by the plan, as a heading.

    Of what has no place in the plan nobody knows whether it leaves in time.
    """
    if plan is None:
        words = _("There is no plan yet.")
    elif not late and plan.unplanned:
        words = _("Everything that has a place leaves in time by this plan.")
    elif not late:
        words = _("Everything leaves in time by this plan.")
    elif len(late) == 1:
        words = _("%(number)s would leave late.") % {"number": late[0].case.number}
    else:
        words = ngettext(
            "%(n)s case would leave late.", "%(n)s cases would leave late.", len(late)
        ) % {"n": len(late)}
    return f"{say_day(day)}: {words}" if day else words


def late_by(row: PlanCase) -> str:
    """Say by how much a case is late."""
    minutes = row.late_minutes
    if minutes >= 24 * 60:
        days = round(minutes / (24 * 60))
        return ngettext("%(n)s day late", "%(n)s days late", days) % {"n": days}
    hours = max(1, round(minutes / 60))
    return ngettext("%(n)s hour late", "%(n)s hours late", hours) % {"n": hours}


def change_words(row: PlanStage, now: datetime) -> str:
    """Say what the plan before said of a row, or nothing."""
    if row.was_from is None:
        return ""
    was = at_words(row.was_from, now)
    if row.was_person is not None and row.was_person_id != row.person_id:
        return _("changed: was %(person)s at %(at)s") % {"person": row.was_person.name, "at": was}
    return _("changed: was at %(at)s") % {"at": was}
