"""Pack cases of one practice: what goes into the box, and what must be true first?"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpResponse, QueryDict
from django.shortcuts import redirect
from django.utils import timezone
from django.utils.translation import gettext as _

from cases.documents.boxes import cast_words, received_words
from cases.domain.soak import say_span
from cases.models import CheckItem, Practice
from cases.selectors.dispatch import Packing, open_boxes, packing_of
from cases.services import dispatch
from cases.services.record import Refusal
from cases.views.dispatch.days import midnight_after, next_ship_day, say_day
from cases.views.page import LabRequest, integer, page, send, show


@dataclass(frozen=True)
class Measured:
    """A number that a check asks for."""

    name: str
    label: str
    unit: str
    limit: str
    value: str


@dataclass(frozen=True)
class Said:
    """Words that a check asks for beside a number, as one field of the page."""

    name: str
    label: str
    value: str


@dataclass(frozen=True)
class Asked:
    """A check as the page asks it, with what was typed or stored before."""

    name: str
    words: str
    limit: str
    yes_no: bool
    yes: str
    measures: tuple[Measured, ...]
    told: tuple[Said, ...] = ()


@dataclass(frozen=True)
class Back:
    """Something that can go back to the practice with the piece."""

    name: str
    key: int
    words: str
    chosen: bool


@dataclass
class PackRow:
    """One case of the page."""

    packing: Packing
    chosen: bool
    checks: list[Asked] = field(default_factory=list)
    back: list[Back] = field(default_factory=list)
    soak: str = ""
    soak_words: str = ""
    alone: str = ""


def _number(text: str) -> str:
    """Return a number as the service reads it: a decimal comma is a point."""
    return text.strip().replace(",", ".")


def _asked(item: CheckItem, typed: Mapping[str, str]) -> Asked:
    stored = item.values.get("values", {})
    yes = item.values.get("yes")
    known = {True: "yes", False: "no"}.get(yes, "")
    return Asked(
        name=f"yes-{item.pk}",
        words=item.spec["words"],
        limit=item.spec.get("limit", ""),
        yes_no=bool(item.spec["yes_no"]),
        yes=typed.get(f"yes-{item.pk}", known),
        told=tuple(
            Said(
                name=(name := f"told-{item.pk}-{one['key']}"),
                label=_(one["words"]),
                value=typed.get(name, item.values.get("words", {}).get(one["key"], one["usual"])),
            )
            for one in item.spec.get("told", ())
        ),
        measures=tuple(
            Measured(
                name=(name := f"number-{item.pk}-{measure['key']}"),
                label=measure["words"],
                unit=measure["unit"],
                limit=_limit(measure),
                value=typed.get(name, str(stored.get(measure["key"], ""))),
            )
            for measure in item.spec["measures"]
        ),
    )


def _limit(measure: Mapping[str, Any]) -> str:
    low, high, unit = measure.get("low"), measure.get("high"), measure["unit"]
    if low is not None and high is not None:
        return _("%(low)g to %(high)g %(unit)s") % {"low": low, "high": high, "unit": unit}
    if low is not None:
        return _("at least %(low)g %(unit)s") % {"low": low, "unit": unit}
    return _("at most %(high)g %(unit)s") % {"high": high, "unit": unit} if high else ""


def _soak_words(packing: Packing) -> str:
    if packing.lay_minutes is None:
        return _("It was not put in water. Usual is %(usual)s.") % {
            "usual": say_span(packing.usual_minutes or 0)
        }
    return _("It has lain in water for %(lay)s; usual is %(usual)s.") % {
        "lay": say_span(packing.lay_minutes),
        "usual": say_span(packing.usual_minutes or 0),
    }


def _row(packing: Packing, typed: QueryDict, chosen: bool) -> PackRow:
    key = packing.case.pk
    back = [(f"back-{key}", row.pk, received_words(row)) for row in packing.received] + [
        (f"cast-{key}", cast.pk, cast_words(cast)) for cast in packing.casts
    ]
    return PackRow(
        packing,
        chosen,
        checks=[_asked(item, typed) for item in packing.checks]
        if packing.stage and packing.stage.state not in {"done", "skipped"}
        else [],
        back=[Back(name, pk, words, str(pk) in typed.getlist(name)) for name, pk, words in back],
        soak=typed.get(f"soak-{key}", ""),
        soak_words=_soak_words(packing) if packing.soak_short else "",
        alone=typed.get(f"alone-{key}", ""),
    )


def _chosen(request: LabRequest, packings: list[Packing]) -> set[int]:
    """Return the cases that stand ticked: as sent, else asked for, else due today."""
    if request.method == "POST":
        return {key for text in request.POST.getlist("case") if (key := integer(text))}
    named = request.GET.get("case", "")
    ends = midnight_after(request.now)
    found: set[int] = set()
    for packing in packings:
        case = packing.case
        due = case.leaves_at is not None and case.leaves_at < ends
        wanted = case.number == named if named else due
        if wanted and not packing.holds:
            found.add(case.pk)
            if case.twin_id:
                found.add(case.twin_id)
    return found


def _entries(rows: list[PackRow], typed: QueryDict) -> list[dict[str, Any]]:
    """Return what the service takes of the ticked cases."""
    entries = []
    for row in rows:
        if not row.chosen:
            continue
        key = row.packing.case.pk
        checks = []
        for item, asked in zip(row.packing.checks, row.checks, strict=False):
            values = {
                measure.name.rsplit("-", 1)[1]: _number(measure.value) for measure in asked.measures
            }
            yes = {"yes": True, "no": False}.get(asked.yes)
            words = {told.name.rsplit("-", 1)[1]: told.value for told in asked.told}
            checks.append({"item": item.pk, "yes": yes, "values": values, "words": words})
        entries.append(
            {
                "case": key,
                "checks": checks,
                "alone": row.alone.strip(),
                "soak": row.soak.strip(),
                "received": [int(pk) for pk in typed.getlist(f"back-{key}") if pk.isdigit()],
                "casts": [int(pk) for pk in typed.getlist(f"cast-{key}") if pk.isdigit()],
            }
        )
    return entries


def _ship_day(text: str, fallback: date) -> str:
    return text.strip() or fallback.isoformat()


@page(may="dispatch", methods=("GET", "POST"))
def pack(request: LabRequest, pk: int) -> HttpResponse:
    """Show what of a practice can be packed, and pack what is ticked."""
    practice = Practice.objects.filter(pk=pk).first()
    if practice is None:
        raise Http404
    today = timezone.localdate(request.now)
    packings = packing_of(practice, request.now)
    chosen = _chosen(request, packings)
    rows = [_row(one, request.POST, one.case.pk in chosen) for one in packings]
    day = next_ship_day(practice, today)
    refusal = None
    if request.method == "POST":
        try:
            outcome = send(
                request,
                dispatch.pack,
                practice=practice.pk,
                cases=_entries(rows, request.POST),
                ship_on=_ship_day(request.POST.get("ship_on", ""), day),
                shipment=integer(request.POST.get("shipment")),
            )
        except Refusal as found:
            refusal = found
        else:
            number = outcome.result["number"]
            messages.success(request, _("Packed: box %(number)s.") % {"number": number})
            return redirect("cases:box", number=number)
    context = {
        "practice": practice,
        "rows": rows,
        "boxes": open_boxes(practice).order_by("ship_on", "pk"),
        "shipment": request.POST.get("shipment", ""),
        "ship_on": request.POST.get("ship_on", "") or day.isoformat(),
        "leaves": say_day(day, today),
    }
    return show(request, "dispatch/pack.html", context, refusal=refusal)
