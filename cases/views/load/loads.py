"""Loads of the baths: the list, a new one, and one load from the first flask to the last."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import asdict, dataclass
from datetime import datetime, timedelta
from typing import Any

from django.contrib import messages
from django.core.paginator import Paginator
from django.forms import BaseForm
from django.http import Http404, HttpResponse
from django.urls import reverse
from django.utils.dateparse import parse_datetime
from django.utils.timezone import is_naive, localtime, make_aware
from django.utils.translation import gettext as _

from cases.domain.cautions import DEFER, for_stage
from cases.domain.cure.limit_words import of_estimate
from cases.domain.cure.overheating import ESTIMATE_ONLY, USUAL
from cases.domain.cure.settings import estimate_limits, usable, usual_filling
from cases.domain.cure.timing import LONGEST_DELAY, course_of
from cases.forms.cut import WALL_CLOCK
from cases.forms.load import FlaskForm, LoadNewForm, StartForm
from cases.models import Load
from cases.selectors.cure_settings import is_in_use, programs_in_use
from cases.selectors.loads import (
    as_run,
    attended,
    baths_in_use,
    heat_by,
    loads,
    nearest_to_hands,
    one_load,
    resting,
    start_with_hands,
)
from cases.selectors.resin import resins_in_use
from cases.services.load import (
    CURE,
    add_flask,
    cancel_load,
    estimate,
    make_load,
    remove_flask,
)
from cases.services.load_run import start_load, take_out
from cases.services.read_code import read_code
from cases.services.record import Refusal
from cases.views.form_page import posted, section, show_forms
from cases.views.load.heat import live_of
from cases.views.load.remedies import remedies_view
from cases.views.page import LabRequest, SeeOther, integer, page, send

PER_PAGE = 20


def _to(number: int) -> SeeOther:
    return SeeOther(reverse("cases:load", args=[number]))


@page(may="see-cases")
def all_loads(request: LabRequest) -> HttpResponse:
    """Show the loads, newest first."""
    return _list(request, _new_form(request) if request.visitor.may("work") else None)


@page(may="work", methods=("POST",))
def new_load(request: LabRequest) -> HttpResponse:
    """Begin to gather flasks for a bath."""
    form = _new_form(request)
    made = posted(form, lambda data: send(request, make_load, **data))
    if made is not None:
        return _to(made.result["number"])
    return _list(request, form)


def _new_form(request: LabRequest) -> LoadNewForm:
    # The bench leads here with the bath that the plan has next.
    bath = {"bath": integer(request.GET.get("bath"))}
    return LoadNewForm(
        request.POST or None, initial=bath, baths=baths_in_use(), programs=programs_in_use()
    )


def _list(request: LabRequest, form: LoadNewForm | None) -> HttpResponse:
    return show_forms(
        request,
        "load/loads.html",
        form,
        rows=Paginator(loads(), PER_PAGE).get_page(request.GET.get("page")),
        at_bench=request.visitor.door == "bench",
        may_decide=request.visitor.may("countersign"),
    )


@page(may="see-cases")
def load(request: LabRequest, number: int) -> HttpResponse:
    """Show one load."""
    row = one_load(number)
    if row is None:
        raise Http404
    flask = section(request, "flask", FlaskForm, **_asks(row))
    chosen = _chosen(request) if row.state == "gathering" else None
    told = {"starts_at": localtime(chosen).strftime(WALL_CLOCK)} if chosen else {}
    start = section(request, "start", StartForm, initial=told)
    return _show(request, row, flask, start, chosen=chosen)


def _chosen(request: LabRequest) -> datetime | None:
    """Return the start that somebody wants to look at; None for now."""
    try:
        found = parse_datetime(request.GET.get("starts_at", ""))
    except ValueError:
        return None
    if found is None:
        return None
    found = make_aware(found) if is_naive(found) else found
    return found if request.now < found <= request.now + LONGEST_DELAY else None


@page(may="work", methods=("POST",))
def act(request: LabRequest, number: int) -> HttpResponse:
    """Do with a load what the form says whose name stands in ``what``."""
    row = one_load(number)
    if row is None:
        raise Http404
    flask = _flask_form(request, row)
    start = section(request, "start", StartForm)
    form = {"flask": flask, "start": start}.get(request.POST.get("what", ""))
    run = _act(request, row, form)
    if run is None:
        messages.error(request, _("The page was out of date. Look at it again, then choose."))
    if run is None or run():
        return _to(number)
    return _show(request, row, flask, start, form)


def _asks(row: Load) -> dict[str, Any]:
    """Return what decides which questions the form of a flask asks."""
    return {"resins": resins_in_use(), "most_mm": row.program.document.get("largest_mm")}


def _flask_form(request: LabRequest, row: Load) -> FlaskForm:
    """Return the form of a flask, with the number from a photograph where nobody typed one."""
    upload = request.FILES.get("photo")
    if upload is None or request.POST.get("label", "").strip():
        return section(request, "flask", FlaskForm, **_asks(row))
    code, wrong = "", ""
    try:
        code = read_code(upload)
    except Refusal as refusal:
        wrong = refusal.sentence
    told = {**request.POST.dict(), "label": code}
    form = FlaskForm(told, auto_id="flask-%s", **_asks(row))
    if wrong:
        form.fields["label"].error_messages["required"] = wrong
    return form


def _act(request: LabRequest, row: Load, form: BaseForm | None) -> Callable[[], bool] | None:
    """Return what a posted form does; the call tells whether it was done."""
    known = {"load": row.number, "version": integer(request.POST.get("version")) or 0}
    if form is not None:
        verb = add_flask if isinstance(form, FlaskForm) else start_load
        return lambda: posted(form, lambda data: send(request, verb, **data, **known)) is not None
    plain = {"estimate": estimate, "cancel": cancel_load, "take-out": take_out}
    what = request.POST.get("what", "")
    if what == "remove":
        known["flask"] = integer(request.POST.get("flask")) or 0
        return lambda: _said(request, lambda: send(request, remove_flask, **known))
    if what in plain:
        return lambda: _said(request, lambda: send(request, plain[what], **known))
    return None


def _said(request: LabRequest, run: Callable[[], object]) -> bool:
    """Run a form without entries; a refusal is said on top of the page."""
    try:
        run()
    except Refusal as refusal:
        messages.error(request, refusal.sentence)
    return True


def _show(
    request: LabRequest,
    row: Load,
    flask: BaseForm,
    start: BaseForm,
    refused: BaseForm | None = None,
    chosen: datetime | None = None,
) -> HttpResponse:
    flasks = row.flasks.all()
    rests = resting(row, request.now) if row.state == "gathering" else {}
    thick = [one.thickest_mm for one in flasks if one.thickest_mm]
    return show_forms(
        request,
        "load/load.html",
        refused,
        load=row,
        flasks=[(one, rests.get(one.stage_id)) for one in flasks],
        rests=max(rests.values(), default=None),
        heat_by=heat_by(row) if row.state == "gathering" else None,
        thickest=max(thick, default=None),
        flask_form=flask,
        start_form=start,
        refused=refused,
        steps=_steps(request, row, chosen or request.now),
        chosen=chosen,
        **_hands(request, row, chosen),
        live=live_of(row, request.now),
        estimate_only=_(ESTIMATE_ONLY),
        **_limits(request, row),
        old_program=row.state == "gathering" and not is_in_use(row.program),
        remedies=remedies_view(row),
        unmeasured=[one for one in flasks if one.thickest_mm is None],
        may_work=request.visitor.may("work"),
        may_decide=request.visitor.may("countersign"),
        over=row.ends_at is not None and request.now >= row.ends_at,
        at_bench=request.visitor.door == "bench",
        cautions=for_stage(CURE) if row.state in {"gathering", "running"} else (),
        cautions_defer=DEFER,
    )


def _limits(request: LabRequest, row: Load) -> dict[str, Any]:
    """Return by which limits the load was estimated, and whether the lab has others by now."""
    kept = row.sound.get("limits")
    if not kept or request.lab is None:
        return {}
    changed = usable(request.lab.cure_limits)
    was = kept, row.sound.get("filling", asdict(USUAL))["gypsum_mm"]
    now = asdict(estimate_limits(changed)), usual_filling(changed).gypsum_mm
    return {
        "estimate_limits": of_estimate(kept),
        "other_limits": row.state == "gathering" and now != was,
    }


@dataclass(frozen=True)
class Nearest:
    """The start that leaves the least without hands; ``at`` is None where nobody is ever there.

    ``missed`` are the steps for which nobody is there, each with its instant.
    """

    at: datetime | None = None
    now: bool = False
    missed: tuple[tuple[str, datetime], ...] = ()


def _hands(request: LabRequest, row: Load, chosen: datetime | None) -> dict[str, Any]:
    """Return a start that has somebody there all along, where the one shown has not.

    ``better`` is such a start; where there is none within a day ``nearest`` is what comes closest.
    """
    if row.state != "gathering":
        return {}
    found = start_with_hands(row, request.now)
    if found is not None:
        return {"better": found if found > (chosen or request.now) else None}
    closest = nearest_to_hands(row, request.now)
    if closest is None:
        return {"nearest": Nearest()}
    at, missed = closest
    if not missed:
        return {"better": at if at > (chosen or request.now) else None}
    told = tuple((step.words, at + timedelta(minutes=step.minute)) for step in missed)
    return {"nearest": Nearest(at, at <= request.now, told)}


def _steps(request: LabRequest, row: Load, begins: datetime) -> list[dict[str, Any]]:
    """Return the steps of the program with their instants and who is there then.

    Parameters
    ----------
    begins
        When it would start, of a load that has not.
    """
    program, left = as_run(row), None
    if row.state == "over" and row.open_from is not None:
        left = row.open_from - timedelta(minutes=program.cooling_minutes)
    started = row.starts_at is not None
    found = course_of(program, row.starts_at or begins, request.now, started=started, left=left)
    return [
        {
            "words": due.step.words[:1].upper() + due.step.words[1:],
            "at": due.at,
            "attended": there,
            "past": due.done,
            "due": started and not due.done and due.at <= request.now,
        }
        for due, there in zip(found, attended([due.at for due in found]), strict=True)
    ]
