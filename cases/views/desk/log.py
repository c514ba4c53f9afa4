"""Log what came in: one page for prescription, box and day, and the page after it."""

from __future__ import annotations

import uuid
from typing import Any

from django.http import Http404, HttpResponse, QueryDict
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _

from cases.forms.intake import NEW, OTHER_DAY, Desk, IntakeForm
from cases.forms.intake_order import add_problems, field_of, read_order, rows_of_the_box
from cases.models import Practice
from cases.selectors.lookup import dentist_choices, find_practice, logged_with, practice_choices
from cases.selectors.visible import find_case
from cases.services.intake import log_intake
from cases.services.log_case import order_problems
from cases.services.record import OtherBody, Refusal
from cases.views.desk.panel import cut_off_of, panel
from cases.views.desk.papers import Paper, strip_rows, take_papers
from cases.views.notation import written_in
from cases.views.page import LabRequest, SeeOther, integer, page, send, show

PREFILLED = ("kind", "practice", "patient_ref", "arch", "remake_of")
"""Entries that a link to this page may bring along."""


def _desk(request: LabRequest, practice: Practice | None) -> Desk:
    here, elsewhere = dentist_choices(practice)
    return Desk(practice_choices(), here, elsewhere, written_in(request, request.POST))


def _empty(request: LabRequest) -> dict[str, Any]:
    local = timezone.localtime(request.now)
    today = {
        f"{name}_on": local.date()
        for name in ("received", "working_taken", "second_taken", "opposing_taken", "disinfected")
    }
    brought = {name: request.GET[name] for name in PREFILLED if name in request.GET}
    return {**today, "received_time": local.time(), **brought}


def _with_usual(data: QueryDict, practice: Practice | None) -> QueryDict:
    """Return the entries with the practice's usual orders chosen where nothing was, for all to see.

    ``usual_of`` says for which practice they were shown: they are put in once for each practice,
    so that somebody can still say that this prescription is silent.
    """
    if practice is None or data.get("usual_of") == str(practice.pk):
        return data
    before = find_practice(integer(data.get("usual_of")))
    data = data.copy()
    for name in ("borders", "polish"):
        usual = getattr(practice, f"usual_{name}")
        left = getattr(before, f"usual_{name}") if before else ""
        if data.get(name, "") in ("", left):
            data[name] = usual
    data["usual_of"] = str(practice.pk)
    return data


def bound(request: LabRequest, *, looking: bool) -> tuple[IntakeForm, Practice | None]:
    """Return the form as sent, read. Usual orders come in only where somebody sees them next."""
    practice = find_practice(integer(request.POST.get("practice")))
    form = IntakeForm(
        _with_usual(request.POST, practice) if looking else request.POST,
        desk=_desk(request, practice),
        today=timezone.localdate(request.now),
    )
    form.is_valid()
    return form, practice


def _show(
    request: LabRequest,
    form: IntakeForm,
    practice: Practice | None,
    papers: list[Paper],
    **more: Any,
) -> dict[str, Any]:
    beside = panel(form, practice, request.now) if form.is_bound else {}
    return {
        "form": form,
        "box": rows_of_the_box(form),
        "papers": papers,
        "strips": strip_rows(request),
        "usual_of": practice.pk if practice and form.is_bound else "",
        **beside,
        **more,
    }


@page(may="log-cases", methods=("GET", "POST"))
def log(request: LabRequest) -> HttpResponse:
    """Show the intake, say how it stands (``look``), or log it."""
    if request.method == "GET":
        practice = find_practice(integer(request.GET.get("practice")))
        form = IntakeForm(
            initial=_empty(request),
            desk=_desk(request, practice),
            today=timezone.localdate(request.now),
        )
        return show(request, "desk/log.html", _show(request, form, practice, []))
    papers, refused = take_papers(request)
    form, practice = bound(request, looking="look" in request.POST)
    if "look" in request.POST:
        context = _show(request, form, practice, papers, paper_errors=refused)
        return show(request, "desk/log.html", context)
    for sentence in refused:
        form.add_error(None, sentence)
    refusal = _log(request, form, papers)
    if isinstance(refusal, HttpResponse):
        return refusal
    if refusal is not None:
        name = field_of(refusal.field, form)
        form.add_error(name or None, refusal.sentence)
    status = 409 if isinstance(refusal, OtherBody) else 422
    context = _show(request, form, practice, papers, paper_errors=refused)
    response = show(request, "desk/log.html", context)
    response.status_code = status
    return response


