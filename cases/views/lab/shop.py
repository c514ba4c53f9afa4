"""Skills, stations, baths, things and tablets."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from django.contrib import messages
from django.contrib.auth import logout
from django.db.models import Model
from django.forms import BaseForm
from django.http import Http404, HttpResponse
from django.shortcuts import redirect
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from cases.forms.lab import BathForm, SkillForm, StationForm, TabletForm, ThingsForm
from cases.models import Bath, Skill, Station
from cases.selectors.lab import shop_things, tablet_list
from cases.selectors.people import skill_holders
from cases.services.lab import add_things, retire_thing, save_bath, save_skill, save_station
from cases.services.record import Refusal, Verb
from cases.services.tablets import enrol, revoke
from cases.views.form_page import posted
from cases.views.lab.steps import show_step
from cases.views.page import LabRequest, envelope, page, send
from cases.views.visitor import TABLET_COOKIE

TABLET_COOKIE_AGE = 5 * 365 * 24 * 3600  # seconds: until the manager revokes it


@dataclass(frozen=True)
class Shelf:
    """A kind of row that is added and changed on one page with a small form."""

    what: str
    model: type[Model]
    form: type[BaseForm]
    verb: Verb
    url_name: str
    template: str
    saved: Any


SKILLS = Shelf("skill", Skill, SkillForm, save_skill, "cases:skills", "lab/skills.html",
               gettext_lazy("The skill is saved."))  # fmt: skip
STATIONS = Shelf("station", Station, StationForm, save_station, "cases:stations",
                 "lab/stations.html", gettext_lazy("The station is saved."))  # fmt: skip
BATHS = Shelf("bath", Bath, BathForm, save_bath, "cases:baths", "lab/baths.html",
              gettext_lazy("The bath is saved."))  # fmt: skip


def _shelf(
    request: LabRequest, shelf: Shelf, pk: int | None, more: Callable[[], dict[str, Any]] = dict
) -> HttpResponse:
    """Show the rows with a form to add one, or to change the one named by ``pk``."""
    row = shelf.model._default_manager.filter(pk=pk).first() if pk else None
    if pk and row is None:
        raise Http404
    names = shelf.form.base_fields  # type: ignore[attr-defined]
    first = {name: getattr(row, name) for name in names} if row else None
    form = shelf.form(request.POST or None, initial=first)
    if request.method == "POST":
        known = {shelf.what: pk} if pk else {}
        if posted(form, lambda data: send(request, shelf.verb, **data, **known)):
            messages.success(request, shelf.saved)
            return redirect(shelf.url_name)
    rows = shelf.model._default_manager.all()
    return show_step(
        request, shelf.template, form, step=shelf.url_name, rows=rows, row=row, **more()
    )


@page(may="settings", methods=("GET", "POST"))
def skills(request: LabRequest, pk: int | None = None) -> HttpResponse:
    """Add or rename a skill; each says who has it."""
    return _shelf(request, SKILLS, pk, lambda: {"holders": skill_holders()})


@page(may="settings", methods=("GET", "POST"))
def stations(request: LabRequest, pk: int | None = None) -> HttpResponse:
    """Add or change a station."""
    return _shelf(request, STATIONS, pk)


@page(may="settings", methods=("GET", "POST"))
def baths(request: LabRequest, pk: int | None = None) -> HttpResponse:
    """Add or change a curing bath."""
    return _shelf(request, BATHS, pk)


@page(may="settings", methods=("GET", "POST"))
def things(request: LabRequest) -> HttpResponse:
    """Show flasks, articulators and clamps with who occupies them; add some."""
    form = ThingsForm(request.POST or None)
    if request.method == "POST":
        done = posted(form, lambda data: send(request, add_things, **data))
        if done:
            messages.success(request, _("%(n)s added.") % {"n": done.result["added"]})
            return redirect("cases:things")
    return show_step(request, "lab/things.html", form, step="cases:things", rows=shop_things())


@page(may="settings", methods=("POST",))
def thing_retire(request: LabRequest, pk: int) -> HttpResponse:
    """Take a thing out of use."""
    try:
        send(request, retire_thing, thing=pk)
    except Refusal as refusal:
        messages.error(request, refusal.sentence)
    else:
        messages.success(request, _("It is out of use."))
    return redirect("cases:things")


@page(may="settings", methods=("GET", "POST"))
def tablets(request: LabRequest) -> HttpResponse:
    """Show the tablets; make the device in hand one, and sign the manager out of it."""
    places = list(Station.objects.values_list("pk", "name"))
    form = TabletForm(request.POST or None, stations=places)
    if request.method == "POST":
        enrolled = posted(form, lambda data: enrol(envelope(request), **data))
        if enrolled is not None:
            return _become_tablet(request, enrolled[1])
    return show_step(request, "lab/tablets.html", form, step="cases:tablets", rows=tablet_list())


def _become_tablet(request: LabRequest, token: str) -> HttpResponse:
    logout(request)
    response = redirect("cases:bench-names")
    response.set_cookie(
        TABLET_COOKIE,
        token,
        max_age=TABLET_COOKIE_AGE,
        secure=request.is_secure(),
        httponly=True,
        samesite="Lax",
    )
    return response


@page(may="settings", methods=("POST",))
def tablet_revoke(request: LabRequest, pk: int) -> HttpResponse:
    """Take a tablet out of use."""
    try:
        send(request, revoke, tablet=pk)
    except Refusal as refusal:
        messages.error(request, refusal.sentence)
    else:
        messages.success(request, _("The tablet opens nothing any more."))
    return redirect("cases:tablets")
