"""The design of a case: drawn at the surveyor, redrawn while it is entered."""

from __future__ import annotations

import uuid
from dataclasses import replace
from typing import Any, cast

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _

from cases.domain.design import Arch, Borders, Design, Polish
from cases.domain.design_rules import flaws
from cases.domain.teeth import from_fdi, teeth_of_arch
from cases.forms.case_design import FREE_ARM_START_MM, TOOLS, WIRE_START_MM, DesignForm, touched
from cases.models import Case
from cases.selectors.design_effect import design_effect
from cases.services.correct_order import correct_order
from cases.services.design import set_design
from cases.services.record import OtherBody, Refusal
from cases.views.case.actions import version_of
from cases.views.case.design_words import changes_of, effect_sentences, hints
from cases.views.case.door import frame_of, notation_of, see_other, the_case
from cases.views.page import LabRequest, envelope, integer, page


def present_plan(case: Case) -> Design:
    """Return the design that stands, expected or drawn; a bare arch where there is none."""
    if case.design is None:
        return Design(arch=cast(Arch, case.arch))
    return Design.from_json(case.design.data)


def is_drawn(case: Case) -> bool:
    """Say whether a technician has drawn the design."""
    return case.design is not None and not case.design.data["provisional"]


def _form(request: LabRequest, case: Case, data: Any) -> DesignForm:
    form = DesignForm(
        data,
        plan=present_plan(case),
        borders=case.work_order["borders"],
        polish=case.work_order["polish"],
        notation=notation_of(request),
    )
    # Other clasps have other entries below them. The delay lets a press on the button that
    # took the focus away come first.
    form.fields["clasps"].widget.attrs |= {
        "hx-post": reverse("cases:case-design-preview", args=[case.number]),
        "hx-trigger": "change delay:600ms",
        "hx-target": "#design-form",
        "hx-swap": "outerHTML",
    }
    return form


def _context(request: LabRequest, case: Case, form: DesignForm) -> dict[str, Any]:
    """Return what the page and its fragments show of a form, valid or not."""
    notation = notation_of(request)
    before = present_plan(case)
    after, sentences, faults = before, [], []
    if form.is_bound and form.is_valid():
        after = form.plan()
        faults = list(flaws(after))
        if not faults:
            effect = design_effect(
                case,
                after,
                borders=cast(Borders, form.cleaned_data["borders"]),
                polish=cast(Polish, form.cleaned_data["polish"]),
            )
            sentences = changes_of(before, after, notation) + effect_sentences(effect)
    elif form.is_bound:
        faults = [str(error) for errors in form.errors.values() for error in errors]
    return {
        "case": case,
        "frame": frame_of(request),
        "notation": notation,
        "form": form,
        "drawn": is_drawn(case),
        "version": case.version,
        "plan": after,
        "in_hand": bool(form["in_hand"].value()),
        "sentences": sentences,
        "faults": faults,
        "hints": hints(case, after, notation),
        "tools": [(key, _(words)) for key, words in TOOLS],
        "tool": form["tool"].value() or "replaced",
        "row": [(tooth, from_fdi(tooth, notation)) for tooth in teeth_of_arch(case.arch)],
        "marks": _marks(after),
        "wire_start": WIRE_START_MM,
        "arm_start": FREE_ARM_START_MM,
    }


def _marks(plan: Design) -> dict[int, str]:
    """Return what stands at each tooth, in one word for the strip of teeth."""
    marks = dict.fromkeys(plan.missing - plan.replaced, _("missing"))
    marks |= dict.fromkeys(plan.replaced, _("replaced"))
    marks |= dict.fromkeys(plan.extracted, _("taken out"))
    marks |= dict.fromkeys(plan.rests, _("rest"))
    marks |= {clasp.tooth: _("clasp") for clasp in plan.clasps}
    return marks


@page(may="work", methods=("GET", "POST"))
def design(request: LabRequest, number: str) -> HttpResponse:
    """Show the design form; when it is sent, store a new version and grow the work from it."""
    case = the_case(request, number)
    if request.method != "POST":
        return render(
            request, "case/design.html", _context(request, case, _form(request, case, None))
        )
    form = _form(request, case, request.POST)
    status = 422
    if form.is_valid():
        try:
            messages.success(request, _store(request, case, form))
            return _onwards(request, case)
        except Refusal as refusal:
            status = 409 if isinstance(refusal, OtherBody) else 422
            known = refusal.field if refusal.field in form.fields else None
            form.add_error(known, refusal.sentence)
            case.refresh_from_db()
    context = _context(request, case, form) | {"refused": True}
    return render(request, "case/design.html", context, status=status)


def _onwards(request: LabRequest, case: Case) -> HttpResponse:
    """Go back to the survey that is in hand on the tablet, else to the case."""
    if request.visitor.door == "bench":
        survey = case.stages.filter(key="survey", state="running").first()
        if survey is not None:
            response = redirect("cases:bench-stage", pk=survey.pk)
            response.status_code = 303
            return response
    return see_other(case, anchor="design")


def _store(request: LabRequest, case: Case, form: DesignForm) -> str:
    """Store the design and the finish orders where they differ; say what was done.

    Both are one thing to the person who sends the form: the second submission has an id made
    from the first, so that sending the form twice changes nothing twice.
    """
    seal = envelope(request)
    plan, data = form.plan(), form.cleaned_data
    version = version_of(request, case.version)
    said = []
    if plan != present_plan(case):
        done = set_design(
            seal, case=case.pk, version=version, data=plan.to_json(), reason=data["reason"]
        )
        version = int(done.result["version"])
        said.append(_("The design is stored. Stages and checks follow from it."))
    finish = {
        name: data[name] for name in ("borders", "polish") if data[name] != case.work_order[name]
    }
    if finish:
        correct_order(
            replace(seal, submission_id=uuid.uuid5(seal.submission_id, "finish")),
            case=case.pk,
            version=version,
            changes=finish,
            reason=data["reason"] or _("Entered with the design."),
        )
        said.append(_("The finish orders are corrected."))
    return " ".join(said) or _("Nothing was changed.")


@page(may="work", methods=("POST",))
def preview(request: LabRequest, number: str) -> HttpResponse:
    """Redraw the arch and say what the entries would change; nothing is stored.

    A touched tooth gives the whole form back, because its entries change.
    """
    case = the_case(request, number)
    tooth = integer(request.POST.get("touch"))
    entries: dict[str, Any] = request.POST.dict()
    if tooth in teeth_of_arch(case.arch):
        tool = entries.get("tool") or "replaced"
        entries = touched(entries, tool, tooth, arch=case.arch, notation=notation_of(request))
    context = _context(request, case, _form(request, case, entries))
    if not request.htmx:
        return render(request, "case/design.html", context)
    whole = request.htmx.target == "design-form"
    return render(request, f"case/_design_{'form' if whole else 'live'}.html", context)
