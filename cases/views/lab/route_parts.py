"""One stage or one check of the route's draft."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.forms import Form
from django.http import Http404, HttpResponse
from django.shortcuts import redirect
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from cases.domain.route import COUNT_WORDS, RouteTemplate, StageSpec
from cases.forms.lab_check import CheckForm, CheckTables
from cases.forms.lab_route import StageForm, StageTables, ThenForm
from cases.models import Skill, Station
from cases.services.route_edit import (
    drop_check,
    drop_stage,
    free_stage_key,
    lead_on,
    put_check,
    put_stage,
    route_problems,
)
from cases.views.lab.route import edge_words
from cases.views.lab.route_draft import Draft, draft_of, keep
from cases.views.lab.steps import show_step
from cases.views.page import LabRequest, page

KEPT = gettext_lazy("It stands in your draft. Look at the whole, then save it as a version.")


def _beside_fields(form: Form, template: RouteTemplate, owner: str) -> bool:
    """Put what is wrong with one stage or check beside its fields; True when something is."""
    wrong = False
    for problem in route_problems(template):
        kind, *rest = problem.field.split(".")
        whose = f"{kind}.{rest[0]}" if rest else kind
        edge = kind == "edges" and len(rest) > 1 and owner == f"stages.{rest[1]}"
        if not edge and (whose != owner or (kind == "stages" and len(rest) < 2)):
            continue  # another stage's matter, or one of the whole network: shown at the review
        name = "" if edge or len(rest) < 2 else rest[1]
        field = {"minutes": "minutes_every"}.get(name, name)
        form.add_error(field if field in form.fields else None, problem.sentence)
        wrong = True
    return wrong


def _stage_form(request: LabRequest, stage: StageSpec | None) -> StageForm:
    return StageForm(
        request.POST or None,
        initial=StageForm.initial_of(stage) if stage else {"night": "yes"},
        skills=list(Skill.objects.values_list("key", "name")),
        stations=list(Station.objects.values_list("key", "name")),
    )


def _edit_stage(request: LabRequest, draft: Draft, stage: StageSpec | None) -> HttpResponse:
    key = stage.key if stage else ""
    form = _stage_form(request, stage)
    data = request.POST or None
    tables = StageTables(data, draft.template, stage, key)
    others = [(other.key, other.name) for other in draft.template.stages if other.key != key]
    then = ThenForm(data, stages=others) if stage is None else None
    read = all([form.is_valid(), tables.is_valid(), then is None or then.is_valid()])
    if request.method == "POST" and read:
        key = key or free_stage_key(draft.template, form.cleaned_data["name"])
        edges = StageTables(data, draft.template, stage, key)
        edges.is_valid()
        new = form.stage(stage, key, edges.rows())
        template = put_stage(draft.template, new, edges.before())
        if then is not None:
            template = lead_on(template, key, then.cleaned_data["then"])
        if not _beside_fields(form, template, f"stages.{key}"):
            keep(request, draft, template)
            messages.success(request, KEPT)
            return redirect("cases:route")
    elif request.method == "POST" and form.is_valid():
        form.add_error(None, _("One of the rows below cannot be read. It is marked."))
    return show_step(
        request,
        "lab/route_stage.html",
        form,
        step="cases:route",
        draft=draft,
        stage=stage,
        tables=tables,
        then=then,
        after=_after(draft, key),
        letters=[(k, _(words)) for k, words in COUNT_WORDS.items() if k != "fixed"],
    )


def _after(draft: Draft, key: str) -> list[dict[str, Any]]:
    return [
        {"key": edge.after, "words": edge_words(edge, draft.names.get(edge.after, edge.after))}
        for edge in draft.template.edges
        if edge.before == key
    ]


def _find_stage(draft: Draft, key: str) -> StageSpec:
    found = [stage for stage in draft.template.stages if stage.key == key]
    if not found:
        raise Http404
    return found[0]


@page(may="settings", methods=("GET", "POST"))
def stage(request: LabRequest, key: str) -> HttpResponse:
    """Change a stage in the draft."""
    draft = draft_of(request)
    return _edit_stage(request, draft, _find_stage(draft, key))


@page(may="settings", methods=("GET", "POST"))
def stage_new(request: LabRequest) -> HttpResponse:
    """Add a stage to the draft."""
    return _edit_stage(request, draft_of(request), None)


@page(may="settings", methods=("POST",))
def stage_drop(request: LabRequest, key: str) -> HttpResponse:
    """Take a stage with its checks out of the draft."""
    draft = draft_of(request)
    found = _find_stage(draft, key)
    keep(request, draft, drop_stage(draft.template, key))
    words = _("“%(name)s” is out of your draft; what came before it now leads to what came after.")
    messages.success(request, words % {"name": found.name})
    return redirect("cases:route-review")


def _edit_check(request: LabRequest, draft: Draft, number: int) -> HttpResponse:
    found = [check for check in draft.template.checks if check.number == number]
    old = found[0] if found else None
    stages = [(stage.key, stage.name) for stage in draft.template.stages]
    fresh = {"required": True, "yes_no": True, "stage": request.GET.get("stage", "")}
    first = CheckForm.initial_of(old) if old else fresh
    data = request.POST or None
    form = CheckForm(data, initial=first, stages=stages)
    tables = CheckTables(data, old, draft.names)
    read = all([form.is_valid(), tables.is_valid()])
    if request.method == "POST" and read:
        new = form.check(
            old, number, tables.measured(), tables.looked_at_again(), tables.words_told()
        )
        template = put_check(draft.template, new)
        if not _beside_fields(form, template, f"checks.{number}"):
            keep(request, draft, template)
            messages.success(request, KEPT)
            return redirect("cases:route")
    elif request.method == "POST" and form.is_valid():
        form.add_error(None, _("One of the numbers below cannot be read. It is marked."))
    return show_step(
        request,
        "lab/route_check.html",
        form,
        step="cases:route",
        draft=draft,
        check=old,
        number=number,
        tables=tables,
    )


@page(may="settings", methods=("GET", "POST"))
def check(request: LabRequest, number: int) -> HttpResponse:
    """Change a check in the draft."""
    draft = draft_of(request)
    if all(known.number != number for known in draft.template.checks):
        raise Http404
    return _edit_check(request, draft, number)


@page(may="settings", methods=("GET", "POST"))
def check_new(request: LabRequest) -> HttpResponse:
    """Add a check to the draft."""
    draft = draft_of(request)
    number = max((known.number for known in draft.template.checks), default=0) + 1
    return _edit_check(request, draft, number)


@page(may="settings", methods=("POST",))
def check_drop(request: LabRequest, number: int) -> HttpResponse:
    """Take a check out of the draft."""
    draft = draft_of(request)
    keep(request, draft, drop_check(draft.template, number))
    messages.success(request, _("Check %(n)s is out of your draft.") % {"n": number})
    return redirect("cases:route-review")
