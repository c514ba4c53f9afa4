"""Shared tablets: enrol one, open it with a PIN, change person, leave the bench."""

from __future__ import annotations

import uuid
from datetime import datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from django.db.models import Q
from django.utils import timezone
from django.utils.translation import gettext as _

from cases.domain.shifts import left_at
from cases.models import (
    BenchSession,
    ClosedDay,
    Lab,
    OpenHours,
    Person,
    Station,
    Tablet,
    WorkSpan,
)
from cases.services.access import lock_case
from cases.services.progress import refresh
from cases.services.record import Envelope, Outcome, Recorder, Refusal, verb
from cases.services.secrets import fingerprint, is_right, one_time_token, token_digest
from cases.services.stage import close_span

PIN_FAILURES = 5
PIN_LOCK = timedelta(minutes=5)
"""So many wrong PINs in a row lock a person's PIN for so long. Judgement."""

SPACE = uuid.UUID("0f0a53d6-3b1e-5d1d-9f5e-7d7a5a0c8a44")
"""Namespace of the clock's submissions: one span can be put down by one submission only."""


def enrol(envelope: Envelope, *, name: str, station: int | None = None) -> tuple[Outcome, str]:
    """Make the device that asks a tablet of the bench.

    Returns
    -------
    (Outcome, str)
        What was stored, and the token for the device's cookie; it is stored nowhere else.
    """
    token = one_time_token(envelope.submission_id, "tablet")
    outcome = _enrol(envelope, name=name.strip(), station=station, digest=token_digest(token))
    return outcome, token


@verb("tablet.enrol", may="settings")
def _enrol(record: Recorder, *, name: str, station: int | None, digest: str) -> dict[str, Any]:
    if not name:
        raise Refusal("no-name", _("Give the tablet a name, such as “Bench 3”."), field="name")
    if Tablet.objects.filter(name__iexact=name, revoked_at__isnull=True).exists():
        raise Refusal(
            "name-taken", _("Another tablet has this name. Choose a different one."), field="name"
        )
    place = Station.objects.filter(pk=station).first() if station else None
    record.event("tablet.enrolled", subject=name)
    row = record.create(
        Tablet,
        name=name,
        station=place,
        token_hash=digest,
        enrolled_by=record.actor,
        enrolled_at=record.now,
    )
    return {"tablet": row.pk}


@verb("tablet.revoke", may="settings")
def revoke(record: Recorder, *, tablet: int) -> dict[str, Any]:
    """Take a tablet out of use: lost, stolen or worn out. It asks for nothing any more."""
    row = Tablet.objects.select_for_update().filter(pk=tablet).first()
    if row is None or row.revoked_at is not None:
        raise Refusal("no-tablet", _("There is no such tablet in use. Load the page again."))
    record.event("tablet.revoked", subject=row.name)
    _close(record, row, "revoked")
    record.change(row, revoked_at=record.now)
    return {"tablet": row.pk}


def _tablet(record: Recorder) -> Tablet:
    """Return the tablet this comes from, locked."""
    row = (
        Tablet.objects.select_for_update().filter(pk=record.tablet.pk).first()
        if record.tablet
        else None
    )
    if row is None or row.revoked_at is not None:
        raise Refusal(
            "no-tablet",
            _("This device is not a tablet of the bench (any more). Ask the manager to enrol it."),
        )
    return row


def _idle(record: Recorder, session: BenchSession) -> bool:
    minutes = Lab.objects.values_list("idle_lock_minutes", flat=True).first() or 5
    return record.now - session.seen_at > timedelta(minutes=minutes)


def _close(record: Recorder, tablet: Tablet, how: str) -> None:
    for session in tablet.sessions.filter(closed_at__isnull=True):
        was_idle = how == "change" and _idle(record, session)
        record.change(session, closed_at=record.now, closed_how="idle" if was_idle else how)


