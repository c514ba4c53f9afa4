"""Make a piece again: a new case that names the first one, why, and what it starts from."""

from __future__ import annotations

import dataclasses
from dataclasses import replace
from datetime import date
from typing import Any, cast

from django.utils.translation import gettext as _

from cases.domain.design import Design as Plan
from cases.domain.design import RemakeStart
from cases.domain.order import Disinfection, Item, OrderForm
from cases.domain.order_choices import REMAKE_STARTS, values
from cases.domain.reasons import REMAKE, REMAKE_ORIGIN
from cases.models import Case, Thing
from cases.services.access import lock_case
from cases.services.close_case import cancel_case
from cases.services.grow import store_design
from cases.services.log_case import log_case
from cases.services.record import Recorder, Refusal, verb
from cases.services.things import MASTER, OPPOSING, WORKING

KEPT_CASTS = (WORKING, MASTER, OPPOSING)


@verb("case.remake", may="close-cases")
def remake_case(
    record: Recorder,
    *,
    case: int,
    version: int,
    reason: str,
    origin: str,
    start: str,
    appointment_on: str | None = None,
    needed_on: str | None = None,
    ship_on: str | None = None,
    ship_reason: str = "",
    items: list[dict[str, Any]] | None = None,
    disinfection: dict[str, Any] | None = None,
) -> dict[str, Any]:
    """Open a remake of a case; one that is still open is closed with the new number.

    Parameters
    ----------
    reason, origin
        Of the remake list and of *where it came from* (``domain.reasons``).
    start
        ``new-impression``, ``kept-master`` or ``kept-wax-index``.
    items
        For a new impression: what came (as ``services.new_impression``); empty: it follows.
    ship_on
        ISO day to promise; None takes the proposed one, which must fit.

    Raises
    ------
    Refusal
        ``no-reason``, ``no-origin``, ``no-start``, ``no-kept-cast``, ``cancelled``,
        ``case-changed``, and those of ``case.log``.
    """
    first = lock_case(case)
    _choose(first, version, reason, origin, start)
    order = replace(
        _order(record, first, start, items or [], disinfection or {}),
        appointment_on=_day(appointment_on, "appointment_on"),
        needed_on=_day(needed_on, "needed_on"),
    )
    why = {"remake_reason": reason, "remake_origin": origin}
    made = _log(record, first, order, ship_on=ship_on, ship_reason=ship_reason, **why)
    record.event("case.remade", case=first, subject=made.number, reason=reason, origin=origin)
    _hand_on(record, first, made, start)
    if first.state in {"open", "packed"}:
        cancel_case.inner(
            record,
            case=first.pk,
            version=first.version,
            reason=_("Made again as %(number)s.") % {"number": made.number},
        )
    return {"case": made.pk, "number": made.number, "first": first.pk}


def _log(record: Recorder, first: Case, order: OrderForm, **more: Any) -> Case:
    """Log the new case at the practice and for the patient of the first one."""
    result = log_case.inner(
        record,
        practice=first.practice_id,
        dentist=first.prescription.dentist_id,
        patient_ref=first.patient_ref,
        order=order.to_json(),
        same_patient_seen=True,
        remake_of=first.pk,
        **more,
    )
    return Case.objects.get(pk=result["cases"][0])


def _choose(first: Case, version: int, reason: str, origin: str, start: str) -> None:
    if first.version != version:
        raise Refusal(
            "case-changed",
            _(
                "%(number)s was changed by somebody else meanwhile. Look at what is new, then "
                "enter yours again."
            )
            % {"number": first.number},
        )
    if first.state == "cancelled":
        raise Refusal(
            "cancelled",
            _("%(number)s was cancelled. Log a new case instead.") % {"number": first.number},
        )
    if reason not in {one.key for one in REMAKE.reasons}:
        raise Refusal("no-reason", _("Choose why it is made again."), field="reason")
    if origin not in {one.key for one in REMAKE_ORIGIN}:
        raise Refusal("no-origin", _("Say where it came from, or “not known yet”."), field="origin")
    if start not in values(REMAKE_STARTS):
        raise Refusal("no-start", _("Choose what it starts from."), field="start")


def _day(text: str | None, field: str) -> date | None:
    if not text:
        return None
    try:
        return date.fromisoformat(text)
    except ValueError as error:
        raise Refusal("no-day", _("Enter a day."), field=field) from error


def _order(
    record: Recorder,
    first: Case,
    start: str,
    items: list[dict[str, Any]],
    disinfection: dict[str, Any],
) -> OrderForm:
    """Return the first order with kind, start and what it is made from this time."""
    before = OrderForm.from_json(first.order)
    had_opposing = bool(before.found("opposing"))
    if start == "new-impression":
        made_from = tuple(OrderForm.from_json({"items": items}).items) or (
            Item("working", "impression", follows_later=True),
        )
    else:
        # Nothing is poured. The old piece was in a mouth and has lain on these casts since.
        made_from = (Item("working", "cast"),)
        disinfection = {"done": "no"}
    if had_opposing and not any(item.kind == "opposing" for item in made_from):
        made_from = (*made_from, Item("opposing", "cast"))
    return replace(
        before,
        kind="remake",
        remake_start=cast(RemakeStart, start),
        items=made_from,
        disinfection=Disinfection(**disinfection),
        received_at=record.now,
        rush=before.rush,
    )


def _hand_on(record: Recorder, first: Case, made: Case, start: str) -> None:
    """Give the new case the drawn design to begin with, and the casts that it is made from."""
    if first.design is not None and not first.design.data["provisional"]:
        drawn = Plan.from_json(first.design.data)
        store_design(record, made, dataclasses.replace(drawn, provisional=True), "")
    kept = KEPT_CASTS if start != "new-impression" else (OPPOSING,)
    casts = Thing.objects.filter(case=first, kind="cast", state="in-use", label__in=kept)
    for one in casts.select_for_update():
        record.event("thing.handed-on", case=made, subject=one.label, from_case=first.number)
        record.change(one, case=made, pour=None)
