"""The design of a case: drawn at the surveyor, redrawn while it is entered."""

from __future__ import annotations

import uuid
from collections.abc import Iterable
from dataclasses import replace
from typing import Any, Final, cast

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from cases.domain.design import Arch, Design
from cases.domain.rule_limits import usable
from cases.domain.teeth import SYSTEMS, teeth_of_arch
from cases.domain.toothwords import NUMBERINGS, for_reader
from cases.forms.design.form import DesignForm
from cases.forms.design.slips import refuse_slips, refuse_unfinished
from cases.forms.design.touch import SURVEY, TOOLS, renumbered, touched
from cases.forms.design.trail import Entries, Trail, entries_of, shown_by
from cases.models import Case
from cases.models import Design as Row
from cases.selectors.design_drafts import finished_design, newer_draft
from cases.services.correct_order import correct_order
from cases.services.design import set_design
from cases.services.record import OtherBody, Refusal
from cases.views.case.actions import version_of
from cases.views.case.design_live import live, say_undecided
from cases.views.case.design_nav import part_links
from cases.views.case.door import frame_of, see_other, the_case
from cases.views.notation import choose, written_in
from cases.views.page import LabRequest, SeeOther, envelope, integer, page

BLOCKED: Final = {
    "mesial": gettext_noop("blocked out mesial"),
    "distal": gettext_noop("blocked out distal"),
    "buccal": gettext_noop("blocked out cheek side"),
    "lingual": gettext_noop("blocked out tongue side"),
}


def present_plan(case: Case, draft: Row | None) -> Design:
    """Return the design that is drawn on: a newer draft, else what stands; a bare arch where
    there is none."""
    row = draft or case.design
    return Design.from_json(row.data) if row is not None else Design(arch=cast(Arch, case.arch))


def _form(request: LabRequest, case: Case, data: Any) -> DesignForm:
    draft = newer_draft(case)
    form = DesignForm(
        data,
        plan=present_plan(case, draft),
        borders=case.work_order["borders"],
        polish=case.work_order["polish"],
        notation=written_in(request, data),
    )
    if draft is not None:
        # What was written with it is typed once.
        form.initial.update(reason=draft.reason, asked_by=draft.asked_by)
    # Other gaps and clasps have other entries. The delay lets a press on the button that took the
    # focus away come first.
    for name in ("replaced", "extracted", "out", "clasps", "abutments", "blocked", "more_faces"):
        form.fields[name].widget.attrs |= {
            "hx-post": reverse("cases:case-design-preview", args=[case.number]),
            "hx-trigger": "change delay:600ms",
            "hx-target": "#design-form",
            "hx-swap": "outerHTML",
        }
    return form


def _context(
    request: LabRequest, case: Case, form: DesignForm, trail: Trail | None = None, said: str = ""
) -> dict[str, Any]:
    """Return what the page and its fragments show of a form, valid or not."""
    notation = form.notation
    steps = trail or Trail.read(form.data.get("trail", ""))
    draft = newer_draft(case)
    steps.shows(shown_by(form))
    context = {
        "case": case,
        "frame": frame_of(request),
        "notation": notation,
        "notations": list(NUMBERINGS.items()),
        "form": form,
        "drawn": finished_design(case) is not None,
        "draft": form.before.draft,
        "version": case.version,
        "in_hand": bool(form["in_hand"].value()),
        "tools": [(key, _(words)) for key, words in TOOLS],
        "tool": form["tool"].value() or "replaced",
        "row": [(tooth, form.label(tooth)) for tooth in teeth_of_arch(case.arch)],
        "trail": steps,
        "said": said,
        **live(
            case,
            form,
            notation,
            limits=usable(request.lab.rule_limits) if request.lab else {},
            now=request.now,
            standing=draft.standing if draft is not None else {},
        ),
    }
    findings = [row.finding for row in context["rules"]]
    return {
        **context,
        "marks": _marks(context["plan"]),
        "parts": part_links(form, findings, drawn=context["drawn"]),
    }


def _marks(plan: Design) -> dict[int, list[str]]:
    """Return what stands at each tooth, in words: first what the strip of teeth shows, then what
    it only says aloud."""
    rows: tuple[tuple[Iterable[int], str], ...] = (
        ([clasp.tooth for clasp in plan.clasps], _("clasp")),
        (plan.rests, _("rest")),
        (plan.stops, _("stop")),
        (plan.abutments, _("abutment")),
        (plan.primary, _("milk tooth")),
        (plan.dropped, _("left out")),
        (plan.extracted & plan.replaced, _("taken out")),
        (plan.extracted - plan.replaced, _("taken out, not replaced")),
        (plan.replaced - plan.extracted, _("replaced")),
        (plan.missing - plan.replaced - plan.dropped - plan.extracted, _("missing")),
        (plan.hollowed, _("hollowed")),
        (plan.joint_teeth, _("joint")),
        *(
            ([tooth for tooth, where in plan.blocked if where == side], _(words))
            for side, words in BLOCKED.items()
        ),
    )
    marks: dict[int, list[str]] = {}
    for teeth, words in rows:
        for tooth in teeth:
            marks.setdefault(tooth, []).append(words)
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
    status, unfinished = 422, False
    draft = "draft" in request.POST
    if form.is_valid() and not refuse_slips(form, replace(form.plan(), draft=draft)):
        try:
            messages.success(request, _store(request, case, form))
            return _onwards(request, case)
        except Refusal as refusal:
            status = 409 if isinstance(refusal, OtherBody) else 422
            unfinished = refusal.code == "rules"
            if not unfinished:
                known = refusal.field if refusal.field in form.fields else None
                form.add_error(known, for_reader(refusal.sentence, form.notation))
            case.refresh_from_db()
    context = _context(request, case, form) | {"refused": True}
    if not draft:
        say_undecided(context.get("in_question", []))
    if unfinished:
        # After the page was made of them: entries that the rules refuse can be read all the same.
        refuse_unfinished(form, [row.finding for row in context["rules"]])
    return render(request, "case/design.html", context, status=status)


