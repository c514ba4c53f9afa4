"""The clock's look at the feeds: a bath that does not heat rings; a load's trace is put down."""

from __future__ import annotations

import uuid
from datetime import datetime, timedelta
from typing import Any

from django.db import transaction
from django.db.models import Max, Q
from django.utils.translation import gettext as _

from cases.domain.cure.watch import Finding, watch
from cases.models import BathFeed, Load, LoadTrace, Timer
from cases.selectors.cure_settings import probe_check
from cases.selectors.feeds import readings, watched_loads
from cases.selectors.loads import as_run
from cases.services.alarms import fire_one
from cases.services.bath_raw import take_in_trace
from cases.services.bath_record import day_of
from cases.services.record import Envelope, Recorder, Refusal, verb

KINDS = ("not-rising", "dropping", "silent")
SPACE = uuid.UUID("b1c0a6a2-6f5f-5d0f-9a58-5d3f3a6c8e10")
"""Namespace of the clock's submissions about feeds."""
LATE_ROWS = timedelta(minutes=10)
"""A feed that has told nothing since the flasks left the bath is waited for so long."""
SET_UP = timedelta(minutes=10)
"""A feed that was set up during a load has so long to tell its first temperature. Judgement."""
LOOKED_BACK = timedelta(days=2)
"""A load that left the bath longer ago without a trace gets none any more."""


def _clock_only(record: Recorder) -> None:
    if record.envelope.door not in {"clock", "command"}:
        raise Refusal("not-allowed", _("Only the clock looks at the feeds."))


def look(load: Load, now: datetime) -> Finding | None:
    """Say what the feed of a load's bath shows to be wrong now, or None."""
    if load.starts_at is None or load.ends_at is None or now < load.starts_at:
        return None
    begins, minute = load.starts_at, timedelta(minutes=1)
    told = [
        ((at - begins) / minute, celsius) for at, celsius in readings(load.bath_id, begins, now)
    ]
    check = probe_check(load.bath_id, _probe(load.bath_id), day_of(load, now))
    if check is not None:
        told = [(at, celsius - check.reads_high_k) for at, celsius in told]
    return watch(as_run(load), (load.ends_at - begins) / minute, told, (now - begins) / minute)


def _probe(bath: int) -> str:
    feed = BathFeed.objects.filter(bath=bath, ended_at__isnull=True).first()
    return feed.probe if feed else ""


def watch_feeds(now: datetime) -> int:
    """Ring for every bath that does not heat as its program asks; return how many rang anew.

    An alarm stands for one trouble: it is not raised again until the bath was well in between.
    What is seen stays with the feed for as long as it is so, for who has acknowledged the alarm.
    """
    rung, watched = 0, watched_loads()
    idle = BathFeed.objects.exclude(pk__in=[feed.pk for _load, feed in watched])
    idle.exclude(fault="").update(fault="")
    for load, feed in watched:
        found = _looked(load, feed, now)
        if found is None or load.starts_at is None or _told(load, found):
            continue
        since = load.starts_at + timedelta(minutes=found.since)
        key = f"feed-{load.pk}-{found.kind}-{since.isoformat()}"
        envelope = Envelope("clock", now, submission_id=uuid.uuid5(SPACE, key))
        try:
            made = raise_feed_alarm(envelope, load=load.number, kind=found.kind, stage=found.stage)
        except Refusal:
            # Taken out between the look and the lock.
            continue
        rung += fire_one(made.result["timer"], now)
    return rung


def _looked(load: Load, feed: BathFeed, now: datetime) -> Finding | None:
    """Look at a load, but not while another worker takes its temperatures in: they are not there
    yet, and would look like silence."""
    with transaction.atomic():
        free = BathFeed.objects.select_for_update(skip_locked=True).filter(pk=feed.pk).first()
        if free is None:
            return None
        found = look(load, now)
        if found is not None and found.kind == "silent" and now - feed.made_at < SET_UP:
            found = None
        fault = found.kind if found else ""
        if free.fault != fault:
            BathFeed.objects.filter(pk=feed.pk).update(fault=fault)
    return found


def _told(load: Load, found: Finding) -> bool:
    """Tell whether an alarm of this trouble was raised already, or one of its kind is open."""
    if load.starts_at is None:
        return False
    since = load.starts_at + timedelta(minutes=found.since)
    alarms = Timer.objects.filter(load=load, kind=found.kind).exclude(state="cancelled")
    still = Q(alert__acknowledged_at__isnull=True)
    return alarms.filter(Q(due_at__gte=since) | still).exists()


@verb("feed.alarm", may=None)
def raise_feed_alarm(record: Recorder, *, load: int, kind: str, stage: int) -> dict[str, Any]:
    """Make the alarm of a bath that does not heat; done by the clock only.

    Raises
    ------
    Refusal
        ``not-allowed``, ``no-kind``, ``not-running``.
    """
    _clock_only(record)
    if kind not in KINDS:
        raise Refusal("no-kind", _("There is no such trouble of a bath."))
    row = Load.objects.select_for_update().filter(number=load, state="running").first()
    if row is None:
        raise Refusal("not-running", _("This load is not in the bath."))
    record.event("feed.alarm", subject=f"load {row.number}", trouble=kind)
    timer = record.create(Timer, load=row, kind=kind, step=stage, due_at=record.now)
    return {"timer": timer.pk}


def offer_traces(now: datetime) -> int:
    """Put the live temperatures of loads that are over down as raw records; return how many."""
    made = 0
    over = Load.objects.filter(
        state="over", trace=None, starts_at__isnull=False, bath__feeds__ended_at__isnull=True
    ).filter(bath__feeds__last_at__isnull=False)
    for load in over.annotate(out=Max("flasks__left_at")).select_related("bath").distinct():
        out = load.out or load.ends_at
        if out is None or load.starts_at is None or out < now - LOOKED_BACK:
            continue
        late = not BathFeed.objects.filter(bath=load.bath_id, last_at__gte=out).exists()
        if late and now < out + LATE_ROWS:
            continue
        told = readings(load.bath_id, load.starts_at, out)
        if len(told) < 2:
            continue
        sha256 = take_in_trace(told)
        key = uuid.uuid5(SPACE, f"trace-{load.pk}-{sha256}")
        try:
            offer_trace(Envelope("clock", now, submission_id=key), load=load.number, sha256=sha256,
                        readings=len(told), first_at=told[0][0].isoformat(),
                        last_at=told[-1][0].isoformat())  # fmt: skip
        except Refusal:
            continue
        made += 1
    return made


@verb("feed.offer", may=None)
def offer_trace(
    record: Recorder, *, load: int, sha256: str, readings: int, first_at: str, last_at: str
) -> dict[str, Any]:
    """Keep which raw record holds the live temperatures of a load; done by the clock only.

    Raises
    ------
    Refusal
        ``not-allowed``, ``not-over``, ``offered`` where there is one.
    """
    _clock_only(record)
    row = Load.objects.select_for_update().filter(number=load, state="over").first()
    if row is None:
        raise Refusal("not-over", _("This load has not left its bath."))
    if LoadTrace.objects.filter(load=row).exists():
        raise Refusal("offered", _("The temperatures of this load were put down already."))
    record.event("feed.trace-offered", subject=f"load {row.number}", readings=readings)
    made = record.create(
        LoadTrace,
        load=row,
        sha256=sha256,
        readings=readings,
        first_at=datetime.fromisoformat(first_at),
        last_at=datetime.fromisoformat(last_at),
        probe=_probe(row.bath_id),
        made_at=record.now,
    )
    return {"trace": made.pk}
