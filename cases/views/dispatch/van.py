"""What must go out today?"""

from __future__ import annotations

from dataclasses import dataclass

from django.http import HttpResponse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from cases.models import Shipment
from cases.selectors.dispatch import Pile, Van, van_today
from cases.views.desk.row_words import RowWords, row_words
from cases.views.dispatch.days import midnight_after, say_day
from cases.views.page import LabRequest, page, show


@dataclass(frozen=True)
class Line:
    """A case of the page: its words, and whether it can be packed or in which box it is."""

    words: RowWords
    packable: bool
    box: str


@dataclass(frozen=True)
class BoxLine:
    """A box that stands in the lab: its day in words, and whether that day is over."""

    box: Shipment
    day: str
    late: bool


def _lines(pile: Pile, van: Van, request: LabRequest) -> list[Line]:
    return [
        Line(
            row_words(row, request.now),
            row.case.pk in van.packable,
            van.box_of.get(row.case.pk, ""),
        )
        for row in pile.rows
    ]


def _heading(van: Van) -> str:
    due = van.late.total + van.today.total
    if not due:
        return _("Nothing must go out today.")
    return ngettext("%(n)d case must go out today.", "%(n)d cases must go out today.", due) % {
        "n": due
    }


def _lede(van: Van) -> str:
    """Say how what is due stands; what is not shown is not guessed at."""
    rows = [*van.late.rows, *van.today.rows]
    if not rows:
        return ""
    packed = sum(1 for row in rows if row.case.pk in van.box_of)
    ready = sum(1 for row in rows if row.case.pk in van.packable)
    parts = [
        ngettext("%(n)d is in its box", "%(n)d are in their boxes", packed) % {"n": packed},
        ngettext("%(n)d can be packed", "%(n)d can be packed", ready) % {"n": ready},
        ngettext("%(n)d is still at work", "%(n)d are still at work", len(rows) - packed - ready)
        % {"n": len(rows) - packed - ready},
    ]
    said = dict(zip(("packed", "ready", "work"), parts, strict=True))
    if van.late.more or van.today.more:
        return _("Of those shown: %(packed)s, %(ready)s, %(work)s.") % said
    return _("%(packed)s, %(ready)s, %(work)s.") % said


@page(may="dispatch")
def van(request: LabRequest) -> HttpResponse:
    """Show what is late, due today, ready for later, in boxes and sent lately."""
    today = timezone.localdate(request.now)
    found = van_today(request.now, midnight_after(request.now))
    lists = [
        ("late", _("Should have left"), found.late),
        ("today", _("Leaves today"), found.today),
        ("later", _("Can be packed, leaves another day"), found.later),
    ]
    return show(
        request,
        "dispatch/van.html",
        {
            "heading": _heading(found),
            "lede": _lede(found),
            "piles": [
                (key, title, pile, _lines(pile, found, request))
                for key, title, pile in lists
                if pile.total
            ],
            "boxes": [
                BoxLine(box, say_day(box.ship_on, today), box.ship_on < today)
                for box in found.boxes
            ],
            "sent": found.sent,
            "practices": found.practices,
        },
    )