def _onwards(request: LabRequest, case: Case) -> HttpResponse:
    """Go back to the survey that is in hand on the tablet, else to the case."""
    if request.visitor.door == "bench":
        survey = case.stages.filter(key="survey", state="running").first()
        if survey is not None:
            return SeeOther(reverse("cases:bench-stage", args=[survey.pk]))
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
    draft = "draft" in request.POST
    if plan != form.before or form.before.draft != draft:
        done = set_design(
            seal,
            case=case.pk,
            version=version,
            data=plan.to_json(),
            reason=data["reason"],
            draft=draft,
            asked_by=data["asked_by"] or "lab",
            **decisions(request),
        )
        version = int(done.result["version"])
        said.append(_stored_words(case, draft=draft, question=done.result["question"]))
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


def _stored_words(case: Case, *, draft: bool, question: int | None) -> str:
    if draft and finished_design(case) is not None:
        return _("The draft is kept. The work goes on by the finished design until this one is.")
    if draft:
        return _("The draft is kept. The survey can be passed once it is finished.")
    if question is not None:
        return _(
            "The design is stored. It alters the order: the practice is asked, and what it "
            "concerns waits."
        )
    return _("The design is stored. Stages and checks follow from it.")


def decisions(request: LabRequest) -> dict[str, Any]:
    """Return what was decided for each finished stage that the change puts in question."""
    sent = request.POST
    chosen = {
        name.removeprefix("becomes_"): sent[name] for name in sent if name.startswith("becomes_")
    }
    return {
        "again": [key for key, becomes in chosen.items() if becomes == "again"],
        "standing": {
            key: sent.get(f"why_{key}", "")
            for key, becomes in chosen.items()
            if becomes == "stands"
        },
    }


@page(may="work", methods=("POST",))
def preview(request: LabRequest, number: str) -> HttpResponse:
    """Redraw the arch and say what the entries would change; nothing is stored.

    A touched tooth, a step back or forth and another numbering give the whole form back, because
    its entries change.
    """
    case = the_case(request, number)
    entries, trail, said = _pressed(request, case)
    form = _form(request, case, entries)
    context = _context(request, case, form, trail, said)
    if not request.htmx:
        return render(request, "case/design.html", context)
    whole = request.htmx.target == "design-form"
    return render(
        request, f"case/_design_{'form' if whole else 'live'}.html", context | {"oob": True}
    )


def _pressed(request: LabRequest, case: Case) -> tuple[Any, Trail, str]:
    """Return the entries after what was pressed, the steps so far, and a sentence about it."""
    sent = request.POST
    trail = Trail.read(sent.get("trail", ""))
    trail.note(entries_of(sent))
    notation = written_in(request, sent)
    wanted = sent.get("show_in", "")
    if sent.get("step") in ("back", "forth"):
        return _stepped(sent, trail)
    if wanted in SYSTEMS and wanted != notation:
        choose(request, wanted)
        typed = renumbered(sent.dict(), notation, wanted, arch=case.arch)
        changed = _with(sent, typed | {"notation": wanted})

        def written(entries: Entries) -> Entries:
            one = {name: values[0] for name, values in entries.items() if len(values) == 1}
            anew = renumbered(one, notation, wanted, arch=case.arch)
            return entries | {name: [said] for name, said in anew.items()}

        trail.rewrite(written)
        return (
            changed,
            trail,
            _("Teeth are now written in %(name)s.") % {"name": NUMBERINGS[wanted]},
        )
    tooth = integer(sent.get("touch"))
    if tooth in teeth_of_arch(case.arch):
        tool = sent.get("tool") or "replaced"
        asked = _form(request, case, sent).asked_faces if tool.startswith(SURVEY) else ()
        typed, said = touched(
            sent.dict(), tool, tooth, arch=case.arch, notation=notation, asked=asked
        )
        changed = _with(sent, typed)
        trail.note(entries_of(changed))
        return changed, trail, said
    return sent, trail, ""


def _stepped(sent: Any, trail: Trail) -> tuple[Any, Trail, str]:
    back = sent.get("step") == "back"
    had = bool(trail.back if back else trail.forth)
    entries = trail.undo() if back else trail.redo()
    beside = {name: sent.getlist(name) for name in sent if name not in entries_of(sent)}
    changed = _with(sent, {})
    for name in list(changed):
        del changed[name]
    for name, values in {**beside, **entries}.items():
        changed.setlist(name, values)
    if not had:
        return changed, trail, _("There is no step to take.")
    return changed, trail, _("One step back.") if back else _("One step forth.")


def _with(sent: Any, entries: dict[str, Any]) -> Any:
    """Return a copy of what was sent with other entries."""
    changed = sent.copy()
    for name, value in entries.items():
        if value != sent.get(name):
            changed[name] = value
    return changed
