"""The manager's page: what will be late, and why?"""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

from django.http import HttpResponse
from django.urls import reverse
from django.utils.timezone import localtime
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from cases.domain.reasons import CONCESSION, HOLD, REMAKE, REMAKE_ORIGIN, SEND_BACK
from cases.selectors import flow
from cases.selectors.lateness import HORIZON, Lateness, lateness
from cases.views.manage.words import (
    THING_WORDS,
    left_words,
    reason_words,
    verdict_tag,
    waits_for_words,
    why,
)
from cases.views.notation import notation_of
from cases.views.page import LabRequest, page, show

MOST_OUTLOOKS = 20


def began(now: datetime) -> tuple[datetime, datetime]:
    """Return midnight today and midnight of Monday, on the lab's wall."""
    day = localtime(now).replace(hour=0, minute=0, second=0, microsecond=0)
    return day, day - timedelta(days=day.weekday())


def _heading(late: int, will_be: int, has_hours: bool) -> str:
    if not has_hours:
        return _("No open hours are entered, so nothing can be reckoned.")
    parts = []
    if late:
        parts.append(ngettext("One case is late.", "%(n)s cases are late.", late) % {"n": late})
    if will_be:
        words = ngettext("One case will be late.", "%(n)s cases will be late.", will_be)
        parts.append(words % {"n": will_be})
    return " ".join(parts) or _("Nothing is late, and nothing will be as things stand.")


def _outlooks(found: Lateness, now: datetime) -> list[dict[str, Any]]:
    rows = found.of("late", "will-be-late", "tight")
    shown = []
    for outlook in rows[:MOST_OUTLOOKS]:
        tag, words = verdict_tag(outlook, now)
        shown.append(
            {
                "case": outlook.case,
                "why": why(outlook, now),
                "left": left_words(outlook, now),
                "tag": tag,
                "words": words,
            }
        )
    return shown


def _held() -> list[dict[str, Any]]:
    return [
        {
            "why": reason_words(HOLD, group.reason),
            "who": waits_for_words(group.waits_for),
            "cases": group.cases,
            "first": group.first,
            "more": group.cases - len(group.first),
        }
        for group in flow.held()
    ]


def _rework(now: datetime) -> list[dict[str, Any]]:
    return [
        {
            "stage": again.stage,
            "runs": again.runs,
            "reasons": ", ".join(
                f"{reason_words(SEND_BACK, key)} ({n})" for key, n in again.reasons
            ),
        }
        for again in flow.rework(now - flow.LOOK_BACK)
    ]


def _remakes(now: datetime) -> dict[str, Any]:
    found = flow.some(flow.remakes(now - flow.LOOK_BACK))
    origins = {one.key: one.words for one in REMAKE_ORIGIN}
    rows = [
        {
            "case": case,
            "first": case.remake_of,
            "why": reason_words(REMAKE, case.remake_reason),
            "origin": _(origins.get(case.remake_origin, case.remake_origin)),
        }
        for case in found.rows
    ]
    return {"rows": rows, "total": found.total, "more": found.more}


def _concessions(now: datetime) -> dict[str, Any]:
    found = flow.some(flow.concessions(began(now)[1]))
    rows = [{"row": row, "why": reason_words(CONCESSION, row.reason)} for row in found.rows]
    return {"rows": rows, "total": found.total, "more": found.more}


@page(may="see-flow")
def today(request: LabRequest) -> HttpResponse:
    """Show today's flow in one page."""
    now = request.now
    person = request.visitor.person
    assert person is not None  # noqa: S101 - ``page`` let nobody else in
    day, week = began(now)
    found = lateness(now)
    late, will_be = found.of("late"), found.of("will-be-late")
    outlooks = _outlooks(found, now)
    context = {
        "heading": _heading(len(late), len(will_be), found.has_hours),
        "figures": flow.figures(day_began=day, week_began=week),
        "lateness": found,
        "horizon": HORIZON.days,
        "outlooks": outlooks,
        "more_outlooks": len(found.outlooks) - len(outlooks),
        "held": _held(),
        "to_sign": flow.some(flow.to_countersign(person)),
        "to_confirm": flow.some(flow.minutes_to_confirm()),
        "rework": _rework(now),
        "stock": [{"words": _(THING_WORDS[kind.kind]), "kind": kind} for kind in flow.stock()],
        "concessions": _concessions(now),
        "remakes": _remakes(now),
        "look_back": flow.LOOK_BACK.days,
        "late_url": f"{reverse('cases:desk')}?show=late",
        "held_url": f"{reverse('cases:desk')}?show=held",
        "notation": notation_of(request),
    }
    return show(request, "manage/today.html", context)
