"""Put down what nobody put down: when a tablet locks, somebody leaves, or a shift is over."""

from __future__ import annotations

import uuid
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from django.db.models import Q
from django.utils.translation import gettext as _

from cases.domain.shifts import left_at
from cases.models import ClosedDay, Lab, OpenHours, Person, WorkSpan
from cases.services.access import lock_case
from cases.services.progress import refresh
from cases.services.record import Envelope, Recorder, Refusal, verb
from cases.services.stage import close_span

SPACE = uuid.UUID("0f0a53d6-3b1e-5d1d-9f5e-7d7a5a0c8a44")
"""Namespace of the clock's submissions: one thing can be put down by one submission only."""

WHY = {"lock": "tablet locked", "leave": "left the bench", "shift": "end of shift"}
"""How a span was ended by the program, and the words that stand in the event."""


def cases_in_hand(people: Q) -> list[int]:
    """Return the cases that those whom ``people`` finds have in hand, in the order of locking."""
    spans = WorkSpan.objects.filter(people, ended_at__isnull=True)
    found = spans.order_by("run__stage__case_id").values_list("run__stage__case_id", flat=True)
    return list(found.distinct())


def pause_case(
    record: Recorder, case_id: int, spans: Q, how: str, at: datetime | None = None
) -> list[int]:
    """Pause the running stages of one case that ``spans`` finds, to be checked later.

    Parameters
    ----------
    how
        A key of ``WHY``.
    at
        When the hands stopped; by default when it happened.
    """
    case = lock_case(case_id)
    found = (
        WorkSpan.objects.select_for_update()
        .filter(spans, run__stage__case=case, ended_at__isnull=True)
        .order_by("pk")
    )
    done = []
    for span in found:
        stage = span.run.stage
        stopped = at or record.happened_at
        record.event("stage.paused", case=case, subject=stage.key, why=WHY[how], at=stopped)
        close_span(record, span.run, ended_how=how, at=stopped)
        if stage.state == "running":
            record.change(stage, state="paused", version=stage.version + 1)
        done.append(stage.pk)
    if done:
        refresh(record, case)
    return done


@verb("stage.put-down", may=None)
def put_down(record: Recorder, *, span: int) -> dict[str, Any]:
    """Pause a stage that was left running, as of ``happened_at``; done by the clock only."""
    if record.envelope.door not in {"clock", "command"}:
        raise Refusal("not-allowed", _("Only the clock puts a forgotten stage down."))
    row = WorkSpan.objects.filter(pk=span).values("run__stage__case_id", "ended_at").first()
    if row is None or row["ended_at"] is not None:
        raise Refusal("not-running", _("Nobody has this in hand any more."))
    return {"paused": pause_case(record, row["run__stage__case_id"], Q(pk=span), "shift")}


def pause_forgotten(now: datetime) -> int:
    """Pause every stage whose hands have gone home, as of then; return how many.

    The minutes are kept up to the end of the shift and shown for correction.
    """
    count = 0
    for span in WorkSpan.objects.filter(ended_at__isnull=True).select_related("person"):
        end = gone_home(span.person, span.began_at, now)
        if end is None:
            continue
        envelope = Envelope(
            "clock",
            now,
            happened_at=end,
            submission_id=uuid.uuid5(SPACE, f"put-down:{span.pk}:{end.isoformat()}"),
        )
        try:
            count += len(put_down(envelope, span=span.pk).result["paused"])
        except Refusal:
            continue  # somebody was quicker; the refusal is in the record
    return count


def gone_home(person: Person, since: datetime, now: datetime) -> datetime | None:
    """Return when the hands that worked at ``since`` went home, or None while they may be here."""
    lab = Lab.objects.first()
    if lab is None:
        return None
    zone = ZoneInfo(lab.zone)
    day = since.astimezone(zone).date()
    closed = ClosedDay.objects.filter(day=day).exists()
    away = person.absences.filter(first_on__lte=day, last_on__gte=day).exists()
    shifts = person.shifts.filter(weekday=day.weekday())
    hours = OpenHours.objects.filter(weekday=day.weekday())
    return left_at(
        since,
        now,
        zone=zone,
        shifts=[] if closed or away else [(s.begins, s.ends) for s in shifts],
        opening=[] if closed else [(h.opens, h.closes) for h in hours],
    )
