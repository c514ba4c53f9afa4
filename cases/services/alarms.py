"""Fire timers, ring until somebody acknowledges, stamp the heartbeat.

Firing and the alert are one transaction. Ringing is at least once: a ring is claimed by a
lease, and whoever dies with the lease in hand is followed by the next sweep.
"""

from __future__ import annotations

import uuid
from datetime import datetime, timedelta
from typing import Any

from django.db.models import F, Q
from django.utils.translation import gettext as _

from cases.domain.words import N_
from cases.models import Alert, Delivery, Heartbeat, Load, Timer
from cases.services.access import lock_case
from cases.services.record import Envelope, Recorder, Refusal, verb

RING_AGAIN = timedelta(minutes=2)
LEASE = timedelta(seconds=30)
BATCH = 200
SPACE = uuid.UUID("5a0e5a36-6f0b-5c52-9d8d-1f1f4f7c2a11")
"""Namespace of the clock's submissions: one timer can be fired by one submission only."""

WORDS = {
    "wait-over": N_("{number}: the wait is over. Next: {stage}."),
    "latest-soon": N_("{number}: {stage} should begin within 15 minutes."),
    "latest": N_("{number}: {stage} should have begun by now."),
    "pour-soon": N_("{number}: pour the impression within 15 minutes."),
    "pour": N_("{number}: the impression is past its time. Pour now, or ask the practice."),
    "forgotten": N_("{number}: {stage} has run for long. Still at it?"),
    "dough": N_("{number}: the dough should be ready. Look at it, then pack."),
    "dough-soon": N_("{number}: the dough stiffens in 3 minutes. Close the flask for good."),
    "dough-over": N_("{number}: the maker's time of the dough is over. Do not force it closed."),
}
LOAD_WORDS = {
    "heat": N_("{load}: start the heating now."),
    "raise": N_("{load}: raise the bath to {celsius} °C now."),
    "boil": N_("{load}: bring the bath to the boil now."),
    "take-out": N_("{load}: the program is over. Take the flasks out and let them cool."),
    "to-water": N_("{load}: put the flasks into tap water now."),
    "not-rising": N_(
        "{load}: the bath does not heat towards {celsius} °C. Look at the heater, the plug and "
        "the fuse now."
    ),
    "dropping": N_(
        "{load}: the bath falls below {celsius} °C. Look at the heater, the plug and the fuse now."
    ),
    "silent": N_(
        "{load}: no temperature comes in any more. Read the thermometer of the bath, then look at "
        "the logger."
    ),
}
WITH_CELSIUS = frozenset({"raise", "not-rising", "dropping"})


def alarm_words(timer: Timer) -> str:
    """Say in the reader's language what a timer rings for."""
    if timer.load:
        stages = timer.load.program.document["stages"]
        celsius = f"{stages[timer.step]['celsius']:g}" if timer.kind in WITH_CELSIUS else ""
        return _(LOAD_WORDS[timer.kind]).format(load=load_name(timer.load), celsius=celsius)
    if timer.case is None or timer.stage is None:
        raise LookupError(f"Timer {timer.pk} belongs to nothing.")
    return _(WORDS[timer.kind]).format(number=timer.case.number, stage=_(timer.stage.name))


def load_name(load: Load) -> str:
    """Return what people call a load: its number and its bath."""
    return _("Load %(number)d, %(bath)s") % {"number": load.number, "bath": load.bath.name}


@verb("timer.fire", may=None)
def fire_timer(record: Recorder, *, timer: int) -> dict[str, Any]:
    """Turn a due timer into an alert; done by the clock only."""
    if record.envelope.door not in {"clock", "command"}:
        raise Refusal("not-allowed", _("Only the clock fires timers."))
    found = Timer.objects.filter(pk=timer).values_list("case_id", flat=True)
    if not found:
        raise Refusal("no-timer", _("There is no such timer."))
    case = lock_case(found[0]) if found[0] else None
    row = (
        Timer.objects.select_for_update(of=("self",))
        .select_related("case", "stage", "load__bath", "load__program")
        .get(pk=timer)
    )
    if row.state != "pending" or row.due_at > record.now:
        raise Refusal("not-due", _("This timer is %(state)s.") % {"state": row.state})
    subject = row.stage.key if row.stage else str(row.load).lower()
    record.event("timer.fired", case=case, subject=subject, timer_kind=row.kind)
    record.change(row, state="fired")
    words = alarm_words(row)[:200]
    alert = record.create(Alert, timer=row, words=words, raised_at=record.now)
    Delivery.objects.create(alert=alert)
    return {"alert": alert.pk}


