"""The settings: what has been entered, and what a new laboratory still lacks."""

from __future__ import annotations

from dataclasses import dataclass

from django.http import HttpResponse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from cases.selectors.lab import Readiness, readiness
from cases.views.form_page import show_forms
from cases.views.lab.steps import STEPS
from cases.views.page import LabRequest, page


@dataclass(frozen=True)
class Line:
    """One settings page on the list: what is there, and what is missing (empty: nothing)."""

    url_name: str
    words: str
    there: str
    missing: str = ""


def _people(ready: Readiness) -> tuple[str, str]:
    there = ngettext("%(n)s person", "%(n)s people", ready.people) % {"n": ready.people}
    if not ready.technicians:
        return there, _("Nobody works at the bench yet. Add a technician.")
    if ready.without_pin:
        return there, ngettext(
            "%(n)s technician has no PIN and cannot open a tablet.",
            "%(n)s technicians have no PIN and cannot open a tablet.",
            ready.without_pin,
        ) % {"n": ready.without_pin}
    return there, ""


def _skills(ready: Readiness) -> tuple[str, str]:
    if ready.skills_nobody_has:
        names = "; ".join(ready.skills_nobody_has)
        return "", _("Nobody has: %(names)s. Their stages would stand still.") % {"names": names}
    return _("somebody has each skill of the route"), ""


def _things(ready: Readiness) -> tuple[str, str]:
    there = _("%(flasks)s flasks, %(articulators)s articulators, %(clamps)s clamps") % {
        "flasks": ready.flasks,
        "articulators": ready.articulators,
        "clamps": ready.clamps,
    }
    lacking = not (ready.flasks and ready.articulators and ready.clamps)
    return there, _("A case needs one of each on its way.") if lacking else ""


def _programs(ready: Readiness) -> tuple[str, str]:
    there = _("%(resins)s resins, %(programs)s programs") % {
        "resins": ready.resins,
        "programs": ready.programs,
    }
    return there, "" if ready.programs else _("Without a program no load can be made.")


def _practices(ready: Readiness) -> tuple[str, str]:
    there = _("%(practices)s practices, %(dentists)s dentists") % {
        "practices": ready.practices,
        "dentists": ready.dentists,
    }
    if not ready.practices:
        return there, _("No practice can order yet. The desk can add them too.")
    return there, ""


def _limits(changed: int) -> str:
    if not changed:
        return _("every limit at its usual value")
    return ngettext(
        "%(n)s limit changed from its usual value",
        "%(n)s limits changed from their usual values",
        changed,
    ) % {"n": changed}


def _planning(ready: Readiness) -> str:
    seconds = ngettext(
        "a plan is improved for %(n)s second",
        "a plan is improved for %(n)s seconds",
        ready.plan_seconds,
    ) % {"n": ready.plan_seconds}
    overtime = _("overtime is planned") if ready.plan_overtime else _("without overtime")
    return _("%(seconds)s, %(overtime)s") % {"seconds": seconds, "overtime": overtime}


def lines_of(ready: Readiness) -> list[Line]:
    """Return the settings pages with what is there and what is missing."""
    states = {
        "cases:lab-profile": (_("name, address, time zone, how teeth are numbered"), ""),
        "cases:people": _people(ready),
        "cases:skills": _skills(ready),
        "cases:hours": (
            ngettext("%(n)s day a week", "%(n)s days a week", ready.open_days)
            % {"n": ready.open_days},
            "",
        ),
        "cases:closed-days": (
            ngettext("%(n)s day ahead", "%(n)s days ahead", ready.closed_days)
            % {"n": ready.closed_days},
            "" if ready.closed_days else _("No holiday is entered. Dates would be promised on it."),
        ),
        "cases:stations": (
            ngettext("%(n)s station", "%(n)s stations", ready.stations) % {"n": ready.stations},
            "",
        ),
        "cases:baths": (
            ngettext("%(n)s bath", "%(n)s baths", ready.baths) % {"n": ready.baths},
            "" if ready.baths else _("Without a bath nothing can cure."),
        ),
        "cases:resins": _programs(ready),
        "cases:cure-limits": (_limits(ready.cure_limits_changed), ""),
        "cases:things": _things(ready),
        "cases:practices": _practices(ready),
        "cases:tablets": (
            ngettext("%(n)s tablet", "%(n)s tablets", ready.tablets) % {"n": ready.tablets},
            ""
            if ready.tablets
            else _("No tablet is enrolled: the bench works at a computer only."),
        ),
        "cases:route": (_("version %(n)s") % {"n": ready.route_version}, ""),
        "cases:design-rules": (_limits(ready.limits_changed), ""),
        "cases:lab-planning": (_planning(ready), ""),
    }
    return [Line(name, str(words), *states.get(name, ("", ""))) for name, words in STEPS]


@page(may="settings")
def index(request: LabRequest) -> HttpResponse:
    """Show every settings page with its state."""
    lines = lines_of(readiness(timezone.localdate(request.now)))
    missing = [line for line in lines if line.missing]
    return show_forms(request, "lab/index.html", lines=lines, missing=missing)
