"""The route: the whole network to read, its versions, and saving the next one."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils.translation import gettext as _

from cases.domain.network import UNTIL_FINISH, UNTIL_WAIT
from cases.domain.route import (
    CONDITION_WORDS,
    COUNT_WORDS,
    EdgeSpec,
    Held,
    RouteProblem,
    RouteTemplate,
    StageSpec,
    difference,
)
from cases.domain.route_advice import advice
from cases.domain.route_shipped import unknown_checks, with_checks
from cases.forms.lab_route import KINDS, SaveRouteForm, say_formula
from cases.models import RouteVersion, Skill, Station
from cases.services.route_edit import route_problems, save_route
from cases.views.form_page import posted
from cases.views.lab.route_draft import Draft, address_of, discard, draft_of, keep
from cases.views.lab.steps import show_step
from cases.views.page import LabRequest, page, send


@dataclass(frozen=True)
class Names:
    """Words for the keys of a route."""

    stages: dict[str, str]
    skills: dict[str, str]
    stations: dict[str, str]

    @classmethod
    def of(cls, template: RouteTemplate) -> Names:
        """Return the names of a template's stages and of the lab's skills and stations."""
        return cls(
            {stage.key: stage.name for stage in template.stages},
            dict(Skill.objects.values_list("key", "name")),
            dict(Station.objects.values_list("key", "name")),
        )


def condition(when: str) -> str:
    """Return a condition in words, nothing where it is always true."""
    return "" if when == "always" else _(CONDITION_WORDS.get(when, when))


def edge_words(edge: EdgeSpec, other: str) -> str:
    """Say one edge: what comes before, the wait, the latest start."""
    parts = [other]
    if edge.min_wait:
        parts.append(_("wait %(n)g min") % {"n": edge.min_wait})
    if edge.max_wait is not None:
        parts.append(_("at the latest after %(n)g min") % {"n": edge.max_wait})
    words = ", ".join(parts)
    return f"{words} ({condition(edge.when)})" if edge.when != "always" else words


def held_words(held: Held, names: Names) -> str:
    """Say one thing that a stage occupies, and until when."""
    thing = _(held.thing)
    if held.until == UNTIL_FINISH:
        words = thing
    elif held.until == UNTIL_WAIT:
        words = _("%(thing)s, and for the wait after it") % {"thing": thing}
    else:
        until = names.stages.get(held.until, held.until)
        words = _("%(thing)s until “%(stage)s” ends") % {"thing": thing, "stage": until}
    return f"{words} ({condition(held.when)})" if held.when != "always" else words


def minutes_words(stage: StageSpec) -> str:
    """Say the minutes of a stage, by block-out method where they differ."""
    every = say_formula(stage.minutes.get("*", {}))
    others = [
        f"{_(method)}: {say_formula(formula) or '0'}"
        for method, formula in stage.minutes.items()
        if method != "*"
    ]
    return "; ".join(filter(None, [every, *others])) or "0"


def row_of(stage: StageSpec, template: RouteTemplate, names: Names) -> dict[str, Any]:
    """Return one stage as the table shows it."""
    kinds = dict(KINDS)
    night = {"yes": _("yes"), "no": _("no"), "limit": _("only as said")}[stage.night]
    return {
        "stage": stage,
        "kind": "" if stage.kind == "attended" else kinds[stage.kind],
        "when": condition(stage.when),
        "minutes": minutes_words(stage),
        "skill": names.skills.get(stage.skill, stage.skill),
        "station": names.stations.get(stage.station, stage.station),
        "before": [
            edge_words(edge, names.stages.get(edge.before, edge.before))
            for edge in template.edges
            if edge.after == stage.key
        ],
        "holds": [held_words(held, names) for held in stage.holds],
        "night": night,
        "checks": [check for check in template.checks if check.stage == stage.key],
        "again": sorted(
            {
                check.number
                for check in template.checks
                if any(again.stage == stage.key for again in check.again)
            }
        ),
    }


def _letters() -> list[tuple[str, str]]:
    return [(key, _(words)) for key, words in COUNT_WORDS.items() if key != "fixed"]


@page(may="settings")
def route(request: LabRequest) -> HttpResponse:
    """Show the network stage by stage, as saved or as edited so far."""
    draft = draft_of(request)
    names = Names.of(draft.template)
    rows = [row_of(stage, draft.template, names) for stage in draft.template.stages]
    return show_step(
        request,
        "lab/route.html",
        step="cases:route",
        draft=draft,
        rows=rows,
        letters=_letters(),
        advice=_told(advice(draft.template), draft),
        offered=[(check, names.stages[check.stage]) for check in unknown_checks(draft.template)],
    )


def _told(found: list[RouteProblem], draft: Draft) -> list[dict[str, str]]:
    return [{"sentence": one.sentence, "url": address_of(one, draft)} for one in found]


@page(may="settings", methods=("GET", "POST"))
def review(request: LabRequest) -> HttpResponse:
    """Show what the draft changes and what is wrong with it; save it as the next version."""
    draft = draft_of(request)
    form = SaveRouteForm(request.POST or None)
    done = posted(
        form,
        lambda data: send(
            request,
            save_route,
            base=draft.saved.version,
            document=draft.template.to_json(),
            **data,
        ),
    )
    if done:
        discard(request)
        words = _("Route %(n)s is saved. Open cases keep theirs; new ones follow it.")
        messages.success(request, words % {"n": done.result["version"]})
        return redirect("cases:route-versions")
    saved = RouteTemplate.from_json(draft.saved.document)
    return show_step(
        request,
        "lab/route_review.html",
        form,
        step="cases:route",
        draft=draft,
        changes=difference(saved, draft.template),
        problems=_told(route_problems(draft.template), draft),
        advice=_told(advice(draft.template), draft),
    )


@page(may="settings", methods=("POST",))
def discard_draft(request: LabRequest) -> HttpResponse:
    """Put the draft away; the saved route stays as it is."""
    discard(request)
    messages.success(request, _("Your changes are put away. The saved route stays as it is."))
    return redirect("cases:route")


@page(may="settings", methods=("POST",))
def add_offered(request: LabRequest) -> HttpResponse:
    """Put the checks of the shipped route that this one lacks into the draft."""
    draft = draft_of(request)
    offered = unknown_checks(draft.template)
    if offered:
        keep(request, draft, with_checks(draft.template, offered))
        words = _("The checks are in your draft. Look at the changes and save.")
        messages.success(request, words)
    return redirect("cases:route")


@page(may="settings")
def versions(request: LabRequest) -> HttpResponse:
    """Show every saved version with what it changed."""
    rows = RouteVersion.objects.select_related("by").defer("document").order_by("-version")
    return show_step(request, "lab/route_versions.html", step="cases:route", rows=rows)


@page(may="settings")
def version(request: LabRequest, number: int) -> HttpResponse:
    """Show one saved version as it was."""
    row = get_object_or_404(RouteVersion, version=number)
    template = RouteTemplate.from_json(row.document)
    names = Names.of(template)
    rows = [row_of(stage, template, names) for stage in template.stages]
    return show_step(
        request,
        "lab/route_version.html",
        step="cases:route",
        version=row,
        rows=rows,
        letters=_letters(),
    )
