"""Log what came in: a prescription, its box, and the case or pair of cases made from it."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any, cast

from django.utils.translation import gettext as _

from cases.domain.design import Arch
from cases.domain.design import Design as Plan
from cases.domain.design_rules import expected_design
from cases.domain.impression import pour_deadline, pour_limit_minutes
from cases.domain.order import OrderForm, Problem, problems, required_profile
from cases.domain.patientref import NotAPatientReference, patient_reference
from cases.domain.questions import BY_NUMBER, free_question
from cases.domain.route import Route, RouteTemplate, grow
from cases.models import (
    Case,
    Dentist,
    Lab,
    Practice,
    Prescription,
    Received,
    RouteVersion,
)
from cases.selectors.hours import lab_calendar
from cases.services.files import attach
from cases.services.grow import store_design
from cases.services.hold import ask, open_hold
from cases.services.numbering import case_number
from cases.services.promise import day_to_come, give, proposal
from cases.services.record import Recorder, Refusal, verb


def order_problems(order: OrderForm, *, now: datetime) -> tuple[Problem, ...]:
    """Return what is wrong with an order or missing from it, by this lab's profile."""
    lab = Lab.objects.first()
    profile = required_profile(lab.required_profile if lab else "longest")
    return problems(order, profile, now=now, today=lab_calendar().local_day(now))


def arches_of(order: OrderForm) -> tuple[Arch, ...]:
    """Return the arches an order makes cases for."""
    return ("upper", "lower") if order.arch == "both" else (cast(Arch, order.arch),)


def planned(order: OrderForm, arch: Arch) -> Plan:
    """Return the design that the order lets one expect before the survey."""
    one = order.of_arch(arch)
    extracted = frozenset(entry.tooth for entry in one.extractions)
    teeth = frozenset(one.replaces) | extracted
    return expected_design(arch, teeth, teeth, extracted=extracted)


def current_template() -> RouteVersion:
    """Return the newest saved route version.

    Raises
    ------
    Refusal
        ``no-route`` in a lab that is not set up.
    """
    newest = RouteVersion.objects.order_by("-version").first()
    if newest is None:
        raise Refusal(
            "no-route", _("The lab is not set up yet: there is no route. Set it up first.")
        )
    return newest


def route_for(order: OrderForm, arch: Arch) -> Route:
    """Return the route that an order would have today."""
    template = RouteTemplate.from_json(current_template().document)
    return grow(template, order.of_arch(arch).work_order(), planned(order, arch))


def same_patient(practice: Practice, patient_ref: str, arches: tuple[str, ...]) -> list[Case]:
    """Return open cases of the same practice, reference and arch."""
    return list(
        Case.objects.filter(
            practice=practice, patient_ref=patient_ref, arch__in=arches, state="open"
        ).order_by("pk")
    )


@verb("case.log", may="log-cases")
def log_case(
    record: Recorder,
    *,
    practice: int,
    dentist: int | None,
    patient_ref: str,
    order: dict[str, Any],
    papers: list[dict[str, Any]] | None = None,
    ship_on: str | None = None,
    ship_reason: str = "",
    same_patient_seen: bool = False,
    remake_of: int | None = None,
    remake_reason: str = "",
    remake_origin: str = "",
) -> dict[str, Any]:
    """Log an order and make its case, or two cases tied as a pair.

    Parameters
    ----------
    order
        ``OrderForm.to_json()``.
    papers
        Stored pictures of the prescription (``services.files.take_in``).
    ship_on
        ISO day to promise; None takes the proposed one, which must fit.
    same_patient_seen
        The desk has seen that an open case of the same patient and arch exists.

    Returns
    -------
    dict
        ``cases``: primary keys, ``numbers``: case numbers, upper first.

    Raises
    ------
    Refusal
        ``bad-order`` with the first error, ``bad-reference``, ``same-patient``,
        ``does-not-fit`` with the first day that does, ``no-practice``, ``remake-of``.
    """
    at = Practice.objects.filter(pk=practice, active=True).first()
    if at is None:
        raise Refusal("no-practice", _("Choose the practice."), field="practice")
    try:
        reference = patient_reference(patient_ref)
    except NotAPatientReference as error:
        raise Refusal("bad-reference", str(error), field="patient_ref") from error
    try:
        form = OrderForm.from_json(order)
    except (ValueError, TypeError, KeyError) as error:
        raise Refusal(
            "bad-order", _("An entry of the order cannot be read. Correct it.")
        ) from error
    found = order_problems(form, now=record.now)
    for problem in found:
        if problem.is_error:
            raise Refusal("bad-order", problem.sentence, field=problem.field)
    arches = arches_of(form)
    earlier = same_patient(at, reference, arches)
    if earlier and not same_patient_seen:
        numbers = ", ".join(case.number for case in earlier)
        raise Refusal(
            "same-patient",
            _(
                "%(numbers)s is open for %(reference)s at this practice, same arch. Add to "
                "that case, or say that this is another piece."
            )
            % {"numbers": numbers, "reference": reference},
            field="same_patient_seen",
        )
    first = _first_case(form, remake_of, remake_reason)
    routes = {arch: route_for(form, arch) for arch in arches}
    day, why = _ship_day(record, form, at, routes, ship_on, ship_reason)
    record.event("prescription.received", subject=at.code, arches=list(arches))
    prescription = record.create(
        Prescription,
        practice=at,
        dentist=Dentist.objects.filter(pk=dentist).first() if dentist else None,
        patient_ref=reference,
        as_received=order,
        signed=form.signed,
        licence_given=form.licence_given,
        received_at=form.received_at or record.now,
    )
    cases = [_make_case(record, prescription, form, arch, first) for arch in arches]
    for case in cases:
        if first is not None:
            record.change(case, remake_reason=remake_reason, remake_origin=remake_origin)
        store_design(record, case, planned(form, cast(Arch, case.arch)), "")
        _ask_what_is_missing(record, case, form.of_arch(cast(Arch, case.arch)))
        if day is not None:
            record.event("case.promised", case=case, ship_on=day)
            give(record, case, day, why)
        for paper in papers or []:
            record.event("file.attached", case=case, subject="prescription")
            attach(record, paper, case=case, kind="prescription", visible_to_practice=True)
    if len(cases) == 2:
        record.event("case.paired", case=cases[0], subject=cases[1].number)
        record.change(cases[0], twin=cases[1])
        record.change(cases[1], twin=cases[0])
    return {"cases": [case.pk for case in cases], "numbers": [case.number for case in cases]}


