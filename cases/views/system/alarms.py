"""Alarms: the fragment that every lab and bench page asks for, and its page without scripts."""

from __future__ import annotations

import uuid
from collections.abc import Sequence
from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.formats import date_format
from django.utils.translation import gettext as _

from cases.models import Case, Timer
from cases.selectors.alarms import Alarm, folded, open_alarms
from cases.services.alarms import RING_AGAIN, acknowledge, acknowledge_many, alarm_words, load_name
from cases.services.record import Refusal
from cases.services.when import when
from cases.views.page import OPEN, LabRequest, SeeOther, page, send

MOST_NAMED = 4
"""So many cases one sentence names. Judgement."""


@page(may=OPEN)
def alarms(request: LabRequest) -> HttpResponse:
    """Answer with the open alarms; an enrolled tablet hears them while nobody is signed in."""
    visitor = request.visitor
    if visitor.tablet is None and visitor.person is None and not request.htmx:
        return redirect("cases:sign-in")
    heard = visitor.tablet is not None or visitor.may("see-cases")
    found = open_alarms(request.now) if heard else []
    if request.htmx:
        return _fragment(request, found)
    shown = [_one(request, alarm) for alarm in found]
    base = "bench_base.html" if visitor.tablet else "base.html"
    return render(request, "bench/alarms.html", {"alarms": shown, "frame": base})


@page(may="see-cases", methods=("POST",))
def acknowledged(request: LabRequest) -> HttpResponse:
    """Stop one alarm, or several that were told in one sentence."""
    alerts = [int(pk) for pk in request.POST.get("alerts", "").split(",") if pk.isdecimal()]
    try:
        if len(alerts) == 1:
            send(request, acknowledge, alert=alerts[0])
        else:
            send(request, acknowledge_many, alerts=alerts)
    except Refusal as refusal:
        if not request.htmx:
            messages.error(request, refusal.sentence)
    if request.htmx:
        return _fragment(request, open_alarms(request.now))
    return SeeOther(reverse("cases:alarms"))


def _fragment(request: LabRequest, found: list[Alarm]) -> HttpResponse:
    single, behind, rest = folded(found)
    shown = [_one(request, alarm) for alarm in single]
    if behind:
        shown.insert(0, _summary(request, behind))
    if rest:
        words = _("%(n)s more alarms are open. Look at each.") % {"n": len(rest)}
        key = "rest-" + "-".join(str(alarm.timer.pk) for alarm in rest)
        shown.append(_shown(request, key, words, "", reverse("cases:alarms"), []))
    context = {"alarms": shown, "repeat_seconds": int(RING_AGAIN.total_seconds())}
    return render(request, "components/_alarms.html", context)


def _one(request: LabRequest, alarm: Alarm) -> dict[str, Any]:
    timer = alarm.timer
    words = alarm_words(timer)
    due = timezone.localtime(timer.due_at)
    today = due.date() == timezone.localtime(request.now).date()
    since = _("since %(at)s") % {"at": date_format(due, "H:i" if today else "D j M, H:i")}
    detail = since
    if alarm.alert is None:
        still = _("The program's clock stands still: nobody can acknowledge this yet.")
        detail = f"{since}. {still}"
    elif not request.visitor.may("see-cases"):
        detail = f"{since}. " + _("Tap your name to acknowledge it.")
    alerts = [alarm.alert.pk] if alarm.alert else []
    where = _where(request, alarm)
    return _shown(request, f"timer-{timer.pk}", words, detail, where, alerts, _cases([alarm]))


def _where(request: LabRequest, alarm: Alarm) -> str:
    visitor, timer = request.visitor, alarm.timer
    if not visitor.may("see-cases"):
        return ""
    if timer.load:
        return reverse("cases:load", args=[timer.load.number])
    if visitor.may("work"):
        return reverse("cases:bench-stage", args=[timer.stage_id])
    return reverse("cases:case", args=[timer.case.number]) if timer.case else ""


def _of(timer: Timer) -> str:
    """Return the number of the case, or the name of the load, that a timer belongs to."""
    return timer.case.number if timer.case else load_name(timer.load) if timer.load else ""


def _summary(request: LabRequest, behind: list[Alarm]) -> dict[str, Any]:
    """Tell in one sentence what a standstill of the clock left behind."""
    first = when(min(alarm.timer.due_at for alarm in behind))
    numbers = list(dict.fromkeys(_of(alarm.timer) for alarm in behind))
    listed = ", ".join(numbers[:MOST_NAMED])
    if len(numbers) > MOST_NAMED:
        more = len(numbers) - MOST_NAMED
        listed = _("%(listed)s and %(n)s more") % {"listed": listed, "n": more}
    words = _("The program's clock stood still: %(n)s waits and limits went by. Look at each.") % {
        "n": len(behind)
    }
    detail = _("The first: %(at)s. Cases: %(listed)s.") % {"at": first, "listed": listed}
    alerts = [alarm.alert.pk for alarm in behind if alarm.alert is not None]
    key = "summary-" + "-".join(str(alarm.timer.pk) for alarm in behind)
    some = _cases(behind)[:MOST_NAMED]
    return _shown(request, key, words, detail, reverse("cases:alarms"), alerts, some)


def _cases(told: list[Alarm]) -> list[Case]:
    """Return the cases that alarms belong to, each once; a load has none of its own."""
    cases = (alarm.timer.case for alarm in told)
    return list({case.pk: case for case in cases if case is not None}.values())


def _shown(
    request: LabRequest,
    key: str,
    words: str,
    detail: str,
    url: str,
    alerts: list[int],
    cases: Sequence[Case] = (),
) -> dict[str, Any]:
    may = bool(alerts) and request.visitor.may("see-cases")
    return {
        "id": key,
        "cases": cases,
        "words": words,
        "detail": detail,
        "url": url,
        "acknowledge_url": reverse("cases:alarm-acknowledge") if may else "",
        "alerts": ",".join(str(pk) for pk in alerts),
        "submission_id": uuid.uuid4(),
    }
