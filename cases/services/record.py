"""The one way to write: a verb runs under a submission, in one transaction, and leaves events.

A service is a function decorated with ``verb``. Callers pass an ``Envelope`` and keyword
arguments that are JSON primitives; the service receives a ``Recorder``, through which it
creates and changes rows, so that no stored cell can change without standing in an event.
"""

from __future__ import annotations

import hashlib
import json
import uuid
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time
from decimal import Decimal
from functools import cached_property, wraps
from typing import Any, Protocol, TypeVar

from django.db import connection, models, transaction
from django.utils.translation import gettext as _

from cases.domain.rights import CAPABILITIES, capabilities
from cases.models import Case, Event, Person, Submission, Tablet
from cases.models.columns import COLUMNS
from cases.selectors.rows import find, only
from cases.services import rows
from cases.services.nudge import nudge_after

M = TypeVar("M", bound=models.Model)

FEW = 12
"""Up to so many rows are saved one by one: one statement for all is longer to write than that.
Measured on SQLite.
"""


class Refusal(Exception):
    """An expected no: ``code`` for machines, ``sentence`` (fact and next step) for people.

    ``field`` names the form field it belongs beside, where there is one.
    """

    def __init__(self, code: str, sentence: str, *, field: str = "", **detail: Any) -> None:
        super().__init__(sentence)
        self.code = code
        self.sentence = sentence
        self.field = field
        self.detail = detail


class OtherBody(Refusal):
    """The submission id was used before with another body (HTTP 409)."""


@dataclass(frozen=True)
class Envelope:
    """Who submits, through which door, when.

    ``door``: ``web``, ``bench``, ``portal``, ``api``, ``clock`` or ``command``. ``now`` is the
    server's instant; ``happened_at`` the device's (None: the same), used for minutes only.
    """

    door: str
    now: datetime
    person_id: int | None = None
    tablet_id: int | None = None
    happened_at: datetime | None = None
    submission_id: uuid.UUID = field(default_factory=uuid.uuid4)


@dataclass(frozen=True)
class Outcome:
    """What a verb returned; ``repeated`` when an earlier submission's result was returned."""

    result: dict[str, Any]
    repeated: bool
    submission_id: uuid.UUID


class Verb(Protocol):
    """A decorated service: called with an envelope, or ``inner`` with a running recorder."""

    name: str
    may: str | None
    inner: Callable[..., dict[str, Any]]

    def __call__(self, envelope: Envelope, /, **body: Any) -> Outcome:
        """Run the verb under a new submission."""


VERBS: dict[str, Verb] = {}
"""Every verb by name: the property tests count that each succeeds and is refused."""


