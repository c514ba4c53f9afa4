"""What the pages of the plan say: when it was made, how it stands, what a row means."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any

from django.utils.formats import date_format
from django.utils.timezone import localtime
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from cases.domain.calendar import is_far, say_day
from cases.domain.planning.why_words import span
from cases.models import Plan, PlanCase, PlanStage
from cases.selectors.plan import State
from cases.views.page import LabRequest
from cases.views.plan.lanes import Bar


def at_words(instant: datetime, now: datetime) -> str:
    """Say a time of the lab, with its day where it is not today.

    The end of a span is said beside its beginning, and on the page of a day beside that: what
    stands there already is not said again.
    """
    at, today = localtime(instant), localtime(now).date()
    clock = f"{at:%H:%M}"
    if at.date() == today:
        return clock
    day = date_format(at, "D j M Y" if is_far(at.date(), today) else "D j M")
    return _("%(day)s, %(time)s") % {"day": day, "time": clock}


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


def found_words(state: State) -> str:
    """Say what a search that runs has found so far; nothing while none runs."""
    if not state.improving or state.planner is None:
        return ""
    less = round(state.planner.first_lateness - state.planner.best_lateness)
    if less < 1:
        return _("Nothing better yet.")
    return _("Found so far: %(time)s of lateness less, by the weights of the cases.") % {
        "time": span(less)
    }


def standing(request: LabRequest, state: State) -> dict[str, Any]:
    """Return what every page of the plan shows of how it stands, which plan it shows, and where
    whoever ends the search comes back to: the page itself, also when only its line is asked for.
    """
    return {
        "state": state,
        "state_words": state_words(state, request.now),
        "found_words": found_words(state),
        "shown": state.plan.pk if state.plan else "",
        "back": request.htmx.current_url_abs_path if request.htmx else request.get_full_path(),
    }


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


def leaves_words(row: PlanCase, now: datetime) -> str:
    """Say when a case would leave by the plan, and what was promised."""
    said = []
    if row.leaves_at is not None:
        said.append(_("It would leave %(at)s.") % {"at": at_words(row.leaves_at, now)})
    if row.case.leaves_at is not None:
        said.append(_("Promised for %(at)s.") % {"at": at_words(row.case.leaves_at, now)})
    return " ".join(said)


def change_words(row: PlanStage, now: datetime) -> str:
    """Say what the plan before said of a row, or nothing."""
    if row.was_from is None:
        return ""
    was = at_words(row.was_from, now)
    if row.was_person is not None and row.was_person_id != row.person_id:
        return _("changed: was %(person)s at %(at)s") % {"person": row.was_person.name, "at": was}
    return _("changed: was at %(at)s") % {"at": was}


def name_words(bar: Bar, row: PlanStage) -> str:
    """Say what is done by a row of a bar."""
    if bar.loading and row.bath is not None:
        return _("Load %(bath)s") % {"bath": row.bath.name}
    return _(row.stage.name)


def span_words(bar: Bar) -> str:
    """Say from when to when a bar is, as short as it can be said."""
    begins = localtime(bar.first.begins_at)
    return f"{begins:%H:%M}–{at_words(bar.ends_at, bar.first.begins_at)}"


def bar_words(bar: Bar, now: datetime, *, bath: bool) -> str:
    """Say all of a bar as one sentence: which case, what, from when to when.

    Parameters
    ----------
    bath
        Whether it is a load in the lane of its bath.
    """
    row = bar.first
    named = {
        "number": row.stage.case.number,
        "name": name_words(bar, row),
        "bath": row.bath.name if row.bath else "",
        "n": len(bar.rows),
        "begins": at_words(row.begins_at, now),
        "ends": at_words(bar.ends_at, row.begins_at),
    }
    if bath:
        words = ngettext(
            "%(bath)s: %(n)s flask, %(begins)s to %(ends)s",
            "%(bath)s: %(n)s flasks, %(begins)s to %(ends)s",
            len(bar.rows),
        )
    elif bar.loading:
        words = ngettext(
            "%(name)s: %(n)s flask, %(begins)s to %(ends)s",
            "%(name)s: %(n)s flasks, %(begins)s to %(ends)s",
            len(bar.rows),
        )
    else:
        words = _("%(number)s, %(name)s, %(begins)s to %(ends)s")
    said = [words % named]
    if bar.more and not bath and not bar.loading:
        said.append(_("together with %(n)s more") % {"n": bar.more})
    said += [_("changed")] if bar.changed else []
    return ", ".join(said)