def open_bench(envelope: Envelope, *, person: int, pin: str) -> Outcome:
    """Open the bench of this tablet for a person with a PIN.

    Raises
    ------
    Refusal
        ``no-tablet``, ``no-person``, ``no-pin``, ``pin-locked`` (after five wrong PINs), or
        ``wrong-pin``, whose sentence says how many tries are left.
    """
    stored = Person.objects.filter(pk=person).values_list("pin_hash", flat=True).first() or ""
    outcome = _open(
        envelope, person=person, right=is_right(pin.strip(), stored), against=fingerprint(stored)
    )
    if not outcome.result["opened"]:
        raise Refusal("wrong-pin", outcome.result["sentence"], field="pin")
    return outcome


def _person_with_pin(record: Recorder, person: int) -> Person:
    """Return the technician, locked, whose PIN may be tried now."""
    row = (
        Person.objects.select_for_update()
        .filter(pk=person, active=True, is_technician=True)
        .first()
    )
    if row is None:
        raise Refusal("no-person", _("This name is not on the bench any more. Choose another."))
    if not row.pin_hash:
        raise Refusal(
            "no-pin",
            _("%(name)s has no PIN yet. The manager sets one.") % {"name": row.name},
            field="pin",
        )
    if row.pin_locked_until is not None and row.pin_locked_until > record.now:
        at = timezone.localtime(row.pin_locked_until + timedelta(minutes=1)).strftime("%H:%M")
        raise Refusal(
            "pin-locked",
            _("Too many wrong PINs. Wait until %(at)s, or ask the manager for a new PIN.")
            % {"at": at},
            field="pin",
        )
    return row


@verb("bench.open", may=None)
def _open(record: Recorder, *, person: int, right: bool, against: str) -> dict[str, Any]:
    tablet = _tablet(record)
    row = _person_with_pin(record, person)
    if not right or against != fingerprint(row.pin_hash):
        return {"opened": False, "sentence": _count_wrong(record, row, tablet)}
    record.event("bench.opened", subject=tablet.name, person=row.pk)
    _close(record, tablet, "change")
    record.change(row, pin_failures=0, pin_locked_until=None)
    session = record.create(
        BenchSession, tablet=tablet, person=row, opened_at=record.now, seen_at=record.now
    )
    return {"opened": True, "session": session.pk}


def identify(envelope: Envelope, *, person: int, pin: str) -> Outcome:
    """Let a colleague show by PIN who they are; who has the tablet stays.

    Raises
    ------
    Refusal
        As `open_bench`.
    """
    stored = Person.objects.filter(pk=person).values_list("pin_hash", flat=True).first() or ""
    outcome = _identify(
        envelope, person=person, right=is_right(pin.strip(), stored), against=fingerprint(stored)
    )
    if not outcome.result["known"]:
        raise Refusal("wrong-pin", outcome.result["sentence"], field="pin")
    return outcome


@verb("bench.identify", may="work")
def _identify(record: Recorder, *, person: int, right: bool, against: str) -> dict[str, Any]:
    tablet = _tablet(record)
    row = _person_with_pin(record, person)
    if not right or against != fingerprint(row.pin_hash):
        return {"known": False, "sentence": _count_wrong(record, row, tablet)}
    record.event("bench.identified", subject=tablet.name, person=row.pk)
    record.change(row, pin_failures=0, pin_locked_until=None)
    return {"known": True}


def _count_wrong(record: Recorder, person: Person, tablet: Tablet) -> str:
    """Count a wrong PIN and return the sentence; a refusal would forget the count."""
    record.event("bench.wrong-pin", subject=tablet.name, person=person.pk)
    failures = person.pin_failures + 1
    if failures >= PIN_FAILURES:
        record.change(person, pin_failures=0, pin_locked_until=record.now + PIN_LOCK)
        return _("Wrong PIN. After five wrong ones it is locked for five minutes.")
    record.change(person, pin_failures=failures)
    left = PIN_FAILURES - failures
    return _("Wrong PIN. %(left)s tries are left, then it is locked for five minutes.") % {
        "left": left
    }


