"""The van's round of a day: where to stop, what to hand over, what to fetch?"""

from __future__ import annotations

from datetime import date, timedelta

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.utils.dateparse import parse_date
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from cases.documents.boxes import round_facts
from cases.documents.facts import House
from cases.documents.lists import van_list_pdf
from cases.forms.dispatch import PickUpForm
from cases.selectors import dispatch as read
from cases.services.dispatch import ask_pick_up, pick_up_done
from cases.services.record import Refusal
from cases.views.dispatch.days import say_day
from cases.views.dispatch.papers import NotPrinted, keep, not_printed
from cases.views.form_page import posted, show_forms
from cases.views.page import LabRequest, page, send


def _day(text: str | None, today: date) -> date:
    """Return the day asked for, or today where it cannot be read."""
    try:
        return parse_date(text or "") or today
    except ValueError:
        return today


def _address(day: date) -> str:
    return f"{reverse('cases:van-round')}?day={day.isoformat()}"


@page(may="dispatch", methods=("GET", "POST"))
def van_round(request: LabRequest) -> HttpResponse:
    """Show the stops of a day, and take what is to be fetched."""
    today = timezone.localdate(request.now)
    day = _day(request.POST.get("day") or request.GET.get("day"), today)
    form = PickUpForm(request.POST or None)
    if request.method == "POST":
        asked = posted(form, lambda _data: send(request, ask_pick_up, **form.entries(day)))
        if asked is not None:
            messages.success(request, _("It is on the van's list."))
            return redirect(_address(day))
    rounds = read.van_round(day, today)
    stops = sum(len(one.stops) for one in rounds)
    said = ngettext("One stop %(day)s.", "%(n)d stops %(day)s.", stops)
    heading = said if stops else _("No stops %(day)s.")
    return show_forms(
        request,
        "dispatch/round.html",
        form,
        heading=heading % {"n": stops, "day": say_day(day, today)},
        day=day,
        today=today,
        before=_address(day - timedelta(days=1)),
        after=_address(day + timedelta(days=1)),
        over=day < today,
        rounds=rounds,
    )


@page(may="dispatch", methods=("POST",))
def print_round(request: LabRequest) -> HttpResponse:
    """Print the list that travels in the van."""
    today = timezone.localdate(request.now)
    day = _day(request.POST.get("day"), today)
    house = House.of(request.lab)

    def draw() -> bytes:
        rounds = round_facts(read.van_round(day, today))
        return van_list_pdf(day, rounds, house, now=request.now)

    try:
        kept = keep(request, draw, kind="van", number=day.isoformat())
    except NotPrinted as fault:
        return not_printed(request, fault)
    return redirect("cases:paper", pk=kept)


@page(may="dispatch", methods=("POST",))
def fetched(request: LabRequest, pk: int) -> HttpResponse:
    """Tick off what was fetched."""
    today = timezone.localdate(request.now)
    try:
        send(request, pick_up_done, pick_up=pk)
    except Refusal as refusal:
        messages.error(request, refusal.sentence)
    return redirect(_address(_day(request.POST.get("day"), today)))
