"""Where a case is and when it leaves, in two sentences."""

from __future__ import annotations

from datetime import datetime

from django.utils.formats import date_format
from django.utils.timezone import localdate, localtime
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from cases.models import Case, CaseStage
from cases.selectors.case_page import CasePage


def say_when(instant: datetime, now: datetime) -> str:
    """Return an instant as people say it: "today at 16:00", "Friday 11 December at 16:00"."""
    local = localtime(instant)
    hour = f"{local:%H:%M}"
    days = (local.date() - localdate(now)).days
    if days == 0:
        return _("today at %(hour)s") % {"hour": hour}
    if days == 1:
        return _("tomorrow at %(hour)s") % {"hour": hour}
    shown = "l j F" if abs(days) < 180 else "l j F Y"
    return _("%(day)s at %(hour)s") % {"day": date_format(local, shown), "hour": hour}


def heading(page: CasePage, now: datetime) -> str:
    """Say where the case is and when it leaves."""
    return f"{where(page, now)} {leaves(page.case, now)}".strip()


def where(page: CasePage, now: datetime) -> str:
    """Say where the case is."""
    closed = _closed(page.case, now)
    if closed:
        return closed
    whole = next((hold for hold in page.holds if not hold.stages), None)
    if whole is not None:
        return _("It is on hold.")
    if page.in_hand:
        return " ".join(_in_hand(stage) for stage in page.in_hand[:2])
    held = {key for hold in page.holds for key in hold.stages}
    ready = page.ready(now)
    free = [stage for stage in ready if stage.key not in held]
    if free:
        names = _listed([f"“{stage.name}”" for stage in free[:3]])
        return ngettext("%(names)s can begin.", "%(names)s can begin.", len(free)) % {
            "names": names
        }
    if ready:
        return _("“%(stage)s” is on hold.") % {"stage": ready[0].name}
    waiting = page.waiting(now)
    if waiting:
        first = min(waiting, key=lambda stage: stage.ready_at or now)
        when = say_when(first.ready_at or now, now)
        return _("It rests until %(when)s; then “%(stage)s” can begin.") % {
            "when": when,
            "stage": first.name,
        }
    return _("All stages are over.")


def _closed(case: Case, now: datetime) -> str:
    when = say_when(case.closed_at, now) if case.closed_at else ""
    if case.state == "sent":
        return _("It left %(when)s.") % {"when": when} if when else _("It has left.")
    if case.state == "cancelled":
        return _("It was closed %(when)s and is not finished.") % {"when": when}
    if case.state == "packed":
        return _("It is packed.")
    return ""


def _in_hand(stage: CaseStage) -> str:
    parts = {"stage": stage.name, "who": stage.worker.name if stage.worker else _("somebody")}
    words = {
        "running": _("“%(stage)s” is in the hands of %(who)s."),
        "paused": _("“%(stage)s” was put down by %(who)s."),
        "countersign": _("“%(stage)s” by %(who)s waits for a countersign."),
        "away": _("It is at the practice (“%(stage)s”)."),
    }
    return words[stage.state] % parts


def _listed(names: list[str]) -> str:
    if len(names) < 2:
        return "".join(names)
    return _("%(most)s and %(last)s") % {"most": ", ".join(names[:-1]), "last": names[-1]}


def leaves(case: Case, now: datetime) -> str:
    """Say when an open case leaves, or should have left."""
    if case.state not in {"open", "packed"}:
        return ""
    if case.leaves_at is None:
        return _("No day is promised yet.")
    when = say_when(case.leaves_at, now)
    if case.leaves_at <= now:
        return _("It should have left %(when)s.") % {"when": when}
    return _("It leaves %(when)s.") % {"when": when}


def tags(page: CasePage, now: datetime, *, newer_draft: bool = False) -> list[dict[str, str]]:
    """Return the tags of a case: kind of shape and words."""
    case = page.case
    found: list[tuple[str, str]] = []
    if case.state in {"open", "packed"} and case.leaves_at and case.leaves_at <= now:
        days = (localdate(now) - localdate(case.leaves_at)).days
        late = ngettext("%(n)s day late", "%(n)s days late", days) % {"n": days}
        found.append(("late", late if days else _("late today")))
    if case.rush:
        found.append(("", _("rush")))
    if case.design is not None and case.design.data["draft"]:
        found.append(("held", _("draft design")))
    elif newer_draft:
        found.append(("held", _("a newer draft")))
    if page.open_questions:
        found.append(("held", _("the practice is asked")))
    soon = {stage.key for stage in (*page.in_hand, *page.ready(now), *page.waiting(now))}
    if any(not hold.stages for hold in page.holds):
        found.append(("held", _("on hold")))
    elif any(soon & set(hold.stages) for hold in page.holds):
        found.append(("held", _("a stage is on hold")))
    if case.state == "cancelled":
        found.append(("", _("closed")))
    if _not_clean(page):
        found.append(("failed", _("treat as contaminated")))
    return [{"kind": kind, "words": words} for kind, words in found]


def _not_clean(page: CasePage) -> bool:
    """Say whether what came was not disinfected yet, by the practice or here."""
    done = {stage.key for stage in page.stages if stage.state == "done"}
    return page.case.contaminated and page.case.state == "open" and "disinfect" not in done
