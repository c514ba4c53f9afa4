"""Small pages about the work: notes, photographs, days, people, sending back, closing."""

from __future__ import annotations

import uuid
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404
from django.utils.translation import gettext as _

from cases.domain.reasons import SKIP
from cases.domain.route import reachable
from cases.forms import case_actions as forms
from cases.models import CaseStage, Person
from cases.services.assign import assign_stage
from cases.services.close_case import cancel_case, write_note
from cases.services.files import attach_file, take_in
from cases.services.progress import edges_of
from cases.services.promise import promise_day
from cases.services.record import Envelope, Refusal
from cases.services.send_back import BEGUN, send_back
from cases.services.stage import skip_stage, stage_came_back
from cases.views.case.door import Action, act, see_other, the_case
from cases.views.page import LabRequest, envelope, integer, page, send


def version_of(request: LabRequest, present: int) -> int:
    """Return the version that the form was made for: somebody else may have been quicker."""
    sent = integer(request.POST.get("version"))
    return present if sent is None else sent


@page(may="note", methods=("GET", "POST"))
def note(request: LabRequest, number: str) -> HttpResponse:
    """Write a note; one from the telephone says who rang."""
    case = the_case(request, number)
    people = Person.objects.filter(active=True).exclude(is_technician=False, is_desk=False,
                                                        is_manager=False)  # fmt: skip
    form = forms.NoteForm(request.POST or None, people=people)

    def run(data: dict[str, Any]) -> object:
        to = data["to_person"]
        return send(
            request,
            write_note,
            case=case.pk,
            text=data["text"],
            from_whom=data["from_whom"],
            telephone=bool(data["from_whom"]),
            to_person=to.pk if to else None,
            visible_to_practice=data["visible_to_practice"],
        )

    action = Action(_("Write a note."), _("Keep the note"), _("The note stands on the case."))
    return act(request, case, form, action, run, anchor="notes")


@page(may="note", methods=("GET", "POST"))
def photograph(request: LabRequest, number: str) -> HttpResponse:
    """Add a photograph and say whether the practice may see it."""
    case = the_case(request, number)
    form = forms.PhotoForm(request.POST or None, request.FILES or None)
    if request.method == "POST":
        form = forms.PhotoForm(request.POST, request.FILES)

    def run(data: dict[str, Any]) -> object:
        first = envelope(request)
        try:
            stored = take_in(data["photo"])
        except Refusal as refusal:
            raise Refusal(refusal.code, refusal.sentence, field="photo") from refusal
        for place, one in enumerate(stored):
            # A PDF of several pages is several pictures, each under an id of its own.
            identity = (
                first.submission_id if place == 0 else uuid.uuid5(first.submission_id, str(place))
            )
            sealed = Envelope(
                first.door, first.now, first.person_id, first.tablet_id, first.happened_at, identity
            )
            attach_file(
                sealed,
                case=case.pk,
                kind="photo",
                stored=vars(one),
                words=data["words"],
                visible_to_practice=data["visible_to_practice"],
            )
        return stored

    action = Action(
        _("Add a photograph."), _("Add it"), _("The photograph stands on the case."),
        _("No face and no name may be on it. Cover them before you take it."),
    )  # fmt: skip
    return act(request, case, form, action, run, anchor="photographs", multipart=True)


@page(may="log-cases", methods=("GET", "POST"))
def promise(request: LabRequest, number: str) -> HttpResponse:
    """Promise the day on which it leaves."""
    case = the_case(request, number)
    # A page that knows why the day moves, and to which, says so in its link.
    told = {"ship_on": request.GET.get("ship_on", ""), "reason": request.GET.get("reason", "")}
    known = {"ship_on": case.promised_on, **{name: text for name, text in told.items() if text}}
    moves = case.promised_on is not None
    form = forms.PromiseForm(request.POST or None, initial=known, moves=moves)

    def run(data: dict[str, Any]) -> object:
        return send(
            request,
            promise_day,
            case=case.pk,
            version=version_of(request, case.version),
            ship_on=data["ship_on"].isoformat(),
            reason=data.get("reason", ""),
        )

    action = Action(
        _("Promise the day on which it leaves."),
        _("Promise this day"),
        _("The day is promised."),
        _("Every promise stays on the case; a later one says why the day moves."),
    )
    return act(request, case, form, action, run, anchor="days", version=case.version)


