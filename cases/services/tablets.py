"""Shared tablets: enrol one, open it with a PIN, change person, leave the bench."""

from __future__ import annotations

import uuid
from datetime import datetime, timedelta
from typing import Any

from django.db.models import Q
from django.utils import timezone
from django.utils.translation import gettext as _

from cases.models import BenchSession, Lab, Person, Station, Tablet
from cases.services.access import lock_case
from cases.services.put_down import SPACE, cases_in_hand, pause_case
from cases.services.record import Envelope, Outcome, Recorder, Refusal, verb
from cases.services.secrets import fingerprint, is_right, one_time_token, token_digest

PIN_FAILURES = 5
PIN_LOCK = timedelta(minutes=5)
"""So many wrong PINs in a row lock a person's PIN for so long. Judgement."""

USUAL_IDLE = timedelta(minutes=5)
"""After so long without a touch a tablet locks while no laboratory says otherwise."""


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
    for session in row.sessions.filter(closed_at__isnull=True):
        record.change(session, closed_at=record.now, closed_how="revoked")
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


def locks_at(session: BenchSession) -> datetime:
    """Return when a tablet locks by itself if nobody touches it any more."""
    minutes = Lab.objects.values_list("idle_lock_minutes", flat=True).first()
    idle = timedelta(minutes=minutes) if minutes else USUAL_IDLE
    return session.seen_at + idle


def _hold_work(tablet_id: int | None) -> list[int]:
    """Lock the cases in the hands of who has this tablet: cases are locked before tablets.

    What is taken in hand between this and the lock of the tablet is not among them; it goes on
    running, and the end of the shift finds it.
    """
    if tablet_id is None:
        return []
    there = BenchSession.objects.filter(tablet_id=tablet_id, closed_at__isnull=True)
    cases = cases_in_hand(Q(person__in=there.values("person")))
    for case_id in cases:
        lock_case(case_id)
    return cases


def _lock(
    record: Recorder, tablet: Tablet, how: str, cases: list[int], *, stays: Person | None = None
) -> list[int]:
    """Lock the tablet and put down the work of who has it, as of then; return the stages.

    ``stays``: who opens it now; their own work does not stop by it.
    """
    paused: list[int] = []
    for session in tablet.sessions.select_for_update().filter(closed_at__isnull=True):
        record.event("bench.closed", subject=tablet.name)
        by_itself = locks_at(session)
        idle = by_itself < record.now
        at = by_itself if idle else record.happened_at
        closed_at = by_itself if idle else record.now
        record.change(session, closed_at=closed_at, closed_how="idle" if idle else how)
        mine = stays is not None and session.person_id == stays.pk and not idle
        if not mine and _puts_down() and not _elsewhere(session, at):
            for case_id in cases:
                hands = Q(person=session.person_id, began_at__lte=at)
                paused += pause_case(record, case_id, hands, "lock", at)
    return paused


def _puts_down() -> bool:
    return Lab.objects.values_list("lock_puts_down", flat=True).first() is not False


def _elsewhere(session: BenchSession, at: datetime) -> bool:
    """Tell whether the person was at work at another tablet when this one locked."""
    others = BenchSession.objects.filter(person=session.person_id, closed_at__isnull=True)
    return any(locks_at(other) > at for other in others.exclude(pk=session.pk))


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
    cases = _hold_work(record.envelope.tablet_id)
    tablet = _tablet(record)
    row = _person_with_pin(record, person)
    if not right or against != fingerprint(row.pin_hash):
        return {"opened": False, "sentence": _count_wrong(record, row, tablet)}
    _lock(record, tablet, "change", cases, stays=row)
    record.event("bench.opened", subject=tablet.name, person=row.pk)
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
    """Lock the tablet; what its person has in hand is put down, if the laboratory wants that.

    ``how``: ``change`` (tapped) or ``idle`` (by itself).
    """
    cases = _hold_work(record.envelope.tablet_id)
    tablet = _tablet(record)
    if how not in {"change", "idle"}:
        raise Refusal("bad-how", _("A tablet is locked by a tap or by itself."))
    return {"tablet": tablet.pk, "paused": _lock(record, tablet, how, cases)}


@verb("bench.lock-idle", may=None)
def lock_idle(record: Recorder, *, session: int) -> dict[str, Any]:
    """Lock a tablet that nobody has touched for the laboratory's idle minutes, as of then.

    Done by the clock only: the sweep, and the request that finds it so.
    """
    if record.envelope.door not in {"clock", "command"}:
        raise Refusal("not-allowed", _("Only the clock locks a tablet that nobody touches."))
    there = BenchSession.objects.filter(pk=session, closed_at__isnull=True)
    locked = Refusal("no-session", _("This tablet is locked already."))
    found = there.values_list("tablet_id", flat=True).first()
    if found is None:
        raise locked
    cases = _hold_work(found)
    tablet = Tablet.objects.select_for_update().get(pk=found)
    row = there.select_for_update().first()
    if row is None:
        raise locked
    if locks_at(row) >= record.now:
        raise Refusal("in-use", _("Somebody has touched this tablet meanwhile."))
    return {"tablet": tablet.pk, "paused": _lock(record, tablet, "idle", cases)}


def lock_if_idle(session: BenchSession, now: datetime) -> bool:
    """Lock a tablet if nobody has touched it for too long; tell whether this call did it.

    However many find it at once, one submission locks it.
    """
    at = locks_at(session)
    if at >= now:
        return False
    envelope = Envelope(
        "clock",
        now,
        tablet_id=session.tablet_id,
        happened_at=at,
        submission_id=uuid.uuid5(SPACE, f"lock:{session.pk}:{at.isoformat()}"),
    )
    try:
        return not lock_idle(envelope, session=session.pk).repeated
    except Refusal:
        return False  # somebody was quicker; the refusal is in the record


def lock_idle_tablets(now: datetime) -> int:
    """Lock every tablet that nobody touches; return how many."""
    open_ones = BenchSession.objects.filter(closed_at__isnull=True)
    return sum(lock_if_idle(session, now) for session in open_ones)


@verb("bench.leave", may="work")
def leave_bench(record: Recorder) -> dict[str, Any]:
    """End one's work: pause what runs in the actor's name and lock the tablet.

    The minutes up to now are kept and shown for correction.
    """
    mine = Q(person=record.actor)
    paused = []
    for case_id in cases_in_hand(mine):
        paused += pause_case(record, case_id, mine, "leave")
    record.event("bench.left", subject=record.tablet.name if record.tablet else "")
    if record.tablet is not None:
        for session in record.tablet.sessions.filter(closed_at__isnull=True):
            record.change(session, closed_at=record.now, closed_how="leave")
    return {"paused": paused}
