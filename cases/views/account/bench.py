"""The tablet's door: names, PIN, change person, leave the bench."""

from __future__ import annotations

from dataclasses import replace

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from cases.forms.account import BenchPinForm, OwnPinForm
from cases.selectors.labour import put_down_by_a_lock
from cases.selectors.people import bench_people, running_spans
from cases.services.people import change_own_pin
from cases.services.record import Refusal
from cases.services.tablets import close_bench, leave_bench, open_bench
from cases.views.form_page import posted, show_forms
from cases.views.page import OPEN, LabRequest, envelope, page, send


@page(may=OPEN)
def names(request: LabRequest) -> HttpResponse:
    """Show the names to tap; only an enrolled tablet sees them."""
    tablet = request.visitor.tablet
    if tablet is None:
        return redirect("cases:sign-in")
    people = bench_people(timezone.localdate(request.now))
    return show_forms(request, "account/bench_names.html", tablet=tablet, people=people)


@page(may=OPEN, methods=("GET", "POST"))
def pin(request: LabRequest, pk: int) -> HttpResponse:
    """Ask the person whose name was tapped for their PIN."""
    tablet = request.visitor.tablet
    if tablet is None:
        return redirect("cases:sign-in")
    person = bench_people(timezone.localdate(request.now)).filter(pk=pk).first()
    if person is None:
        raise Http404
    form = BenchPinForm(request.POST or None)
    if request.method == "POST":
        opened = posted(form, lambda data: open_bench(envelope(request), person=pk, **data))
        if opened is not None:
            asked = put_down_by_a_lock(person).exists()
            return redirect("cases:bench-put-down" if asked else "cases:bench")
    return show_forms(
        request, "account/bench_pin.html", form, tablet=tablet, person=person, submission=True
    )


@page(may=OPEN, methods=("POST",))
def lock(request: LabRequest) -> HttpResponse:
    """Lock the tablet for the next person, by a tap or (``how``) by itself."""
    if request.visitor.tablet is None:
        return redirect("cases:home")
    by_itself = request.POST.get("how") == "idle"
    asked = envelope(request)
    try:
        if by_itself:
            close_bench(replace(asked, person_id=None), how="idle")
        else:
            close_bench(asked, how="change")
    except Refusal as refusal:
        messages.error(request, refusal.sentence)
    return redirect("cases:bench-names")


@page(may="work", methods=("GET", "POST"))
def leave(request: LabRequest) -> HttpResponse:
    """End one's work for today: what runs is paused and shown for correction later."""
    person = request.visitor.person
    if person is None:  # the decorator has sent nobody here
        raise Http404
    if request.method == "POST":
        try:
            outcome = send(request, leave_bench)
        except Refusal as refusal:
            messages.error(request, refusal.sentence)
            return redirect("cases:bench")
        count = len(outcome.result["paused"])
        messages.success(request, _left_words(count))
        return redirect("cases:bench-names" if request.visitor.tablet else "cases:bench")
    spans = running_spans(person)
    return show_forms(request, "account/bench_leave.html", spans=spans)


def _left_words(count: int) -> str:
    if not count:
        return _("You have left the bench. Nothing was running.")
    words = ngettext(
        "You have left the bench. %(count)s running stage is paused; check its minutes when "
        "you are back.",
        "You have left the bench. %(count)s running stages are paused; check their minutes "
        "when you are back.",
        count,
    )
    return words % {"count": count}


@page(may="work", methods=("GET", "POST"))
def own_pin(request: LabRequest) -> HttpResponse:
    """Change one's own PIN, on the tablet or at a computer."""
    form = OwnPinForm(request.POST or None)
    if request.method == "POST":
        done = posted(form, lambda data: change_own_pin(envelope(request), **data))
        if done is not None:
            messages.success(request, _("Your new PIN is set."))
            return redirect("cases:bench" if request.visitor.tablet else "cases:account")
    return show_forms(request, "account/own_pin.html", form)