@page(may="assign", methods=("GET", "POST"))
def assign(request: LabRequest, number: str, pk: int) -> HttpResponse:
    """Give a stage to a person, or to whoever has time."""
    case = the_case(request, number)
    stage = get_object_or_404(CaseStage, pk=pk, case=case)
    people = Person.objects.filter(active=True, is_technician=True)
    if stage.skill:
        people = people.filter(skills__skill__key=stage.skill)
    form = forms.AssignForm(
        request.POST or None, people=people, initial={"person": stage.assignee_id}
    )

    def run(data: dict[str, Any]) -> object:
        person = data["person"]
        return send(
            request,
            assign_stage,
            stage=stage.pk,
            version=version_of(request, stage.version),
            person=person.pk if person else None,
        )

    action = Action(
        _("Who does “%(stage)s”?") % {"stage": stage.name},
        _("Give it"),
        _("The work is given."),
        _("Only people with the skill for it are offered."),
    )
    return act(request, case, form, action, run, anchor="now", version=stage.version)


@page(may="skip", methods=("GET", "POST"))
def skip(request: LabRequest, number: str, pk: int) -> HttpResponse:
    """Leave a stage out, with the reason that stands on the case."""
    case = the_case(request, number)
    stage = get_object_or_404(CaseStage, pk=pk, case=case)
    form = forms.SkipForm(request.POST or None)

    def run(data: dict[str, Any]) -> object:
        return send(
            request,
            skip_stage,
            stage=stage.pk,
            version=version_of(request, stage.version),
            reason=data["reason"],
            words=data["words"] or _(SKIP.get(data["reason"]).words),
        )

    action = Action(
        _("Leave “%(stage)s” out.") % {"stage": stage.name},
        _("Skip it"),
        _("The stage is skipped. The reason stands on the case."),
        _("What comes after it no longer waits for it. Its checks are not asked."),
    )
    return act(request, case, form, action, run, anchor="now", version=stage.version)


@page(may="close-cases", methods=("GET", "POST"))
def cancel(request: LabRequest, number: str) -> HttpResponse:
    """Close a case that will not be finished."""
    case = the_case(request, number)
    form = forms.CancelForm(request.POST or None)

    def run(data: dict[str, Any]) -> object:
        version = version_of(request, case.version)
        return send(request, cancel_case, case=case.pk, version=version, reason=data["reason"])

    action = Action(
        _("Close the case: it will not be finished."),
        _("Close the case"),
        _("The case is closed."),
        _("What was done stays on record. Flasks, articulators and clamps become free."),
    )
    return act(request, case, form, action, run, version=case.version)


@page(may="see-cases", methods=("GET", "POST"))
def back(request: LabRequest, number: str) -> HttpResponse:
    """Send the case back to an earlier stage."""
    visitor = request.visitor
    if not (visitor.may("assign") or visitor.may("work")):
        raise Http404
    case = the_case(request, number)
    stages = list(case.stages.exclude(state="dropped").order_by("position", "pk"))
    begun = [stage for stage in stages if stage.state in BEGUN]
    # Any stage that changed meanwhile changes what goes back.
    stamp = sum(stage.version for stage in stages)
    form = forms.SendBackForm(request.POST or None, begun=begun)

    def run(data: dict[str, Any]) -> object:
        if version_of(request, stamp) != stamp:
            raise Refusal(
                "case-changed",
                _("Somebody worked on it meanwhile. Look at what is new, then send it back."),
            )
        after = reachable(edges_of(case), data["to"])
        last = [stage for stage in begun if stage.key in after][-1]
        return send(
            request,
            send_back,
            stage=last.pk,
            version=last.version,
            to=data["to"],
            reason=data["reason"],
            more_reasons=[one for one in data["more_reasons"] if one != data["reason"]],
            words=data["words"],
            standing=dict.fromkeys(data["standing"], data["standing_why"]),
        )

    action = Action(
        _("Send it back to an earlier stage."),
        _("Send it back"),
        _("It is sent back. What follows is done again; earlier work stays on record."),
    )
    return act(request, case, form, action, run, anchor="now", version=stamp)


@page(may="see-cases", methods=("POST",))
def came_back(request: LabRequest, number: str, pk: int) -> HttpResponse:
    """Note that a piece which was at the practice is here again."""
    case = the_case(request, number)
    stage = get_object_or_404(CaseStage, pk=pk, case=case)
    try:
        send(
            request,
            stage_came_back,
            stage=stage.pk,
            version=version_of(request, stage.version),
        )
    except Refusal as refusal:
        from cases.views.case.page import show_case

        return show_case(request, case, refusal=refusal)
    messages.success(request, _("It is back. What comes after it can begin."))
    return see_other(case, anchor="now")
