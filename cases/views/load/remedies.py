"""What would lower the risk of a load, in words; reckoned apart, so the page asks for it anew."""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil, floor
from typing import Any

from django.http import Http404, HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from cases.domain.cure.overheating import ESTIMATE_ONLY, RISKS
from cases.models import Load
from cases.selectors.loads import one_load
from cases.services.remedies import WANTED
from cases.views.page import LabRequest, page

KINDS = {
    "ramp": gettext_noop("Slower up to %(celsius)s °C: in %(now)s min instead of %(was)s"),
    "hold": gettext_noop("Longer at %(celsius)s °C: %(now)s min instead of %(was)s"),
    "gypsum": gettext_noop("A thinner flask: %(now)s mm of gypsum on each side instead of %(was)s"),
    "thinner": gettext_noop(
        "The thickest flask (%(was)s mm) in another load: then %(now)s mm is the thickest"
    ),
}
NEW_HOLD = gettext_noop("First %(now)s min at %(celsius)s °C, then as the program says")
RISK_WORDS = {
    "low": gettext_noop("risk: low"),
    "some": gettext_noop("risk: some"),
    "high": gettext_noop("risk: high"),
}
TAGS = {"low": "done", "some": "held", "high": "failed"}


@dataclass(frozen=True)
class RemedyWords:
    """One remedy as the page says it: what, the class with its tag, the band, the price."""

    words: str
    risk: str
    tag: str
    band: str
    price: str
    helps: bool


@dataclass(frozen=True)
class RemediesView:
    """The remedies of a load; ``wanted`` while they are still to be reckoned."""

    wanted: bool
    rows: tuple[RemedyWords, ...]


def remedies_view(load: Load) -> RemediesView | None:
    """Return what the page of a load says of its remedies; None where none were asked for."""
    found = load.sound.get("remedies")
    if found is None:
        return None
    if found == WANTED:
        return RemediesView(True, ())
    return RemediesView(False, tuple(_words(one) for one in sorted(found, key=_rank)))


def _rank(one: dict[str, Any]) -> tuple[bool, int, float]:
    """Put what helps most for the least on top."""
    risk = RISKS.index(one["risk"]) if one["risk"] else len(RISKS)
    return not one["helps"], risk, one["more_minutes"]


def _words(one: dict[str, Any]) -> RemedyWords:
    told = {name: f"{round(one[name], 1):g}" for name in ("celsius", "was", "now")}
    said = _(NEW_HOLD if one["kind"] == "hold" and not one["was"] else KINDS[one["kind"]]) % told
    more = one["more_minutes"]
    price = _("%(n)s min more") % {"n": f"{more:g}"} if more else _("no minute more")
    if one["refused"]:
        return RemedyWords(said, "", "", one["refused"], price, helps=False)
    low, high = one["live_c"]
    band = _("%(low)s to %(high)s °C in the core before it is hard throughout") % {
        "low": floor(low),
        "high": ceil(high),
    }
    return RemedyWords(
        said, _(RISK_WORDS[one["risk"]]), TAGS[one["risk"]], band, price, one["helps"]
    )


@page(may="see-cases")
def remedies(request: LabRequest, number: int) -> HttpResponse:
    """Show what would lower the risk of a load, or that it is being reckoned."""
    row = one_load(number)
    if row is None:
        raise Http404
    view = remedies_view(row)
    if view is None:
        return HttpResponse(status=204)
    context = {"load": row, "remedies": view, "estimate_only": _(ESTIMATE_ONLY)}
    return render(request, "load/_remedies.html", context)