@verb("bench.close", may=None)
def close_bench(record: Recorder, *, how: str = "change") -> dict[str, Any]:
    """Lock the tablet; nobody's running stage stops.

    ``how``: ``change`` (tapped, or by itself: stored as ``idle`` when nobody had touched it for
    the lab's idle minutes).
    """
    tablet = _tablet(record)
    if how not in {"change", "idle"}:
        raise Refusal("bad-how", _("A tablet is locked by a tap or by itself."))
    record.event("bench.closed", subject=tablet.name)
    _close(record, tablet, how)
    return {"tablet": tablet.pk}


def _put_down(record: Recorder, case_id: int, spans: Q, why: str) -> list[int]:
    """Pause the running stages of one case that ``spans`` finds, to be checked later."""
    case = lock_case(case_id)
    found = (
        WorkSpan.objects.select_for_update()
        .filter(spans, run__stage__case=case, ended_at__isnull=True)
        .order_by("pk")
    )
    done = []
    for span in found:
        stage = span.run.stage
        record.event("stage.paused", case=case, subject=stage.key, why=why)
        close_span(record, span.run, to_check=True)
        if stage.state == "running":
            record.change(stage, state="paused", version=stage.version + 1)
        done.append(stage.pk)
    if done:
        refresh(record, case)
    return done


@verb("bench.leave", may="work")
def leave_bench(record: Recorder) -> dict[str, Any]:
    """End one's work: pause what runs in the actor's name and lock the tablet.

    The minutes up to now are kept and shown for correction.
    """
    person = record.actor
    mine = Q(person=person)
    cases = (
        WorkSpan.objects.filter(mine, ended_at__isnull=True)
        .order_by("run__stage__case_id")
        .values_list("run__stage__case_id", flat=True)
        .distinct()
    )
    paused = []
    for case_id in list(cases):
        paused += _put_down(record, case_id, mine, "left the bench")
    record.event("bench.left", subject=record.tablet.name if record.tablet else "")
    if record.tablet is not None:
        _close(record, record.tablet, "leave")
    return {"paused": paused}


@verb("stage.put-down", may=None)
def put_down(record: Recorder, *, span: int) -> dict[str, Any]:
    """Pause a stage that was left running, as of ``happened_at``; done by the clock only."""
    if record.envelope.door not in {"clock", "command"}:
        raise Refusal("not-allowed", _("Only the clock puts a forgotten stage down."))
    row = WorkSpan.objects.filter(pk=span).values("run__stage__case_id", "ended_at").first()
    if row is None or row["ended_at"] is not None:
        raise Refusal("not-running", _("Nobody has this in hand any more."))
    return {"paused": _put_down(record, row["run__stage__case_id"], Q(pk=span), "end of shift")}


def pause_forgotten(now: datetime) -> int:
    """Pause every stage whose hands have gone home, as of then; return how many.

    The minutes are kept up to the end of the shift and shown for correction.
    """
    spans = list(WorkSpan.objects.filter(ended_at__isnull=True).select_related("person"))
    lab = Lab.objects.first()
    if not spans or lab is None:
        return 0
    zone = ZoneInfo(lab.zone)
    count = 0
    for span in spans:
        end = _gone_at(span, now, zone)
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


def _gone_at(span: WorkSpan, now: datetime, zone: ZoneInfo) -> datetime | None:
    day = span.began_at.astimezone(zone).date()
    closed = ClosedDay.objects.filter(day=day).exists()
    away = span.person.absences.filter(first_on__lte=day, last_on__gte=day).exists()
    shifts = span.person.shifts.filter(weekday=day.weekday())
    hours = OpenHours.objects.filter(weekday=day.weekday())
    return left_at(
        span.began_at,
        now,
        zone=zone,
        shifts=[] if closed or away else [(s.begins, s.ends) for s in shifts],
        opening=[] if closed else [(h.opens, h.closes) for h in hours],
    )
