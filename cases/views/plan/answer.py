"""What the planner says of the days of a case that is not here yet, in words."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from typing import Any
from urllib.parse import urlencode

from django.http import QueryDict
from django.utils.dateparse import parse_datetime
from django.utils.timezone import is_naive
from django.utils.translation import gettext as _

from cases.domain.calendar import NeverOpen, say_day, say_day_from
from cases.domain.promise import ShipRoute, first_appointment, latest_ship_day
from cases.domain.route import Route
from cases.models import Practice
from cases.selectors.hours import lab_calendar, ship_route
from cases.services.plan_quote import SURE, Answer, Day, ask

CLOSE = 0.05
"""Up to this standard error a chance is said without it. Judgement."""


@dataclass(frozen=True)
class DayLine:
    """One van in words: the day, the shape of its state, what it would cost."""

    day: Day
    words: str
    iso: str
    tag: str
    state: str
    chance: str


def _line(one: Day) -> DayLine:
    day = lab_calendar().local_day(one.leaves)
    tag, state = "late", _("cannot be kept")
    if one.safe:
        tag, state = "done", _("breaks no other promise")
    elif one.harm:
        tag, state = "failed", _("makes others late")
    chance = ""
    if one.chance is not None and one.error <= CLOSE:
        chance = _("kept in %(n)d of 100") % {"n": round(100 * one.chance)}
    elif one.chance is not None:
        chance = _("kept in about %(n)d of 100, give or take %(error)d") % {
            "n": round(100 * one.chance),
            "error": round(100 * one.error),
        }
    return DayLine(one, say_day(day), day.isoformat(), tag, state, chance)


def _sure(answer: Answer) -> Day | None:
    """Return the first day that is safe and surely kept, None where nobody has worked that out."""
    return next((one for one in answer.days if one.safe and (one.chance or 0) >= SURE), None)


def _too_late(answer: Answer, latest: datetime | None) -> bool:
    """Tell whether no day that is safe is in time for the appointment."""
    if latest is None:
        return False
    if answer.earliest is not None:
        return answer.earliest.leaves > latest
    return bool(answer.days) and answer.days[-1].leaves >= latest


def _unsure(answer: Answer, latest: datetime) -> bool:
    """Tell whether a day is in time for the appointment, and none that is surely kept."""
    if all(one.chance is None for one in answer.days) or answer.days[-1].leaves <= latest:
        return False
    sure = _sure(answer)
    return sure is None or sure.leaves > latest


def _missed(answer: Answer, latest: datetime, route: ShipRoute) -> str:
    """Say that an appointment is not kept, or not surely, and the way out; empty when it is."""
    days = lab_calendar()
    named = {"last": say_day(days.local_day(latest))}
    if not _too_late(answer, latest):
        if not _unsure(answer, latest):
            return ""
        words = _("The appointment is not surely kept: no day that is in time for it is.")
    elif answer.earliest is not None:
        named["day"] = say_day(days.local_day(answer.earliest.leaves))
        words = _(
            "The appointment cannot be kept: it would have to leave on %(last)s, and the earliest "
            "safe day is %(day)s."
        )
    else:
        named["day"] = say_day(days.local_day(answer.days[-1].leaves))
        words = _(
            "The appointment cannot be kept: it would have to leave on %(last)s, and no day up to "
            "%(day)s is safe."
        )
    return f"{words % named} {_way_out(_sure(answer), route)}"


def _way_out(sure: Day | None, route: ShipRoute) -> str:
    day = first_appointment(route, lab_calendar().local_day(sure.leaves)) if sure else None
    if day is None:
        return _("Offer a later appointment, or ask the manager what would make room.")
    words = _("Offer an appointment from %(day)s on, or ask the manager what would make room.")
    return words % {"day": say_day(day)}


def _sentence(answer: Answer, comes_on: date | None, today: date) -> str:
    """Say the day to promise, as people say it at the telephone."""
    if answer.looked_to is not None:
        return _("No day up to %(day)s is safe.") % {
            "day": say_day(lab_calendar().local_day(answer.looked_to))
        }
    calendar = lab_calendar()
    if not answer.days and comes_on is not None and answer.last_known is not None:
        return _(
            "The plan looks ahead until %(until)s, and the impression comes on %(comes)s: ask "
            "again when that day is nearer, or promise a day without the plan."
        ) % {
            "until": say_day(calendar.local_day(answer.last_known)),
            "comes": say_day_from(comes_on, today),
        }
    if answer.earliest is None:
        return _no_day(answer)
    first = say_day(calendar.local_day(answer.earliest.leaves))
    sure = _sure(answer)
    if all(one.chance is None for one in answer.days):
        return _("By the plan %(day)s is the earliest safe day.") % {"day": first}
    if sure is None:
        return _(
            "By the plan %(day)s is the earliest day, but no day shown here is kept surely. "
            "Promise a later one."
        ) % {"day": first}
    said = say_day(calendar.local_day(sure.leaves))
    if sure.leaves == answer.earliest.leaves:
        return _("Promise %(day)s.") % {"day": said}
    return _("Promise %(sure)s. %(day)s is possible by the plan, but seldom kept.") % {
        "sure": said,
        "day": first,
    }


def _no_day(answer: Answer) -> str:
    """Say up to which day no van may be promised, and the way out."""
    if not answer.days:
        return _(
            "No van to this practice is known. Enter the weekdays on which boxes leave for it."
        )
    last = lab_calendar().local_day(answer.days[-1].leaves)
    return _(
        "No day up to %(day)s is safe: every van would break a promise, or is too early. Ask the "
        "manager what would make room, or ask again when the impression is here."
    ) % {"day": say_day(last)}


def _needed(answer: Answer, latest: datetime | None, today: date) -> str:
    if latest is None or _too_late(answer, latest):
        return ""
    last = say_day_from(lab_calendar().local_day(latest), today)
    if answer.needed_on is not None:
        return _(
            "For the appointment it leaves on %(last)s: the impression must be here by %(day)s, "
            "with the work that is in the lab today. What comes in until then may need it sooner."
        ) % {
            "last": last,
            "day": say_day(answer.needed_on),
        }
    return _("For the appointment it must leave on %(last)s at the latest.") % {"last": last}


def answer_for(
    routes: list[Route],
    practice: Practice,
    *,
    now: datetime,
    comes_on: date | None = None,
    appointment_on: date | None = None,
    needed_on: date | None = None,
    asked: QueryDict,
) -> dict[str, Any]:
    """Return what a page shows of the planner's answer: first the days, then how sure they are.

    Parameters
    ----------
    asked
        What an answer before asked for next: ``after`` which van to look, and the ``chance``.
    """
    calendar = lab_calendar()
    today = calendar.local_day(now)
    route = ship_route(practice)
    last = latest_ship_day(route, calendar, appointment_on=appointment_on, needed_on=needed_on)
    latest = calendar.at(last, practice.cut_off) if last else None
    try:
        answer = ask(
            routes,
            practice,
            now=now,
            comes_on=comes_on,
            latest=latest,
            after=_after(asked),
            with_chance="chance" in asked,
        )
    except NeverOpen as error:
        return {"sentence": str(error), "lines": [], "needed": "", "worked_out": True, "next": ""}
    return {
        "sentence": (_missed(answer, latest, route) if latest else "")
        or _sentence(answer, comes_on, today),
        "lines": [_line(one) for one in answer.days],
        "needed": _needed(answer, latest, today),
        "worked_out": "chance" in asked and answer.earliest is not None,
        "next": _next(answer, asked),
        "looking": answer.looked_to is not None,
    }


def _after(asked: QueryDict) -> datetime | None:
    found = parse_datetime(asked.get("after", ""))
    return found if found is not None and not is_naive(found) else None


def _next(answer: Answer, asked: QueryDict) -> str:
    """Return what is asked for next, as a query; empty when all is said."""
    if answer.looked_to is not None:
        return urlencode({"after": answer.looked_to.isoformat()})
    if "chance" in asked or (answer.earliest is None and answer.latest is None):
        return ""
    so_far = {"after": asked["after"]} if "after" in asked else {}
    return urlencode({**so_far, "chance": 1})
