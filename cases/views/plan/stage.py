"""One stage in the plan: when, who, why then; and a choice about it with its price."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any
from urllib.parse import urlencode

from django.http import Http404, HttpResponse
from django.urls import reverse
from django.utils.dateparse import parse_datetime
from django.utils.timezone import is_naive, make_aware
from django.utils.translation import gettext as _

from cases.forms.plan import LoadPinForm, PinForm
from cases.models import Bath, CaseStage, Person, Plan, PlanPin, PlanStage
from cases.selectors import plan as plans
from cases.services.plan import PINNABLE, lift_load, lift_pin, pin_load, pin_stage
from cases.services.plan_price import Price, price_of_load, price_of_pin
from cases.services.record import Outcome, Refusal
from cases.views.form_page import posted, show_forms
from cases.views.page import LabRequest, SeeOther, integer, page, send, show
from cases.views.plan.words import at_words, change_words, standing

MINUTE = timedelta(minutes=1)
"""The planner knows no less."""


def _able(row: CaseStage) -> list[Person]:
    people = Person.objects.filter(active=True)
    if row.skill:
        people = people.filter(skills__skill__key=row.skill)
    else:
        people = people.filter(is_technician=True)
    return list(people.order_by("name", "pk"))


def _wanted(request: LabRequest) -> dict[str, Any]:
    """Return what a bar that was dragged asks for, to stand in the form."""
    begins = parse_datetime(request.GET.get("begins_at", "") or "")
    if begins is not None and is_naive(begins):
        begins = make_aware(begins)
    wished = {name: request.GET.get(name) or "" for name in ("person", "bath")}
    return {**wished, "begins_at": begins}


def _unable(person: str, row: CaseStage) -> str:
    """Say that somebody onto whom a bar was dragged may not do it."""
    found = Person.objects.filter(pk=integer(person) or 0, active=True).first()
    return _("%(worker)s does not have the skill for %(stage)s.") % {
        "worker": found.name if found else _("Nobody"),
        "stage": _(row.name),
    }


def _form(
    row: CaseStage, now: datetime, data: Any = None, wanted: dict[str, Any] | None = None
) -> PinForm | LoadPinForm:
    """Return the form of what can be decided: of a cure its load, else who and from when.

    Parameters
    ----------
    wanted
        What a bar that was dragged asks for; of a load the rest is as the plan has it.
    """
    if row.kind != "load":
        return PinForm(data, people=_able(row), initial=wanted)
    plan = Plan.objects.first()
    planned = plans.rows_of(plan).filter(stage=row).first() if plan is not None else None
    # Its own load comes first and whole, however many others wait.
    mates = _mates(planned)
    others = {one.stage_id: one for one in (*mates, *plans.pieces_for(row, plan))}
    pieces = [
        (row.pk, row.case.number),
        *(
            (key, f"{one.stage.case.number}, {at_words(one.begins_at, now)}")
            for key, one in others.items()
        ),
    ]
    first: dict[str, Any] = {"stages": [row.pk, *(mate.stage_id for mate in mates)]}
    if planned is not None:
        first |= {"bath": planned.bath_id, "begins_at": planned.begins_at}
    first |= {name: value for name, value in (wanted or {}).items() if value and name in first}
    baths = Bath.objects.filter(active=True).order_by("name", "pk").values_list("pk", "name")
    if data is not None and "dragged" in data:
        # A bar that was dragged says when and into which bath, and nothing of flasks.
        data = {**first, **{name: data[name] for name in ("bath", "begins_at") if name in data}}
    return LoadPinForm(data, pieces=pieces, baths=list(baths), initial=first)


def _price(request: LabRequest, row: CaseStage, data: dict[str, Any]) -> Price | None:
    if row.kind == "load":
        return price_of_load(request.now, **data)
    if data.get("person") is None and data.get("begins_at") is None:
        return None
    return price_of_pin(
        request.now, stage=row.pk, person=data.get("person"), begins_at=data.get("begins_at")
    )


def _key(data: dict[str, Any]) -> str:
    """Return which choice a price was said of: it goes with the yes, so that no other is made."""
    begins = data.get("begins_at")
    minute = int(begins.timestamp() // 60) if begins else ""
    chosen = (data.get("person"), data.get("bath"), *sorted(data.get("stages") or ()))
    return ",".join(str(one or "") for one in (minute, *chosen))


def _cost(request: LabRequest, row: CaseStage, data: dict[str, Any]) -> dict[str, Any]:
    """Return what the page shows of a choice: its price, and of which choice that is."""
    return {"price": _price(request, row, data), "priced": _key(data)}


def _unseen(request: LabRequest, row: CaseStage, form: PinForm | LoadPinForm) -> bool:
    """Tell whether a choice is to be made of which nobody has seen the price."""
    if request.POST.get("what") != "pin" or not _may_pin(request, row) or not form.is_valid():
        return False
    chosen = any(form.cleaned_data.values())
    return chosen and request.POST.get("priced") != _key(form.cleaned_data)


def _stage(pk: int) -> CaseStage:
    row = CaseStage.objects.select_related("case__practice", "case__design").filter(pk=pk).first()
    if row is None:
        raise Http404
    return row


@page(may="see-cases")
def stage(request: LabRequest, pk: int) -> HttpResponse:
    """Show a stage in the plan; where a bar was dragged here, with what that would cost.

    The price takes seconds in a large lab, so the page asks for it when it is there.
    """
    row = _stage(pk)
    form = _form(row, request.now, wanted=_wanted(request))
    cost: dict[str, Any] = {}
    asked = ""
    if _may_pin(request, row) and ("person" in request.GET or "begins_at" in request.GET):
        chosen = _form(row, request.now, request.GET)
        if not chosen.is_valid():
            cost = {"price": _refused(chosen, request.GET.get("person", ""), row)}
        elif request.htmx or "price" in request.GET:
            cost = _cost(request, row, chosen.cleaned_data)
        else:
            asked = _question(request)
    if request.htmx:
        return show(request, "plan/_price.html", cost)
    return show_forms(request, "plan/stage.html", form, **_shown(request, row), **cost, asked=asked)


def _question(request: LabRequest) -> str:
    """Return where the price of what is wished is said: the page is there before it is."""
    wished = [(name, value) for name, values in request.GET.lists() for value in values]
    return f"{request.path}?{urlencode([*wished, ('price', 1)])}"


def _refused(form: PinForm | LoadPinForm, person: str, row: CaseStage) -> Price:
    if "person" in form.errors:
        return Price(impossible=_unable(person, row))
    for name in ("stages", "bath"):
        if name in form.errors:
            return Price(impossible=str(form.errors[name][0]))
    return Price(impossible=_("Enter a day and a time."))


@page(may="assign", methods=("POST",))
def decide(request: LabRequest, pk: int) -> HttpResponse:
    """Say what a choice about a stage would cost, make it, or leave the stage to the planner.

    A choice is made only by who has seen its price: the first yes says the price, the next counts.
    """
    row = _stage(pk)
    form = _form(row, request.now, request.POST)
    cost: dict[str, Any] = {}
    what, unseen = request.POST.get("what"), _unseen(request, row, form)
    if what == "price" or unseen:
        if form.is_valid():
            cost = _cost(request, row, form.cleaned_data) | {"unseen": unseen}
    elif what == "lift":
        try:
            _lift(request, row)
        except Refusal as refusal:
            form.add_error(None, refusal.sentence)
        else:
            return SeeOther(reverse("cases:plan-stage", args=[pk]))
    else:
        done = posted(form, lambda data: _decide(request, row, data))
        if done is not None:
            return SeeOther(reverse("cases:plan-stage", args=[pk]))
    return show_forms(request, "plan/stage.html", form, **_shown(request, row), **cost)


def _may_pin(request: LabRequest, row: CaseStage) -> bool:
    return request.visitor.may("assign") and row.state in PINNABLE


def _decide(request: LabRequest, row: CaseStage, data: dict[str, Any]) -> Outcome:
    if row.kind == "load":
        return send(request, pin_load, **(data | {"begins_at": data["begins_at"].isoformat()}))
    return send(request, pin_stage, stage=row.pk, **_body(data))


def _lift(request: LabRequest, row: CaseStage) -> Outcome:
    """Leave a stage to the planner again, of a pinned load all its pieces."""
    pin = plans.pins([row.pk]).get(row.pk)
    if pin is not None and pin.bath_id is not None:
        return send(request, lift_load, stages=plans.same_load(pin))
    return send(request, lift_pin, stage=row.pk)


def _body(data: dict[str, Any]) -> dict[str, Any]:
    begins = data["begins_at"]
    return {"person": data["person"], "begins_at": begins.isoformat() if begins else ""}


def _shown(request: LabRequest, row: CaseStage) -> dict[str, Any]:
    found = plans.state(request.now)
    planned = (
        plans.rows_of(found.plan).filter(stage=row).first() if found.plan is not None else None
    )
    pin = plans.pins([row.pk]).get(row.pk)
    return {
        "stage": row,
        "planned": planned,
        "begins": at_words(planned.begins_at, request.now) if planned else "",
        "ends": at_words(planned.ends_at, planned.begins_at) if planned else "",
        "signs": at_words(planned.signed_from, request.now)
        if planned and planned.signed_from
        else "",
        "changed": change_words(planned, request.now) if planned else "",
        "together": _mates(planned),
        "pin": pin,
        "not_kept": planned is not None and pin is not None and _not_kept(row, planned, pin),
        "given_up": _about(row, found.plan.words) if found.plan is not None else [],
        "may_pin": _may_pin(request, row),
        **standing(request, found),
        "back": reverse("cases:plan-stage", args=[row.pk]),
    }


def _not_kept(row: CaseStage, planned: PlanStage, pin: PlanPin) -> bool:
    """Tell whether a plan that knows of a decided start begins at another minute."""
    if pin.begins_at is None or planned.plan.made_at <= pin.at:
        return False
    if row.started_at is not None and row.started_at > pin.at:
        return False
    return abs(planned.begins_at - pin.begins_at) >= MINUTE


def _about(row: CaseStage, words: list[str]) -> list[str]:
    """Return what a plan could not keep for the case of a stage."""
    return [sentence for sentence in words if row.case.number in sentence]


def _mates(planned: PlanStage | None) -> list[PlanStage]:
    """Return what is done together with a stage."""
    if planned is None or not planned.together:
        return []
    mates = plans.rows_of(planned.plan).filter(
        together=planned.together, begins_at=planned.begins_at
    )
    return [row for row in mates if row.pk != planned.pk]