def plain(value: Any) -> Any:
    """Return ``value`` as JSON primitives, the same for a fresh and a stored value."""
    if isinstance(value, datetime):
        return value.astimezone(UTC).isoformat()
    if isinstance(value, date | time):
        return value.isoformat()
    if isinstance(value, Decimal):
        return format(value.normalize(), "f")
    if isinstance(value, uuid.UUID):
        return str(value)
    if isinstance(value, models.Model):
        return value.pk
    if isinstance(value, dict):
        return {str(key): plain(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [plain(item) for item in value]
    if isinstance(value, set | frozenset):
        return sorted(plain(item) for item in value)
    return value


def canonical(value: Any) -> str:
    """Return ``value`` as the one JSON text that is hashed."""
    return json.dumps(plain(value), sort_keys=True, separators=(",", ":"), ensure_ascii=False)


def private_hash(model: str, pk: Any, column: str, value: Any) -> str:
    """Return what stands in an event in place of a private value."""
    text = f"{model}:{pk}:{column}:{canonical(value)}"
    return "sha256:" + hashlib.sha256(text.encode()).hexdigest()


def cell(obj: models.Model, column: str) -> Any:
    """Return one recorded cell of ``obj`` as it stands in an event."""
    name = type(obj).__name__
    concrete = type(obj)._meta.get_field(column)
    # As the database would give it back: a default of 1 and a stored 1.00 are one value.
    value = concrete.to_python(getattr(obj, concrete.attname))  # type: ignore[union-attr]
    if column in COLUMNS[name].private:
        return private_hash(name, obj.pk, column, value)
    return plain(value)


def event_digest(row: Event) -> str:
    """Return the hash over an event's own content."""
    content = [
        str(row.submission_id), row.n, row.kind, row.subject, row.case_id, row.by_id,
        row.happened_at, row.received_at, row.facts, row.changes, row.corrects_id,
    ]  # fmt: skip
    return hashlib.sha256(canonical(content).encode()).hexdigest()


class Recorder:
    """Writes rows and, in step, the events that say so. One per running verb."""

    def __init__(self, envelope: Envelope, verb_name: str) -> None:
        self.envelope = envelope
        self.verb_name = verb_name
        self.now = envelope.now
        happened = envelope.happened_at
        self.happened_at = min(happened, self.now) if happened else self.now
        self.person = self._acting()
        self.events: list[Event] = []
        self.present: Event | None = None

    def _acting(self) -> Person | None:
        wanted = self.envelope.person_id
        if not wanted:
            return None
        person = only(find(Person, id=wanted))
        if person is None:
            raise Person.DoesNotExist
        return person

    @cached_property
    def tablet(self) -> Tablet | None:
        """Return the tablet that this comes from; only few verbs ask."""
        wanted = self.envelope.tablet_id
        return Tablet.objects.get(pk=wanted) if wanted else None

    @property
    def actor(self) -> Person:
        """Return the acting person; a verb for people refuses the clock."""
        if self.person is None:
            raise Refusal("no-person", _("Nobody is signed in. Sign in and try again."))
        return self.person

    def may(self, capability: str) -> bool:
        """Tell whether the actor has ``capability``; the program itself has all."""
        if self.person is None:
            return self.envelope.door in {"clock", "command"}
        return self.person.active and capability in capabilities(
            self.person.roles, door=self.envelope.door
        )

    def require(self, capability: str | None) -> None:
        """Raise Refusal when the actor lacks ``capability``."""
        if capability is not None and not self.may(capability):
            raise Refusal("not-allowed", _("You may not do this. Ask somebody who may."))

    def event(
        self,
        kind: str,
        *,
        case: Case | None = None,
        subject: str = "",
        corrects: Event | None = None,
        **facts: Any,
    ) -> Event:
        """Open an event; the creates and changes that follow belong to it."""
        row = Event(
            submission_id=self.envelope.submission_id,
            n=len(self.events) + 1,
            kind=kind,
            subject=subject[:60],
            case=case,
            by=self.person,
            happened_at=self.happened_at,
            received_at=self.now,
            facts=plain(facts),
            changes=[],
            corrects=corrects,
        )
        self.events.append(row)
        self.present = row
        return row

    @contextmanager
    def aside(self, kind: str, *, case: Case, subject: str, **facts: Any) -> Iterator[Event]:
        """Open an event for what is written inside; what follows belongs to the earlier one."""
        before = self.present
        yield self.event(kind, case=case, subject=subject, **facts)
        self.present = before

    def _event_for(self, obj: models.Model, doing: str) -> Event:
        if self.present is None:
            message = f"{self.verb_name} {doing} {type(obj).__name__} before opening an event"
            raise RuntimeError(message)
        return self.present

    def _log(self, obj: models.Model, columns: Iterable[str], under: Event | None = None) -> None:
        event = under or self._event_for(obj, "writes")
        cells = {column: cell(obj, column) for column in columns}
        event.changes.append({"m": type(obj).__name__, "pk": plain(obj.pk), "set": cells})

    def create(self, model: type[M], **fields: Any) -> M:
        """Create a row and log every recorded column of it."""
        obj = model(**fields)
        rows.insert(obj)
        self._log_new(obj)
        return obj

    def create_many(self, new: Sequence[M], under: Sequence[Event] = ()) -> Sequence[M]:
        """Create rows of one model, many in one statement, and log each.

        ``under``: the event of each row; none: the present event for all.
        """
        _insert_all(new)
        for place, obj in enumerate(new):
            self._log_new(obj, under[place] if under else None)
        return new

    def _log_new(self, obj: models.Model, under: Event | None = None) -> None:
        listed = COLUMNS[type(obj).__name__]
        self._log(obj, (*listed.recorded, *listed.private), under)

    def change(self, obj: M, **fields: Any) -> M:
        """Set fields of a row; only those that differ are saved and logged."""
        changed = []
        for name, value in fields.items():
            if getattr(obj, name) != value:
                setattr(obj, name, value)
                changed.append(name)
        if changed:
            rows.update([obj], changed)
            cached = COLUMNS[type(obj).__name__].cache
            logged = [name for name in changed if name not in cached]
            if logged:
                self._log(obj, logged)
        return obj

    def change_many(self, changed: Sequence[M], names: Sequence[str]) -> None:
        """Save ``names`` of rows already set and log each row."""
        if changed:
            rows.update(changed, names)
        for obj in changed:
            self._log(obj, names)

    def change_alike(self, changed: Sequence[M], **fields: Any) -> None:
        """Set the same values in all rows, in one statement, and log each row."""
        if changed:
            wanted = type(changed[0])._default_manager.filter(pk__in=[obj.pk for obj in changed])
            wanted.order_by().update(**fields)
            for obj in changed:
                for name, value in fields.items():
                    setattr(obj, name, value)
                self._log(obj, fields)

    def remove(self, obj: models.Model) -> None:
        """Delete a row of reference data; the event keeps that it was there."""
        event = self._event_for(obj, "removes")
        event.changes.append({"m": type(obj).__name__, "pk": plain(obj.pk), "gone": True})
        obj.delete()

    def write(self, body_hash: str, result: dict[str, Any]) -> None:
        """Store the submission and its events; the last thing in the transaction."""
        _submission(self.envelope, self.verb_name, body_hash, "done", "", result)
        for row in self.events:
            row.digest = event_digest(row)
        _insert_all(self.events)


def _insert_all(new: Sequence[models.Model]) -> None:
    """Insert rows of one model: up to FEW one by one, more in one statement."""
    if len(new) > FEW:
        type(new[0])._default_manager.bulk_create(new)
    else:
        for obj in new:
            rows.insert(obj)


def _submission(
    envelope: Envelope, name: str, body_hash: str, outcome: str, code: str, result: dict[str, Any]
) -> None:
    row = Submission(
        id=envelope.submission_id,
        verb=name,
        door=envelope.door,
        person_id=envelope.person_id,
        tablet_id=envelope.tablet_id,
        body_hash=body_hash,
        happened_at=envelope.happened_at or envelope.now,
        received_at=envelope.now,
        outcome=outcome,
        code=code,
        result=plain(result),
    )
    rows.insert(row)


def _queue_twins(submission_id: uuid.UUID) -> None:
    """Make a twin with the same id wait until this transaction has ended.

    SQLite's immediate transactions do that by themselves.
    """
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            number = int.from_bytes(submission_id.bytes[:8], "big", signed=True)
            cursor.execute("SELECT pg_advisory_xact_lock(%s)", [number])


def _earlier(submission_id: uuid.UUID, body_hash: str) -> Outcome | None:
    """Return the stored outcome of this id, raise the stored refusal, or return None."""
    _queue_twins(submission_id)
    stored = only(find(Submission, id=submission_id))
    if stored is None:
        return None
    if stored.body_hash != body_hash:
        raise OtherBody(
            "other-body",
            _(
                "This form was already sent with other entries. Open the page again and look "
                "at what is stored before you send it anew."
            ),
        )
    if stored.outcome == "refused":
        raise Refusal(stored.code, stored.result["sentence"], field=stored.result.get("field", ""))
    return Outcome(stored.result, True, stored.pk)


def perform(
    name: str,
    may: str | None,
    envelope: Envelope,
    body: dict[str, Any],
    run: Callable[..., dict[str, Any]],
) -> Outcome:
    """Run ``run`` under one submission.

    Returns
    -------
    Outcome
        With ``repeated`` true when the same id and body were stored before.

    Raises
    ------
    OtherBody
        The id was used with another body.
    Refusal
        The verb refused; stored in a transaction of its own, nothing else was kept.
    """
    hashed = canonical([name, envelope.person_id, body])
    body_hash = hashlib.sha256(hashed.encode()).hexdigest()
    looked_up = False
    try:
        with transaction.atomic():
            earlier = _earlier(envelope.submission_id, body_hash)
            looked_up = True
            if earlier is not None:
                return earlier
            recorder = Recorder(envelope, name)
            recorder.require(may)
            result = plain(run(recorder, **body) or {})
            recorder.write(body_hash, result)
            nudge_after(event.kind for event in recorder.events)
            return Outcome(result, False, envelope.submission_id)
    except Refusal as refusal:
        if not looked_up:
            raise
        with transaction.atomic():
            earlier = _earlier(envelope.submission_id, body_hash)
            if earlier is not None:
                return earlier
            answer = {"sentence": refusal.sentence, "field": refusal.field}
            _submission(envelope, name, body_hash, "refused", refusal.code, answer)
        raise


def verb(name: str, *, may: str | None) -> Callable[[Callable[..., dict[str, Any] | None]], Verb]:
    """Make a function a verb that only who has the capability ``may`` can do.

    ``may=None`` leaves the decision to the function (signing in, the clock).

    Raises
    ------
    LookupError
        For a capability that is in no table: nobody would ever have it.
    """
    if may is not None and may not in CAPABILITIES:
        raise LookupError(f"There is no capability “{may}”.")

    def decorate(run: Callable[..., dict[str, Any] | None]) -> Verb:
        @wraps(run)
        def call(envelope: Envelope, /, **body: Any) -> Outcome:
            return perform(name, may, envelope, body, run)  # type: ignore[arg-type]

        call.name = name  # type: ignore[attr-defined]
        call.may = may  # type: ignore[attr-defined]
        call.inner = run  # type: ignore[attr-defined]
        VERBS[name] = call  # type: ignore[assignment]
        return call  # type: ignore[return-value]

    return decorate
