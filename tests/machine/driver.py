"""One run of the machine: a lab, some cases, a clock, and every submission it ever sent."""

from __future__ import annotations

import dataclasses
import random
import uuid
from collections import Counter
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any

from cases.models import Case, CaseStage, Event
from cases.services.record import Envelope, OtherBody, Refusal, Verb
from cases.services.verify_record import State, compare, compare_rows, replay
from tests.factories import NOW, Shop
from tests.machine.invariants import broken_rules

FULL_EVERY = 10
"""Every step compares the rows that its events name, every tenth all rows of all tables."""


@dataclass
class Sent:
    """A submission as it was sent, and what came back."""

    verb: Verb
    envelope: Envelope
    body: dict[str, Any]
    result: dict[str, Any] | None
    code: str


@dataclass
class Tally:
    """How often each verb succeeded and was refused, over all runs."""

    done: Counter[str] = field(default_factory=Counter)
    refused: Counter[tuple[str, str]] = field(default_factory=Counter)

    def refusals(self, name: str) -> int:
        """Return how often a verb was refused, for any reason."""
        return sum(count for (verb, _), count in self.refused.items() if verb == name)


class Broken(AssertionError):
    """Something that must never happen did."""


class Driver:
    """Sends submissions and checks the house after each."""

    def __init__(self, shop: Shop, number: int, tally: Tally) -> None:
        self.shop = shop
        self.pick = random.Random(number)
        self.tally = tally
        newest = Event.objects.order_by("-received_at").first()
        self.now: datetime = newest.received_at if newest else NOW
        self.sent: list[Sent] = []
        self.state: State = {}
        self.seen_event = 0
        self.trace: list[str] = []
        self.steps = 0
        self.check_house(None)

    # --- choices -----------------------------------------------------------------------------
    def one(self, rows: list[Any]) -> Any:
        """Return one of the rows, or None."""
        return self.pick.choice(rows) if rows else None

    def case(self) -> Case | None:
        """Return one of the cases, open ones more often than closed ones."""
        rows = list(Case.objects.order_by("pk"))
        live = [case for case in rows if case.state == "open"]
        return self.one(live if live and self.pick.random() < 0.95 else rows)

    def stage(self, *states: str) -> CaseStage | None:
        """Return a stage in one of ``states``; now and then any stage at all."""
        case = self.case()
        if case is None:
            return None
        rows = list(case.stages.select_related("case"))
        fit = [stage for stage in rows if stage.state in states]
        return self.one(fit if fit and self.pick.random() < 0.93 else rows)

    def who(self, *names: str) -> str:
        """Return one of the names; now and then somebody who may not."""
        if self.pick.random() < 0.05:
            return str(self.pick.choice(sorted(self.shop.people)))
        return self.pick.choice(names)

    def version(self, row: Any) -> int:
        """Return the row's version; now and then a stale one."""
        stale = self.pick.random() < 0.05
        return int(row.version) - 1 if stale else int(row.version)

    def words(self, text: str) -> str:
        """Return ``text``; now and then nothing, as a hurried person would enter."""
        return "" if self.pick.random() < 0.12 else text

    def pass_time(self, minutes: float) -> None:
        """Move the clock on."""
        self.now += timedelta(minutes=minutes)

    # --- sending -----------------------------------------------------------------------------
    def send(
        self,
        verb: Verb,
        who: str | None,
        *,
        door: str = "web",
        at_tablet: int | None = None,
        **body: Any,
    ) -> Any:
        """Send a new submission; returns its result, or None when refused."""
        person = self.shop.people[who].pk if who else None
        envelope = Envelope(
            door,
            self.now,
            person_id=person,
            tablet_id=at_tablet,
            submission_id=uuid.UUID(int=self.pick.getrandbits(128), version=4),
        )
        stale = self._is_stale(body)
        sent = self._send(verb, envelope, body)
        if stale and sent.result is not None:
            raise Broken(f"{verb.name} took a stale form: {body}")
        self.sent.append(sent)
        self.check_house(sent)
        return sent.result

    def _is_stale(self, body: dict[str, Any]) -> bool:
        if "version" not in body:
            return False
        if "stage" in body:
            stored = CaseStage.objects.filter(pk=body["stage"]).values_list("version", flat=True)
        elif "case" in body:
            stored = Case.objects.filter(pk=body["case"]).values_list("version", flat=True)
        else:
            return False
        return body["version"] != stored.first()

    def _send(self, verb: Verb, envelope: Envelope, body: dict[str, Any]) -> Sent:
        said = f"{self.now:%d %H:%M} {verb.name} {body}"
        try:
            outcome = verb(envelope, **body)
        except Refusal as refusal:
            self.tally.refused[verb.name, refusal.code] += 1
            self.trace.append(f"{said} → refused {refusal.code}")
            return Sent(verb, envelope, body, None, refusal.code)
        self.tally.done[verb.name] += 1
        self.trace.append(f"{said} → {outcome.result}")
        return Sent(verb, envelope, body, outcome.result, "")

    def repeat(self) -> None:
        """Send an earlier submission again: the same answer, and nothing changes."""
        old = self.one(self.sent)
        if old is None:
            return
        later = dataclasses.replace(old.envelope, now=self.now)
        before = Event.objects.count()
        again = self._send(old.verb, later, old.body)
        if (again.result, again.code) != (old.result, old.code):
            raise Broken(
                f"{old.verb.name} again: {again.result or again.code}, "
                f"first {old.result or old.code}"
            )
        if Event.objects.count() != before:
            raise Broken(f"{old.verb.name} again left events")
        self.check_house(None)

    def reuse_id(self) -> None:
        """Send another body under an id that was used: refused with 409."""
        old = self.one(self.sent)
        if old is None:
            return
        number = next((key for key, value in old.body.items() if type(value) is int), None)
        if number is None:
            return
        body = {**old.body, number: old.body[number] + 1}
        try:
            old.verb(dataclasses.replace(old.envelope, now=self.now), **body)
        except OtherBody:
            return
        except Refusal as refusal:
            raise Broken(f"{old.verb.name}: another body was not noticed: {refusal}") from None
        raise Broken(f"{old.verb.name}: another body under the same id was taken")

    def check_all(self) -> None:
        """Compare every row of every table with what the events say."""
        differences = compare(self.state)
        if differences:
            raise Broken("; ".join(str(one) for one in differences[:5]))

    # --- distrust ----------------------------------------------------------------------------
    def check_house(self, sent: Sent | None) -> None:
        """Rebuild, compare, and look at every rule of the house."""
        fresh = list(Event.objects.filter(pk__gt=self.seen_event).order_by("pk"))
        if sent is not None and sent.result is None and fresh:
            raise Broken(f"{sent.verb.name} was refused and left events")
        if fresh:
            self.seen_event = fresh[-1].pk
            replay(self.state, fresh)
        self.steps += 1
        if self.steps % FULL_EVERY == 0 or not self.seen_event:
            differences = compare(self.state)
        else:
            changed = {(one["m"], one["pk"]) for event in fresh for one in event.changes}
            differences = compare_rows(self.state, changed)
        if differences:
            raise Broken("; ".join(str(one) for one in differences[:5]))
        rules = broken_rules(self.now)
        if rules:
            raise Broken("; ".join(rules))
