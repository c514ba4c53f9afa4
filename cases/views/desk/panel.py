"""What stands beside the intake while it is typed: what is missing, the clock, the day."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, time
from typing import Any

from django.utils.translation import gettext as _

from cases.domain.calendar import NeverOpen
from cases.domain.design import Design as Plan
from cases.domain.design_rules import ASSUMPTION_WORDS
from cases.domain.impression import (
    PourState,
    material,
    pour_deadline,
    pour_limit_minutes,
    pour_state,
)
from cases.domain.order import OrderForm, Problem
from cases.domain.order_choices import BORDERS, EXTRACTION_DEPTHS, POLISH, words
from cases.domain.promise import Proposal
from cases.domain.questions import BY_NUMBER, write_out
from cases.domain.route import Route
from cases.domain.teeth import from_fdi
from cases.forms.intake import EACH, NEW, NOT_SAID, IntakeForm
from cases.forms.intake_box import SLOTS, read_items
from cases.forms.intake_order import add_problems, field_of, read_order
from cases.models import Case, Practice
from cases.services.log_case import (
    arches_of,
    order_problems,
    planned,
    route_for,
    same_patient,
)
from cases.services.practices import DEFAULT_CUT_OFF
from cases.services.promise import proposal
from cases.services.record import Refusal

DAYS = frozenset({"appointment_on", "appointment_time", "needed_on", "kind"})
"""Entries that must be right before a day can be proposed."""


@dataclass(frozen=True)
class Missing:
    """One thing that is not there: the fact, what is asked (if anything), where to enter it."""

    sentence: str
    question: str
    anchor: str


@dataclass(frozen=True)
class PourClock:
    """How long one impression of the box still keeps its shape."""

    words: str
    state: PourState
    due: datetime | None


def practice_of(form: IntakeForm, chosen: Practice | None) -> Practice | None:
    """Return the practice as entered: the chosen one, or a new one that is not stored yet."""
    data = form.cleaned_data
    if data.get("practice") != NEW:
        return chosen
    return Practice(
        name=data.get("new_practice_name", ""),
        ship_weekdays=[int(day) for day in data.get("new_practice_ship_weekdays", [])],
        transit_days=data.get("new_practice_transit_days") or 0,
        cut_off=cut_off_of(data),
    )


def cut_off_of(data: dict[str, Any]) -> time:
    """Return when the van leaves for a new practice: as entered, else at the usual time."""
    return data.get("new_practice_cut_off") or time.fromisoformat(DEFAULT_CUT_OFF)


def routes_of(order: OrderForm) -> list[Route]:
    """Return the route of each arch of an order; none while it says too little."""
    try:
        return [route_for(order, arch) for arch in arches_of(order)]
    except (Refusal, ValueError):
        return []


def propose_day(order: OrderForm, practice: Practice | None, now: datetime) -> Proposal | None:
    """Return the day to promise; None while practice or route are not known."""
    routes = routes_of(order)
    if practice is None or not practice.ship_weekdays or not routes:
        return None
    try:
        return proposal(
            max(routes, key=lambda route: route.minutes),
            practice,
            now=now,
            appointment_on=order.appointment_on,
            needed_on=order.needed_on,
        )
    except (Refusal, NeverOpen, ValueError):
        return None


def _missing(form: IntakeForm, problems: tuple[Problem, ...]) -> list[Missing]:
    found, asked = [], set()
    for problem in problems:
        if problem.is_error or (problem.question and problem.question in asked):
            continue
        question = ""
        if problem.question:
            asked.add(problem.question)
            question = _(write_out(BY_NUMBER[problem.question]))
        elif problem.asks:
            question = problem.asks
        name = field_of(problem.field, form)
        found.append(Missing(problem.sentence, question, form[name].auto_id if name else ""))
    return found


def _clocks(order: OrderForm, form: IntakeForm, now: datetime) -> list[PourClock]:
    clocks = []
    words_of = {slot.key: slot.words for slot in SLOTS}
    for slot, item in read_items(form.cleaned_data, order.arch):
        if not item.is_impression or item.follows_later:
            continue
        key = item.material or "other"
        state = pour_state(
            key, taken_at=item.taken_at, now=now, maker_minutes=item.pour_limit_minutes
        )
        limit = pour_limit_minutes(key, item.pour_limit_minutes)
        said = f"{words_of[slot]}, {_(material(key).words)}" if item.material else words_of[slot]
        clocks.append(PourClock(str(said), state, pour_deadline(limit, item.taken_at)))
    return clocks


def _drawings(order: OrderForm) -> list[Plan]:
    """Return the expected design of each arch as far as its teeth can be drawn."""
    drawn = []
    for arch in arches_of(order):
        try:
            drawn.append(planned(order, arch))
        except ValueError:
            continue  # a tooth of the other arch: its own sentence stands beside the field
    return drawn


def _shown_errors(form: IntakeForm) -> list[tuple[str, str, str]]:
    """Return slips in what was typed; what is still empty is not one while somebody types."""
    shown = []
    for name, errors in form.errors.items():
        if name not in form.fields:
            shown += [("", str(error), "") for error in errors]
            continue
        field = form[name]
        if field.value() not in (None, "", []):
            shown += [(str(field.label), str(error), field.auto_id) for error in errors]
    return shown


def usual_orders(practice: Practice | None) -> dict[str, str]:
    """Return what a practice usually orders for borders and polish, in words, by field."""
    if practice is None:
        return {}
    usual = {}
    if practice.usual_borders:
        usual["borders"] = _(words(BORDERS, practice.usual_borders))
    if practice.usual_polish:
        usual["polish"] = _(words(POLISH, practice.usual_polish))
    return usual


def _day(
    order: OrderForm, practice: Practice | None, now: datetime, *, told: bool
) -> dict[str, Any]:
    proposed = propose_day(order, practice, now) if told else None
    first = proposed.first_day_that_fits if proposed else None
    return {
        "proposal": proposed,
        "first_iso": first.isoformat() if first else "",
        "undated": order.appointment_on is None and order.needed_on is None,
    }


def _depths(order: OrderForm, form: IntakeForm) -> dict[str, Any]:
    """Return a row for each tooth taken out, where the desk says that their depths differ."""
    if form.cleaned_data.get("extract_depth") != EACH:
        return {}
    rows = [
        {
            "fdi": extraction.tooth,
            "label": from_fdi(extraction.tooth, form.desk.notation),
            "depth": extraction.depth,
        }
        for extraction in order.extractions
    ]
    choices = [("", NOT_SAID), *((key, _(words)) for key, words in EXTRACTION_DEPTHS)]
    return {"each_depth": rows, "depth_choices": choices}


def panel(form: IntakeForm, chosen: Practice | None, now: datetime) -> dict[str, Any]:
    """Return what the page says about the form as it stands. ``form`` has been cleaned."""
    order = read_order(form)
    practice = practice_of(form, chosen)
    # Without an arch nothing can be said of teeth and casts.
    told = bool(form.cleaned_data.get("arch"))
    problems = order_problems(order, now=now) if told else ()
    add_problems(form, problems)
    reference = form.cleaned_data.get("patient_ref", "")
    twins: list[Case] = []
    if chosen is not None and reference and told:
        twins = same_patient(chosen, reference, arches_of(order))
    return {
        "order": order,
        "shown_errors": _shown_errors(form),
        "missing": _missing(form, problems),
        "clocks": _clocks(order, form, now),
        "drawings": _drawings(order) if told else [],
        "assumption": _(ASSUMPTION_WORDS),
        "twins": twins,
        "told": told,
        **_day(order, practice, now, told=told and not form.errors.keys() & DAYS),
        **_depths(order, form),
        "usual": usual_orders(practice),
    }
