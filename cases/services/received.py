"""What followed the box later has come: it stands in the case, and what waited for it goes on."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from typing import Any

from django.utils.translation import gettext as _

from cases.domain.impression import pour_deadline, pour_limit_minutes
from cases.domain.order import Item, OrderForm
from cases.domain.order_choices import ITEM_STAGES, ITEMS, words
from cases.models import Case, Received
from cases.services.access import lock_open_case
from cases.services.correct_order import grow_again, store_order
from cases.services.progress import refresh
from cases.services.record import Recorder, Refusal, verb


def read_instant(text: str | None, *, now: datetime, field: str) -> datetime | None:
    """Return the instant in an ISO text.

    Raises
    ------
    Refusal
        ``bad-time`` for one without a zone or that cannot be read, ``later-than-now``.
    """
    if not text:
        return None
    try:
        instant = datetime.fromisoformat(text)
    except ValueError as error:
        raise Refusal("bad-time", _("Enter day and time."), field=field) from error
    if instant.tzinfo is None:
        raise Refusal("bad-time", _("Enter day and time."), field=field)
    if instant > now:
        raise Refusal(
            "later-than-now",
            _("It cannot have been taken later than now. Correct it."),
            field=field,
        )
    return instant


def release_waiting(record: Recorder, case: Case, item: str) -> int:
    """Release the holds that waited for ``item`` to come; return how many.

    A hold written when the box was logged begins with the item's words. One made by hand is
    released when its stages need the item and nothing else is expected for them.
    """
    said = words(ITEMS, item)
    needs = set(ITEM_STAGES.get(item, ()))
    expected = case.received.filter(state="expected").values_list("item", flat=True)
    others = {key for other in expected for key in ITEM_STAGES.get(other, ())}
    released = 0
    for hold in case.holds.filter(released_at__isnull=True, reason="record-or-cast"):
        by_hand = hold.question is None and bool(needs & set(hold.stages) - others)
        if not by_hand and not hold.words.startswith(said):
            continue
        record.change(hold, released_at=record.now, released_by=record.person)
        question = hold.question
        if question is not None and question.answered_at is None and question.withdrawn_at is None:
            record.change(question, withdrawn_at=record.now, answer_note=_("It has come."))
        released += 1
    return released


@verb("received.came", may="log-cases")
def later_item_came(
    record: Recorder,
    *,
    received: int,
    material: str = "",
    pour_limit_minutes: int | None = None,
    taken_at: str | None = None,
) -> dict[str, Any]:
    """Note that something expected later is here.

    ``material``, ``pour_limit_minutes`` and ``taken_at`` (ISO instant) are told of an
    impression; the pour clock starts at *taken*.

    Raises
    ------
    Refusal
        ``no-item``, ``came-already``, ``bad-time``, ``later-than-now``.
    """
    found = Received.objects.filter(pk=received).values_list("case_id", flat=True).first()
    if found is None:
        raise Refusal("no-item", _("There is no such thing on this case. Load the page again."))
    case = lock_open_case(found)
    row = Received.objects.select_for_update().get(pk=received)
    if row.state != "expected":
        raise Refusal("came-already", _("Somebody noted already that it came."))
    taken = read_instant(taken_at, now=record.now, field="taken_at")
    record.event("received.came", case=case, subject=row.item)
    record.change(
        row,
        came_at=record.now,
        state="here",
        material=material or row.material,
        pour_limit_minutes=pour_limit_minutes or row.pour_limit_minutes,
        taken_at=taken or row.taken_at,
    )
    form = _with_it(OrderForm.from_json(case.order), row)
    store_order(record, case, form)
    restart_pour_clock(record, case)
    grow_again(record, case, form)
    release_waiting(record, case, row.item)
    record.change(case, version=case.version + 1)
    refresh(record, case)
    return {"case": case.pk, "version": case.version}


def _with_it(form: OrderForm, row: Received) -> OrderForm:
    """Return the order with the item no longer expected."""
    items: list[Item] = []
    done = False
    for item in form.items:
        if not done and item.kind == row.item and item.follows_later:
            done = True
            items.append(
                replace(
                    item,
                    follows_later=False,
                    form=row.form or item.form,
                    material=row.material,
                    pour_limit_minutes=row.pour_limit_minutes,
                    taken_at=row.taken_at,
                )
            )
        else:
            items.append(item)
    return replace(form, items=tuple(items))


def restart_pour_clock(record: Recorder, case: Case, *, poured: bool = False) -> None:
    """Set *taken* and *pour by* from the impressions that are here.

    ``poured``: those that came earlier are cast already; only what came now counts.
    """
    here = [
        row
        for row in case.received.filter(state="here", form="impression")
        if row.taken_at is not None and (not poured or row.came_at == record.now)
    ]
    due = [
        pour_deadline(pour_limit_minutes(row.material, row.pour_limit_minutes), row.taken_at)
        for row in here
        if row.material
    ]
    record.change(
        case,
        taken_at=min((row.taken_at for row in here if row.taken_at), default=None),
        pour_by=min((at for at in due if at is not None), default=None),
    )
