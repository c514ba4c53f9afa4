"""A new impression for an open case: the old casts are void, the work begins again from it."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from django.utils.translation import gettext as _

from cases.domain.impression import BY_KEY as MATERIALS
from cases.domain.order import Disinfection, Item, OrderForm
from cases.models import Case, Received
from cases.services import things
from cases.services.access import lock_open_case, refuse_packed
from cases.services.correct_order import grow_again, note, store_order
from cases.services.received import read_instant, release_waiting, restart_pour_clock
from cases.services.record import Recorder, Refusal, verb
from cases.services.send_back import reopen_from

ARCH_ITEMS = ("working", "opposing")


@verb("case.new-impression", may="log-cases")
def take_new_impression(
    record: Recorder,
    *,
    case: int,
    version: int,
    items: list[dict[str, Any]],
    disinfection: dict[str, Any],
    words: str,
) -> dict[str, Any]:
    """Put a new impression (or cast, or scan) in the place of what came before.

    Parameters
    ----------
    items
        ``[{"kind": "working" | "opposing", "form": …, "material": …,
        "pour_limit_minutes": …, "taken_at": ISO instant, "tray": …}]``; the arch to work on is
        always among them.
    disinfection
        What is known of the new box, as ``domain.order.Disinfection``.
    words
        Why there is a new one.

    Raises
    ------
    Refusal
        ``no-impression``, ``bad-item`` with the field, ``no-reason``, and those of times.
    """
    row = lock_open_case(case, version=version)
    refuse_packed(row)
    came = [_item(record, one) for one in items]
    if not any(item.kind == "working" for item in came):
        raise Refusal(
            "no-impression", _("Say what came of the arch to work on."), field="working_form"
        )
    if not words.strip():
        raise Refusal("no-reason", _("Say why there is a new impression."), field="words")
    known = _known(disinfection)
    replaced = {item.kind for item in came}
    record.event("case.new-impression", case=row, items=sorted(replaced))
    note(record, row, "correction", words)
    void = _void_casts(record, row, replaced)
    poured = row.stages.filter(key__in=["pour", "pick-up"], state="done").exists()
    reopened = reopen_from(record, row.pk, "receive")
    _swap_received(record, row, came, known)
    before = OrderForm.from_json(row.order)
    kept = tuple(item for item in before.items if item.kind not in replaced)
    form = replace(before, items=(*came, *kept), disinfection=known)
    store_order(record, row, form)
    restart_pour_clock(record, row, poured=poured)
    grow_again(record, row, form)
    _release(record, row, replaced)
    record.change(row, version=row.version + 1)
    return {"case": row.pk, "version": row.version, "reopened": reopened, "void": void}


def _known(disinfection: dict[str, Any]) -> Disinfection:
    return Disinfection(
        done=str(disinfection.get("done") or "not-known"),
        by=str(disinfection.get("by") or ""),
        agent=str(disinfection.get("agent") or ""),
        minutes=disinfection.get("minutes"),
    )


def _release(record: Recorder, case: Case, came: set[str]) -> None:
    """Release what waited for an impression to come, or for a better one."""
    for kind in sorted(came):
        release_waiting(record, case, kind)
    for hold in case.holds.filter(released_at__isnull=True, reason="impression-unusable"):
        record.change(hold, released_at=record.now, released_by=record.person)


def _item(record: Recorder, given: dict[str, Any]) -> Item:
    kind, form = str(given.get("kind", "")), str(given.get("form", ""))
    if kind not in ARCH_ITEMS or form not in {"impression", "cast", "scan"}:
        raise Refusal("bad-item", _("Say in which form the arch came."), field=f"{kind}_form")
    material = str(given.get("material") or "")
    if material and material not in MATERIALS:
        raise Refusal("bad-item", _("The material is not in the list."), field=f"{kind}_material")
    limit = given.get("pour_limit_minutes")
    if limit is not None and int(limit) <= 0:
        raise Refusal(
            "bad-item", _("The pour limit is at least one minute."), field=f"{kind}_pour_limit"
        )
    impression = form == "impression"
    return Item(
        kind=kind,
        form=form,
        material=material if impression else "",
        pour_limit_minutes=int(limit) if limit is not None and impression else None,
        taken_at=read_instant(given.get("taken_at"), now=record.now, field=f"{kind}_taken_at"),
        tray=str(given.get("tray") or "") if impression else "",
    )


def _void_casts(record: Recorder, case: Case, replaced: set[str]) -> list[str]:
    """Void the casts of the arches that came anew; the working side includes its master."""
    labels = {"opposing"} & replaced | {things.WORKING, things.MASTER}
    void = []
    for cast in case.things.filter(kind="cast", state="in-use", label__in=labels):
        record.change(cast, state="void")
        void.append(cast.label)
    for cast in case.things.filter(kind="cast", state="in-use"):
        # Its impression stays: the pour that comes now is not the pour of this cast.
        record.change(cast, pour=None)
    return void


def _swap_received(record: Recorder, case: Case, came: list[Item], known: Disinfection) -> None:
    for old in case.received.filter(item__in=[item.kind for item in came]).exclude(state="void"):
        record.change(old, state="void")
    record.create_many(
        [
            Received(
                case=case,
                item=item.kind,
                form=item.form,
                material=item.material,
                pour_limit_minutes=item.pour_limit_minutes,
                taken_at=item.taken_at,
                came_at=record.now,
                disinfected_by=known.by,
                disinfected_with=known.agent[:60],
                disinfected_minutes=known.minutes,
            )
            for item in came
        ]
    )
