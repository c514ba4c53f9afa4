"""Correct an order by a later entry; what was received stays in the prescription."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from typing import Any, cast

from django.utils.translation import gettext as _

from cases.domain.design import Arch
from cases.domain.design import Design as Plan
from cases.domain.order import OrderForm, Problem, errors
from cases.domain.patientref import NotAPatientReference, patient_reference
from cases.domain.questions import BY_NUMBER
from cases.models import Case, Event, Note
from cases.selectors.design_agreed import PROMISED
from cases.selectors.hours import lab_calendar
from cases.services.access import lock_case, lock_open_case, refuse_packed
from cases.services.agreement import after_order
from cases.services.grow import regrow, store_design
from cases.services.hold import ask, settle
from cases.services.log_case import planned
from cases.services.record import Recorder, Refusal, verb

FINISH_ORDERS = frozenset({"borders", "polish"})
"""Orders that the surveyor may correct together with the design."""

CORRECTABLE = FINISH_ORDERS | frozenset(
    {
        "description",
        "replaces",
        "extractions",
        "extraction_order",
        "shade_how",
        "shade",
        "shade_guide",
        "mould_how",
        "mould",
        "materials",
        "bite",
        "try_in",
        "allergies",
        "allergy_words",
        "ordered_on",
        "appointment_on",
        "appointment_time",
        "needed_on",
        "rush",
        "disinfection",
        "signed",
        "licence_given",
    }
)
"""Entries that a later entry may correct. What came in the box has verbs of its own."""

TEETH = frozenset({"replaces", "extractions"})
"""Entries by which an expected design is expected anew."""

CHANGE_OF_ORDER = 25
"""Number of the question that has the practice confirm a change of the order in writing."""


@verb("order.correct", may=None)
def correct_order(
    record: Recorder,
    *,
    case: int,
    version: int,
    changes: dict[str, Any],
    reason: str,
    patient_ref: str = "",
    answers: list[int] | None = None,
) -> dict[str, Any]:
    """Correct entries of an order; route, checks and minutes follow.

    Parameters
    ----------
    changes
        Entries of ``OrderForm.to_json()`` by name, with what they should say.
    patient_ref
        The right reference; empty leaves it. The twin is the same patient's and follows.
    answers
        Answered questions of this case that are entered by this correction.

    Raises
    ------
    Refusal
        ``no-field``, ``bad-order`` (with the field), ``bad-reference``, ``no-reason``,
        ``nothing-changed``, ``in-hand`` when somebody works on a stage that would go.
    """
    _require(record, changes, patient_ref)
    row = lock_open_case(case, version=version)
    form, differing = _corrected(record, row, changes)
    reference = _reference(row, patient_ref)
    if not differing and not reference:
        raise Refusal("nothing-changed", _("Nothing was changed. Correct an entry, or go back."))
    if not reason.strip():
        raise Refusal("no-reason", _("Say why it is corrected, and who said so."), field="reason")
    logged = Event.objects.filter(case=row, kind__in=["case.logged", "order.corrected"])
    record.event(
        "order.corrected",
        case=row,
        corrects=logged.order_by("-pk").first(),
        fields=sorted(differing) + (["patient_ref"] if reference else []),
        **teeth_before(row, differing),
    )
    note(record, row, "correction", reason)
    for question in row.questions.filter(pk__in=answers or [], settled_at__isnull=True).exclude(
        awaits=PROMISED  # Entering the change is no written word.
    ):
        if question.awaits:
            settle(record, question, reason)
    if reference:
        _correct_reference(record, row, reference)
    if differing:
        if form.work_order().to_json() != row.work_order:
            refuse_packed(row)
        store_order(record, row, form)
        grow_again(record, row, form, teeth_too=bool(differing & TEETH))
    record.change(row, version=row.version + 1)
    return {"case": row.pk, "version": row.version}


def _require(record: Recorder, changes: dict[str, Any], patient_ref: str) -> None:
    """Borders and polish may be corrected at the bench, everything else at the desk."""
    if patient_ref or not set(changes) <= FINISH_ORDERS or not record.may("work"):
        record.require("log-cases")


def _corrected(
    record: Recorder, case: Case, changes: dict[str, Any]
) -> tuple[OrderForm, frozenset[str]]:
    """Return the order with the changes in it, and the names of the entries that differ."""
    unknown = set(changes) - CORRECTABLE
    if unknown:
        raise Refusal(
            "no-field",
            _("“%(unknown)s” is no entry that can be corrected.") % {"unknown": min(unknown)},
        )
    before = OrderForm.from_json(case.order)
    try:
        form = OrderForm.from_json({**before.to_json(), **changes})
    except (ValueError, TypeError, KeyError) as error:
        raise Refusal(
            "bad-order", _("An entry of the order cannot be read. Correct it.")
        ) from error
    differing = differing_entries(before, form)
    problem = first_error(form, differing, now=record.now)
    if problem is not None:
        raise Refusal("bad-order", problem.sentence, field=problem.field)
    return form, differing


def differing_entries(before: OrderForm, after: OrderForm) -> frozenset[str]:
    """Return the names of the entries that two orders do not have in common."""
    old, new = before.to_json(), after.to_json()
    return frozenset(name for name in new if new[name] != old.get(name))


def teeth_before(case: Case, differing: frozenset[str]) -> dict[str, Any]:
    """Return, as a fact of the event, which teeth the order named until now; nothing without."""
    was = {name: case.order[name] for name in sorted(differing & TEETH)}
    return {"was": was} if was else {}


def first_error(form: OrderForm, differing: frozenset[str], *, now: datetime) -> Problem | None:
    """Return what is wrong with the changed entries of an order, if anything.

    What stood there before is not this entry's fault: a day that has passed meanwhile.
    """
    today = lab_calendar().local_day(now)
    found = errors(form, now=now, today=today)
    return next((one for one in found if one.field.split(".")[0] in differing), None)


def _reference(case: Case, text: str) -> str:
    """Return the right patient reference where it differs from the present one."""
    if not text or text == case.patient_ref:
        return ""
    try:
        return patient_reference(text)
    except NotAPatientReference as error:
        raise Refusal("bad-reference", str(error), field="patient_ref") from error


def _correct_reference(record: Recorder, case: Case, reference: str) -> None:
    record.change(case, patient_ref=reference)
    if case.twin_id:
        twin = lock_case(case.twin_id)
        record.event("order.corrected", case=twin, fields=["patient_ref"], with_twin=case.number)
        record.change(twin, patient_ref=reference, version=twin.version + 1)


def note(record: Recorder, case: Case, kind: str, text: str) -> Note:
    """Keep somebody's words about the current event in a row that can be blanked."""
    return record.create(
        Note, case=case, text=text.strip(), kind=kind, by=record.person, at=record.now
    )


