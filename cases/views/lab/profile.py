"""The laboratory's profile, opening hours and closed days."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.utils.translation import gettext as _

from cases.forms.lab import ClosedDayForm, HolidaysForm, ProfileForm, WeekForm
from cases.models import ClosedDay, OpenHours
from cases.selectors.public_holidays import countries, public_holidays, regions
from cases.services.lab import (
    add_closed_days,
    change_profile,
    remove_closed_day,
    set_hours,
)
from cases.services.record import Refusal
from cases.views.form_page import posted
from cases.views.lab.steps import show_step
from cases.views.page import LabRequest, integer, page, send


@page(may="settings", methods=("GET", "POST"))
def profile(request: LabRequest) -> HttpResponse:
    """Change name, address, zone and usages of the laboratory."""
    lab = request.lab
    first = {name: getattr(lab, name, "") for name in ProfileForm.base_fields}
    form = ProfileForm(request.POST or None, initial=first)
    if posted(form, lambda data: send(request, change_profile, **data)):
        messages.success(request, _("The profile is saved."))
        return redirect("cases:lab-profile")
    return show_step(request, "lab/profile.html", form, step="cases:lab-profile")


@page(may="settings", methods=("GET", "POST"))
def hours(request: LabRequest) -> HttpResponse:
    """Set the opening hours of the week."""
    stored = OpenHours.objects.values_list("weekday", "opens", "closes")
    form = WeekForm(request.POST or None, initial=WeekForm.initial_of(list(stored)))
    if posted(form, lambda _data: send(request, set_hours, hours=form.spans())):
        messages.success(request, _("The opening hours are saved."))
        return redirect("cases:hours")
    return show_step(request, "lab/hours.html", form, step="cases:hours")


def _days_of(data: dict[str, Any]) -> list[list[str]]:
    first: date = data["day"]
    last: date = data["until"] or first
    count = (last - first).days + 1
    return [[(first + timedelta(days=n)).isoformat(), data["words"]] for n in range(count)]


@page(may="settings", methods=("GET", "POST"))
def closed_days(request: LabRequest) -> HttpResponse:
    """Show the closed days ahead, add one, or look up public holidays to add."""
    today = timezone.localdate(request.now)
    form = ClosedDayForm(request.POST or None)
    if request.method == "POST":
        done = posted(form, lambda data: send(request, add_closed_days, days=_days_of(data)))
        if done:
            messages.success(request, _("The laboratory is closed on these days."))
            return redirect("cases:closed-days")
    return show_step(
        request,
        "lab/closed_days.html",
        form,
        step="cases:closed-days",
        days=ClosedDay.objects.filter(day__gte=today),
        holidays_form=HolidaysForm(
            initial={"country": _likely_country(request), "year": today.year},
            countries=countries(),
            auto_id="holidays-%s",
        ),
    )


def _likely_country(request: LabRequest) -> str:
    """Return the country whose holidays were added last, by this browser."""
    return str(request.session.get("holidays-country", ""))


@page(may="settings", methods=("POST",))
def closed_day_remove(request: LabRequest, pk: int) -> HttpResponse:
    """Open the laboratory on a day again."""
    try:
        send(request, remove_closed_day, closed_day=pk)
    except Refusal as refusal:
        messages.error(request, refusal.sentence)
    else:
        messages.success(request, _("The laboratory is open on that day again."))
    return redirect("cases:closed-days")


@page(may="settings", methods=("GET", "POST"))
def holidays(request: LabRequest) -> HttpResponse:
    """Show the public holidays of a country, region and year; add those that are ticked."""
    asked = request.POST if request.method == "POST" else request.GET
    today = timezone.localdate(request.now)
    data = {
        "country": asked.get("country", ""),
        "region": asked.get("region", ""),
        "year": integer(asked.get("year")) or today.year,
    }
    form = HolidaysForm(data if data["country"] else None, initial=data, countries=countries())
    if data["country"] in dict(countries()):
        form.offer_regions(regions(data["country"]))
    days: list[tuple[date, str]] = []
    if form.is_valid():
        asked_for = form.cleaned_data
        days = public_holidays(asked_for["country"], asked_for["region"], asked_for["year"])
    if request.method == "POST" and days:
        ticked = set(request.POST.getlist("day"))
        chosen = [[day.isoformat(), words] for day, words in days if day.isoformat() in ticked]
        try:
            added = send(request, add_closed_days, days=chosen).result["added"]
        except Refusal as refusal:
            form.add_error(None, refusal.sentence)
        else:
            request.session["holidays-country"] = data["country"]
            messages.success(request, _("%(n)s closed days are added.") % {"n": added})
            return redirect("cases:closed-days")
    return show_step(
        request,
        "lab/holidays.html",
        form,
        step="cases:closed-days",
        days=[day for day in days if day[0] >= today],
        closed=set(ClosedDay.objects.values_list("day", flat=True)),
    )
