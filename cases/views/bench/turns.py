"""Turns that have a page of their own: send back, hold, skip, ask the practice."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop, ngettext

from cases.domain import questions
from cases.domain.route import reachable
from cases.forms import bench as forms
from cases.forms.expected import expected_day
from cases.models import CaseStage, Hold
from cases.selectors.bench_stage import StageView, stage_view
from cases.services.hold import ask_practice, hold_case, release_hold
from cases.services.progress import edges_of
from cases.services.record import Refusal
from cases.services.send_back import BEGUN, send_back
from cases.services.stage import skip_stage
from cases.views.bench.frame import (
    bench_context,
    say_refusal,
    stage_or_404,
    to_bench,
    to_stage,
)
from cases.views.form_page import posted, show_forms
from cases.views.notation import written_in
from cases.views.page import LabRequest, integer, page, send

BLANKS = {
    "tooth": gettext_noop("Tooth"),
    "place": gettext_noop("Which place"),
    "found": gettext_noop("What was found"),
    "gap": gettext_noop("How large a gap, in mm"),
    "room": gettext_noop("How much room there is, in mm"),
    "number": gettext_noop("How many"),
}
"""What a blank in a question asks for."""


def _version(request: LabRequest) -> int:
    return integer(request.POST.get("version")) or 0


def _turn_page(
    request: LabRequest, name: str, stage: CaseStage, form: Any = None, **context: Any
) -> HttpResponse:
    return show_forms(
        request,
        f"bench/{name}.html",
        form,
        **bench_context(request),
        stage=stage,
        case=stage.case,
        **context,
    )


def targets_of(view: StageView) -> list[CaseStage]:
    """Return the begun stages from which this one follows, the nearest first; itself only when
    it is over and done with."""
    edges = edges_of(view.case)
    found = [
        one
        for one in reversed(view.stages)
        if one.state in BEGUN and view.stage.key in reachable(edges, one.key)
    ]
    over = view.stage.state in {"done", "skipped", "countersign"}
    return found if over else [one for one in found if one.pk != view.stage.pk]


def _reopens(view: StageView, key: str) -> list[CaseStage]:
    """Return the begun stages that would re-open besides the target."""
    after = reachable(edges_of(view.case), key)
    return [one for one in view.stages if one.key in after and one.state in BEGUN]


@page(may="work", methods=("GET", "POST"))
def back(request: LabRequest, pk: int) -> HttpResponse:
    """Send a case back from a stage; shows which stages would re-open."""
    stage = stage_or_404(request, pk)
    view = stage_view(stage, request.now)
    targets = targets_of(view)
    chosen = request.POST.get("to") or request.GET.get("to") or ""
    if chosen not in {one.key for one in targets} and targets:
        chosen = targets[0].key
    form = forms.SendBackForm(
        request.POST or None, auto_id="back-%s", targets=targets, initial={"to": chosen}
    )
    standing = {
        name.removeprefix("standing-"): text
        for name, text in request.POST.items()
        if name.startswith("standing-")
    }

    def go(data: dict[str, Any]) -> Any:
        return send(
            request, send_back, stage=pk, version=_version(request), standing=standing, **data
        )

    if request.method == "POST":
        done = posted(form, go)
        if done is not None:
            _say_reopened(request, view, done.result["reopened"])
            target = next(one for one in view.stages if one.key == form.cleaned_data["to"])
            return to_stage(target)
    reopens = _reopens(view, chosen) if chosen else []
    return _turn_page(
        request,
        "back",
        stage,
        form,
        targets=targets,
        chosen=chosen,
        reopens=[(one, standing.get(one.key, "")) for one in reopens],
        sentence=view_sentence(view, request),
    )


def view_sentence(view: StageView, request: LabRequest) -> str:
    """Return the sentence of the failed check that sends the case back, where one was named."""
    pk = integer(request.GET.get("check"))
    return next((item.sentence for item in view.checks if item.pk == pk), "")


def _say_reopened(request: LabRequest, view: StageView, keys: list[str]) -> None:
    names = [_(one.name) for one in view.stages if one.key in keys]
    words = ngettext(
        "%(n)s stage is open again: %(names)s.", "%(n)s stages are open again: %(names)s.",
        len(names),
    )  # fmt: skip
    messages.success(request, words % {"n": len(names), "names": ", ".join(names)})


@page(may="hold", methods=("GET", "POST"))
def hold(request: LabRequest, pk: int) -> HttpResponse:
    """Stop the case, or this stage, with whom it waits for."""
    stage = stage_or_404(request, pk)
    form = forms.HoldForm(
        request.POST or None,
        auto_id="hold-%s",
        stage=stage,
        initial={"scope": "case"},
    )

    def go(data: dict[str, Any]) -> Any:
        return send(
            request,
            hold_case,
            case=stage.case_id,
            version=_version(request),
            reason=data["reason"],
            waits_for=data["waits_for"],
            words=data["words"] or _(form.listed.get(data["reason"]).words),
            stages=[stage.key] if data["scope"] == "stage" else [],
            expected_on=expected_day(data["expected_on"]),
        )

    if request.method == "POST" and posted(form, go) is not None:
        messages.success(request, _("%(number)s is on hold.") % {"number": stage.case.number})
        return to_bench()
    return _turn_page(request, "hold", stage, form)


@page(may="hold", methods=("POST",))
def release(request: LabRequest, pk: int) -> HttpResponse:
    """Let a held case go on."""
    stage = stage_or_404(request, pk)
    row = Hold.objects.filter(
        pk=integer(request.POST.get("hold")) or 0, case_id=stage.case_id
    ).first()
    if row is None:
        raise Http404
    try:
        send(request, release_hold, hold=row.pk)
    except Refusal as refusal:
        say_refusal(request, refusal)
    else:
        messages.success(request, _("The hold is over. The work may go on."))
    return to_stage(stage)


@page(may="work", methods=("GET", "POST"))
def skip(request: LabRequest, pk: int) -> HttpResponse:
    """Leave a stage out, with the reason that stands on the case."""
    stage = stage_or_404(request, pk)
    form = forms.SkipForm(request.POST or None, auto_id="skip-%s")

    def go(data: dict[str, Any]) -> Any:
        words = data["words"] or _(form.listed.get(data["reason"]).words)
        return send(
            request,
            skip_stage,
            stage=pk,
            version=_version(request),
            reason=data["reason"],
            words=words,
        )

    if request.method == "POST" and posted(form, go) is not None:
        said = {"stage": _(stage.name), "number": stage.case.number}
        messages.success(request, _("%(stage)s of %(number)s is skipped.") % said)
        return to_bench()
    return _turn_page(request, "skip", stage, form)


@page(may="hold", methods=("GET", "POST"))
def ask(request: LabRequest, pk: int) -> HttpResponse:
    """Ask the practice: first the question of the list, then what it is about."""
    stage = stage_or_404(request, pk)
    number = integer(request.GET.get("number"))
    asked = questions.BY_NUMBER.get(number) if number else None
    if number is None or (number and asked is None):
        return _turn_page(request, "ask", stage, questions=listed_for(stage))
    own = asked is None
    form = (
        forms.OwnWordsForm(request.POST or None, auto_id="ask-%s")
        if asked is None
        else forms.AskForm(
            request.POST if request.method == "POST" else None,
            auto_id="ask-%s",
            asked=asked,
            words={name: _(words) for name, words in BLANKS.items()},
            notation=written_in(request, request.POST),
        )
    )

    def go(data: dict[str, Any]) -> Any:
        body = {"words": data["words"]} if own else {"subject": data}
        return send(request, ask_practice, case=stage.case_id, number=number, stage=pk, **body)

    if request.method == "POST" and posted(form, go) is not None:
        messages.success(
            request, _("The practice is asked. What does not need the answer goes on.")
        )
        return to_stage(stage)
    view = stage_view(stage, request.now)
    stops = {*(asked.stops if asked else ()), *([stage.key] if stops_here(asked) else [])}
    return _turn_page(
        request,
        "ask_one",
        stage,
        form,
        asked=asked,
        shown=shown(asked) if asked else "",
        number=number,
        answers=questions.answers_to(asked) if asked else (),
        stops=[one for one in view.stages if one.key in stops],
    )


def stops_here(asked: questions.Question | None) -> bool:
    """Tell whether a question stops the stage at which it is asked."""
    return asked is not None and asked.stops_stage_asked_at


def shown(asked: questions.Question) -> str:
    """Return the words of a question with its blanks open."""
    return _(asked.words).format(**dict.fromkeys(asked.placeholders, "…"))


def listed_for(stage: CaseStage) -> list[tuple[str, list[tuple[int, str]]]]:
    """Return the questions as (number, words), those that stop this stage first."""
    here = [one for one in questions.QUESTIONS if stage.key in one.stops]
    others = [one for one in questions.QUESTIONS if one not in here]
    return [
        (words, [(one.number, shown(one)) for one in listed])
        for words, listed in ((_("About this stage"), here), (_("Others"), others))
    ]