def _log(
    request: LabRequest, form: IntakeForm, papers: list[Paper]
) -> HttpResponse | Refusal | None:
    """Log the order; None when a slip stands beside its field already."""
    order = read_order(form)
    if form.cleaned_data.get("arch"):
        add_problems(form, order_problems(order, now=request.now))
    if form.errors:
        return None
    try:
        outcome = send(request, log_intake, **_body(request, form, papers))
    except Refusal as refusal:
        return refusal
    number = outcome.result["numbers"][0]
    return SeeOther(reverse("cases:logged", args=[number]))


def _body(request: LabRequest, form: IntakeForm, papers: list[Paper]) -> dict[str, Any]:
    data = form.cleaned_data
    order = read_order(form)
    body: dict[str, Any] = {
        "practice": integer(data["practice"]),
        "dentist": integer(data["dentist"]),
        "patient_ref": data["patient_ref"],
        "order": order.to_json(),
        "papers": [paper.stored for paper in papers],
        "same_patient_seen": data["same_patient_seen"],
        **_ship(request, form),
    }
    if data["practice"] == NEW:
        body["new_practice"] = {
            "name": data["new_practice_name"],
            "code": data["new_practice_code"],
            "phone": data["new_practice_phone"],
            "ship_weekdays": [int(day) for day in data["new_practice_ship_weekdays"]],
            "transit_days": data["new_practice_transit_days"] or 0,
            "cut_off": cut_off_of(data).isoformat(),
        }
    if data["dentist"] == NEW:
        body["new_dentist"] = {
            "name": data["new_dentist_name"],
            "licence": data["new_dentist_licence"],
        }
    if order.kind == "remake":
        body |= {
            "remake_of": _first_case(request, data["remake_of"]),
            "remake_reason": data["remake_reason"],
            "remake_origin": data["remake_origin"],
        }
    return body


def _first_case(request: LabRequest, typed: str) -> int | None:
    """Return the case that is made again.

    Raises
    ------
    Refusal
        The number is mistyped; the sentence says how.
    """
    if not typed.strip() or request.visitor.person is None:
        return None
    try:
        found = find_case(request.visitor.person, typed, door=request.visitor.door)
    except ValueError as error:
        raise Refusal("bad-number", str(error), field="remake_of") from error
    if found is None:
        raise Refusal(
            "no-case", _("There is no case with this number. Look it up."), field="remake_of"
        )
    return found.pk


def _ship(request: LabRequest, form: IntakeForm) -> dict[str, Any]:
    """Return the day the desk chose: none (the proposed one), the first that fits, or its own."""
    chosen = form.cleaned_data["ship"]
    if chosen == OTHER_DAY:
        return {
            "ship_on": form.cleaned_data["ship_on"].isoformat(),
            "ship_reason": form.cleaned_data["ship_reason"],
        }
    if not chosen:
        return {}
    return {"ship_on": chosen, "ship_reason": _("First day that fits")}


@page(may="log-cases", methods=("POST",))
def log_look(request: LabRequest) -> HttpResponse:
    """Say how the intake stands: the parts of the page that follow from what is typed."""
    form, practice = bound(request, looking=True)
    shown = str(practice.pk) if practice else ""
    changed = request.POST.get("usual_of", "") != shown
    context = _show(request, form, practice, [], live=True, practice_changed=changed)
    return render(request, "desk/log_look.html", context)


@page(may="see-cases")
def logged(request: LabRequest, number: str) -> HttpResponse:
    """Show what was logged: numbers, what the practice is asked, and the papers to print."""
    person = request.visitor.person
    try:
        case = find_case(person, number, door=request.visitor.door) if person else None
    except ValueError as error:
        raise Http404 from error
    if case is None:
        raise Http404
    rows = [
        {"case": row, "ticket_id": uuid.uuid4(), "label_id": uuid.uuid4()}
        for row in logged_with(case)
    ]
    return show(request, "desk/logged.html", {"rows": rows, "cases": [r["case"] for r in rows]})