@verb("alert.acknowledge", may="see-cases")
def acknowledge(record: Recorder, *, alert: int) -> dict[str, Any]:
    """Stop an alarm; somebody has heard it."""
    row = Alert.objects.select_for_update().select_related("timer").filter(pk=alert).first()
    if row is None:
        raise Refusal("no-alert", _("There is no such alarm. Load the page again."))
    if row.acknowledged_at is not None:
        if row.acknowledged_by is None:
            raise Refusal("acknowledged", _("It is still already: what it rang for is over."))
        raise Refusal(
            "acknowledged",
            _("%(who)s has acknowledged it already.") % {"who": row.acknowledged_by.name},
        )
    record.event("alert.acknowledged", case=row.timer.case, subject=row.timer.kind)
    record.change(row, acknowledged_at=record.now, acknowledged_by=record.person)
    return {"alert": row.pk}


def fire_one(timer_id: int, now: datetime) -> bool:
    """Fire one timer; False when another sweep did, or it was cancelled or moved meanwhile."""
    envelope = Envelope("clock", now, submission_id=uuid.uuid5(SPACE, f"timer-{timer_id}"))
    try:
        return not fire_timer(envelope, timer=timer_id).repeated
    except Refusal:
        # Cancelled or moved between the query and the lock: the next sweep sees it anew.
        return False


@verb("alert.acknowledge-many", may="see-cases")
def acknowledge_many(record: Recorder, *, alerts: list[int]) -> dict[str, Any]:
    """Stop several alarms that were told in one sentence; those already stopped stay so."""
    rows = (
        Alert.objects.select_for_update(of=("self",))
        .select_related("timer__case")
        .filter(pk__in=alerts, acknowledged_at__isnull=True)
        .order_by("pk")
    )
    done = []
    for row in rows:
        record.event("alert.acknowledged", case=row.timer.case, subject=row.timer.kind)
        record.change(row, acknowledged_at=record.now, acknowledged_by=record.person)
        done.append(row.pk)
    if not done:
        raise Refusal("acknowledged", _("Somebody has acknowledged them already."))
    return {"alerts": done}


def fire_due(now: datetime) -> int:
    """Fire every pending timer that is due; return how many."""
    due = Timer.objects.filter(state="pending", due_at__lte=now).order_by("due_at", "pk")
    waiting = list(due.values_list("pk", flat=True)[:BATCH])
    return sum(fire_one(timer_id, now) for timer_id in waiting)


def _turn(now: datetime) -> Q:
    """Return what a delivery fulfils that has not rung for a while."""
    return Q(sent_at__isnull=True) | Q(sent_at__lte=now - RING_AGAIN)


def claim_ring(delivery_id: int, now: datetime) -> bool:
    """Lease one ring; False when another sweep holds it or has just rung."""
    free = Q(lease_until__isnull=True) | Q(lease_until__lte=now)
    claimed = Delivery.objects.filter(free, _turn(now), pk=delivery_id).update(
        lease_until=now + LEASE
    )
    return claimed == 1


def ring(now: datetime) -> int:
    """Ring every open alarm whose turn it is; return how many rang.

    Screens sound when an alert's ring count has risen since they last looked.
    """
    waiting = Delivery.objects.filter(_turn(now), alert__acknowledged_at__isnull=True)
    rung = 0
    for delivery_id in list(waiting.values_list("pk", flat=True)[:BATCH]):
        if claim_ring(delivery_id, now):
            rung += Delivery.objects.filter(pk=delivery_id).update(
                sent_at=now, times=F("times") + 1, lease_until=None
            )
    return rung


def beat(name: str, now: datetime) -> None:
    """Stamp the heartbeat ``name``."""
    Heartbeat.objects.update_or_create(name=name, defaults={"at": now})
