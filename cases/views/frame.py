"""What the frame of every page shows: the lab, the pages one may open, the person, the clock."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

from django.http import HttpRequest
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from cases.domain.toothwords import NUMBERINGS
from cases.models import Heartbeat, Lab
from cases.views.notation import notation_of
from cases.views.visitor import Visitor

STALE_AFTER = timedelta(seconds=60)

NAV = (
    ("cases:bench", gettext_lazy("Bench"), "work"),
    ("cases:desk", gettext_lazy("Cases"), "see-cases"),
    ("cases:plan", gettext_lazy("Plan"), "see-cases"),
    ("cases:loads", gettext_lazy("Baths"), "see-cases"),
    ("cases:wall", gettext_lazy("Wall"), "see-cases"),
    ("cases:log", gettext_lazy("Log"), "log-cases"),
    ("cases:van", gettext_lazy("Van"), "dispatch"),
    ("cases:today", gettext_lazy("Today"), "see-flow"),
    ("cases:lab", gettext_lazy("Lab"), "settings"),
    ("cases:practice", gettext_lazy("Your cases"), "see-own-practice"),
)
"""Pages that lead somewhere from everywhere: address name, words, capability."""


def heartbeat_words(now: datetime) -> str:
    """Return why waits are not being watched, or nothing while the clock's sweep is alive."""
    at = Heartbeat.objects.filter(name="sweep").values_list("at", flat=True).first()
    if at is not None and now - at <= STALE_AFTER:
        return ""
    if at is None:
        return _("The program's clock has not run yet. Start the worker; watch the waits yourself.")
    since = timezone.localtime(at).strftime("%H:%M")
    return _(
        "The program's clock has stood still since %(since)s. No alarm will sound: watch the "
        "waits yourself and restart the worker."
    ) % {"since": since}


def _nav(request: HttpRequest, visitor: Visitor) -> list[dict[str, Any]]:
    links = []
    for name, words, capability in NAV:
        if visitor.may(capability):
            url = reverse(name)
            links.append({"url": url, "words": words, "current": request.path == url})
    return links


def frame(request: HttpRequest) -> dict[str, Any]:
    """Context processor for ``base.html`` and ``bench_base.html``."""
    visitor: Visitor = getattr(request, "visitor", Visitor())
    now: datetime = getattr(request, "now", None) or timezone.now()
    lab: Lab | None = getattr(request, "lab", None)
    person = visitor.person
    inside = person is not None and visitor.door != "portal"
    words = heartbeat_words(now) if inside else ""
    return {
        "lab": lab,
        "lab_name": lab.name if lab else "labflow",
        "home_url": reverse("cases:home"),
        "notation": notation_of(request),
        "numbering": NUMBERINGS[notation_of(request)] if person else "",
        "nav": _nav(request, visitor) if visitor.door != "bench" else [],
        "visitor": visitor,
        "person_name": person.name if person else "",
        "person_role": "",
        "person_url": reverse("cases:account") if person and visitor.door != "bench" else "",
        "sign_out_url": reverse("cases:sign-out") if person and visitor.door != "bench" else "",
        "heartbeat_stale": bool(words),
        "heartbeat_words": words,
        "hide_alarms": not inside,
        "bench_name": visitor.tablet.name if visitor.tablet else "",
        "lock_url": reverse("cases:bench-lock") if person and visitor.tablet else "",
        "idle_minutes": lab.idle_lock_minutes if lab and visitor.tablet and person else "",
        "server_now": now,
    }
