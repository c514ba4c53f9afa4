"""Closing time: what rests where it must not rest overnight."""

from __future__ import annotations

from django.http import HttpResponse
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from cases.selectors import closing as selected
from cases.views.case.where import say_when
from cases.views.manage.words import rest_words
from cases.views.notation import notation_of
from cases.views.page import LabRequest, page, show

MOST = 40


def _heading(restless: int, running: int) -> str:
    if restless:
        said = ngettext(
            "One case may not stay overnight as it is.",
            "%(n)s cases may not stay overnight as they are.",
            restless,
        ) % {"n": restless}
    else:
        said = _("Everything may rest overnight where it is.")
    if not running:
        return said
    words = ngettext("One stage still runs.", "%(n)s stages still run.", running)
    return f"{said} {words % {'n': running}}"


@page(may="see-flow")
def closing(request: LabRequest) -> HttpResponse:
    """Show what has to be done before the lights go out."""
    now = request.now
    night = selected.night(now)
    resting = selected.may_not_rest(night)
    running = selected.running()
    context = {
        "heading": _heading(len(resting), len(running)),
        "closes": say_when(night.closes_at, now) if night.closes_at else "",
        "opens": say_when(night.opens_at, now) if night.opens_at else "",
        "resting": [
            {"case": one.case, "why": [rest_words(rest, now) for rest in one.rests]}
            for one in resting[:MOST]
        ],
        "more_resting": len(resting) - MOST,
        "running": running[:MOST],
        "more_running": len(running) - MOST,
        "notation": notation_of(request),
    }
    return show(request, "manage/closing.html", context)