def _first_case(form: OrderForm, remake_of: int | None, reason: str) -> Case | None:
    if form.kind != "remake":
        return None
    first = Case.objects.filter(pk=remake_of).first() if remake_of else None
    if first is None:
        raise Refusal("remake-of", _("Say which case is made again."), field="remake_of")
    if not reason:
        raise Refusal("no-reason", _("Choose why it is made again."), field="remake_reason")
    return first


def _ship_day(
    record: Recorder,
    form: OrderForm,
    practice: Practice,
    routes: dict[Arch, Route],
    ship_on: str | None,
    reason: str,
) -> tuple[date | None, str]:
    """Return the day to promise and why; a pair leaves together, so the longer route counts."""
    if ship_on:
        return day_to_come(ship_on, record.now), reason
    longest = max(routes.values(), key=lambda route: route.minutes)
    proposed = proposal(
        longest,
        practice,
        now=record.now,
        appointment_on=form.appointment_on,
        needed_on=form.needed_on,
    )
    if proposed.fits:
        return proposed.day, ""
    if form.appointment_on is None and form.needed_on is None:
        return None, ""
    raise Refusal("does-not-fit", " ".join(proposed.reasons), field="ship_on")


def _make_case(
    record: Recorder, prescription: Prescription, form: OrderForm, arch: Arch, first: Case | None
) -> Case:
    one = form.of_arch(arch)
    poured_by = [
        due
        for item in one.items
        if item.is_impression and not item.follows_later and item.material
        if (
            due := pour_deadline(
                pour_limit_minutes(item.material, item.pour_limit_minutes), item.taken_at
            )
        )
    ]
    taken = [item.taken_at for item in one.items if item.taken_at and item.is_impression]
    number = case_number(record.now)
    record.event("case.logged", subject=number, arch=arch, route=form.kind)
    case = record.create(
        Case,
        number=number,
        prescription=prescription,
        practice=prescription.practice,
        patient_ref=prescription.patient_ref,
        arch=arch,
        kind=form.kind,
        order=one.to_json(),
        work_order=one.work_order().to_json(),
        template=current_template(),
        remake_of=first,
        rush=form.rush,
        contaminated=not form.disinfection.proven,
        appointment_on=form.appointment_on,
        appointment_at=form.appointment_time,
        needed_on=form.needed_on,
        taken_at=min(taken, default=None),
        pour_by=min(poured_by, default=None),
        logged_at=record.now,
    )
    record.events[-1].case = case
    _unpack(record, case, one)
    return case


def _unpack(record: Recorder, case: Case, form: OrderForm) -> None:
    known = form.disinfection
    record.create_many(
        [
            Received(
                case=case,
                item=item.kind,
                form=item.form,
                material=item.material,
                pour_limit_minutes=item.pour_limit_minutes,
                taken_at=item.taken_at,
                came_at=None if item.follows_later else (form.received_at or record.now),
                expected_on=item.expected_on,
                disinfected_by=known.by,
                disinfected_with=known.agent[:60],
                disinfected_minutes=known.minutes,
                state="expected" if item.follows_later else "here",
            )
            for item in form.items
        ]
    )


def _ask_what_is_missing(record: Recorder, case: Case, form: OrderForm) -> None:
    """Write the questions out and hold what waits for their answers."""
    asked: set[int] = set()
    for problem in order_problems(form, now=record.now):
        if problem.is_error or (problem.question and problem.question in asked):
            continue
        if problem.question:
            asked.add(problem.question)
            spec = BY_NUMBER[problem.question]
        elif problem.asks:
            spec = free_question(problem.asks, stops=problem.stops)
        else:
            _wait(record, case, problem)
            continue
        record.event("question.asked", case=case, subject=str(problem.question or ""))
        ask(record, case, spec, {}, stops=problem.stops, reason=problem.hold_reason)


def _wait(record: Recorder, case: Case, problem: Problem) -> None:
    """Hold the stages that wait for what is promised; there is nothing to ask."""
    stages = list(case.stages.filter(key__in=problem.stops).values_list("key", flat=True))
    if not stages:
        return
    record.event("case.held", case=case, reason=problem.hold_reason, stages=stages)
    open_hold(
        record,
        case,
        reason=problem.hold_reason,
        waits_for="practice",
        words=problem.sentence,
        stages=stages,
    )
