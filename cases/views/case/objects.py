"""Where the things of a case are: put away, or gone."""

from __future__ import annotations

from typing import Any

from django.db.models import Q
from django.http import HttpResponse
from django.shortcuts import get_object_or_404
from django.utils.translation import gettext as _

from cases.forms.case_actions import GoneForm, PutForm
from cases.models import Case, Thing
from cases.services.things import put_thing, thing_gone
from cases.views.case.door import Action, act, the_case
from cases.views.page import LabRequest, page, send


def _thing(case: Case, pk: int) -> Thing:
    """Return a cast of this case, or a thing of the shop that it occupies."""
    occupied = case.occupations.filter(freed_at__isnull=True).values("thing")
    return get_object_or_404(Thing, Q(case=case) | Q(pk__in=occupied), pk=pk)


def _said(thing: Thing) -> str:
    if thing.kind == "cast":
        return _("The %(label)s cast") % {"label": _(thing.label)}
    return f"{_(thing.kind)} {thing.label}".capitalize()


@page(may="note", methods=("GET", "POST"))
def put(request: LabRequest, number: str, pk: int) -> HttpResponse:
    """Note where a thing was put."""
    case = the_case(request, number)
    thing = _thing(case, pk)
    form = PutForm(request.POST or None, initial={"place": thing.place})

    def run(data: dict[str, Any]) -> object:
        return send(request, put_thing, thing=thing.pk, place=data["place"])

    heading = _("%(thing)s: where is it put?") % {"thing": _said(thing)}
    action = Action(heading, _("It lies there"), _("The place is noted."))
    return act(request, case, form, action, run, anchor="things")


@page(may="note", methods=("GET", "POST"))
def gone(request: LabRequest, number: str, pk: int) -> HttpResponse:
    """Note that a thing broke or was discarded."""
    case = the_case(request, number)
    thing = _thing(case, pk)
    form = GoneForm(request.POST or None)

    def run(data: dict[str, Any]) -> object:
        return send(request, thing_gone, thing=thing.pk, reason=data["reason"])

    heading = _("%(thing)s: what became of it?") % {"thing": _said(thing)}
    action = Action(heading, _("It is gone"), _("It is noted that it is gone."))
    return act(request, case, form, action, run, anchor="things")