def store_order(record: Recorder, case: Case, form: OrderForm) -> None:
    """Put an order into the case's columns under the current event."""
    record.change(
        case,
        order=form.to_json(),
        work_order=form.work_order().to_json(),
        rush=form.rush,
        contaminated=not form.disinfection.proven,
        appointment_on=form.appointment_on,
        appointment_at=form.appointment_time,
        needed_on=form.needed_on,
    )


def grow_again(record: Recorder, case: Case, form: OrderForm, *, teeth_too: bool = False) -> None:
    """Bring the route in line with a changed order.

    A design that only the order let one expect is expected anew; a drawn one stays, because
    it is the technician's.
    """
    current = case.design
    if current is None or (teeth_too and current.data["provisional"]):
        expected = planned(form, cast(Arch, case.arch))
        # A bar that the practice has answered for stays expected.
        bar = current is not None and bool(current.data["bar"])
        store_design(record, case, replace(expected, bar=expected.bar or bar), "")
        return
    regrow(record, case, Plan.from_json(current.data), current.version)
    after_order(record, case)


@verb("order.change-asked", may="hold")
def ask_for_change(
    record: Recorder,
    *,
    case: int,
    version: int,
    change: str,
    rang: str = "",
    stage: int | None = None,
) -> dict[str, Any]:
    """Have the practice confirm a change of mind in writing before the order is altered.

    Parameters
    ----------
    change
        What the practice wants, in words; it stands as a note on the case.
    rang
        Who asked for it on the telephone, where somebody rang.
    stage
        Primary key of the stage at which the change matters; it waits for the answer.

    Raises
    ------
    Refusal
        ``no-words`` without the change.
    """
    row = lock_open_case(case, version=version)
    if not change.strip():
        raise Refusal("no-words", _("Write what the practice wants changed."), field="change")
    at = row.stages.filter(pk=stage).first() if stage else None
    record.event("question.asked", case=row, subject=str(CHANGE_OF_ORDER))
    record.create(
        Note,
        case=row,
        text=change.strip(),
        kind="telephone" if rang.strip() else "note",
        from_whom=rang.strip()[:60],
        visible_to_practice=True,
        by=record.person,
        at=record.now,
    )
    question = ask(record, row, BY_NUMBER[CHANGE_OF_ORDER], {}, stage=at.key if at else "")
    record.change(row, version=row.version + 1)
    return {"question": question.pk, "version": row.version}
