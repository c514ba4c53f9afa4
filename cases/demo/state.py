"""What the simulation keeps in mind: cases, hands, and what each pair of hands does."""

from __future__ import annotations

import heapq
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any

from cases.demo.people import WORKERS, Worker
from cases.demo.shop import Shop
from cases.demo.wishes import Wish
from cases.selectors import driving
from cases.selectors.driving import CheckStand, StageStand
from cases.services.record import Envelope, Outcome, Refusal, Verb

ENDED = frozenset({"done", "skipped"})
SHIFT_ENDS = "16:30"
DrawNote = Callable[[str], dict[str, Any]]
"""Draws the note of a box by its number and stores it, as ``services.papers`` wants it."""


@dataclass
class Job:
    """A case as the simulation follows it. ``target``: the stage that it is to stand at."""

    pk: int
    wish: Wish
    arch: str
    target: str
    stages: dict[str, StageStand]
    number: str
    leaves_at: datetime | None
    state: str = "open"
    cast_busy_until: datetime | None = None
    not_before: datetime | None = None
    stops: list[tuple[int, str, tuple[str, ...]]] = field(default_factory=list)
    twin: int | None = None
    taken_at: datetime | None = None
    workers: dict[str, str] = field(default_factory=dict)
    sent_at: datetime | None = None
    remade: bool = False
    reference: str = ""
    in_hand: set[str] = field(default_factory=set)
    ahead: list[StageStand] = field(default_factory=list)
    design: dict[str, Any] = field(default_factory=dict)
    in_load: bool = False

    def held(self, key: str) -> bool:
        """Tell whether a hold stops stage ``key``."""
        return any(not keys or key in keys for _pk, _reason, keys in self.stops)

    def cast_in_hand(self) -> bool:
        """Tell whether somebody has the one cast."""
        return any(
            stage.state == "running" and stage.spec["needs_cast"] for stage in self.stages.values()
        )

    def passed(self, *keys: str) -> bool:
        """Tell whether every stage but ``keys`` has ended."""
        return all(s.state in ENDED for s in self.stages.values() if s.key not in keys)


@dataclass
class Task:
    """One stage of one case or of several, in one pair of hands."""

    key: str
    jobs: list[Job]
    hand: Hand
    minutes: float
    trouble: str = ""
    wrong: int | None = None
    running_since: datetime | None = None
    generation: int = 0
    mixed_at: datetime | None = None
    closed_after: float | None = None
    checks: dict[int, list[CheckStand]] = field(default_factory=dict)

    def asked(self, job: Job) -> list[CheckStand]:
        """Return the checks of the stage, read once."""
        if job.pk not in self.checks:
            self.checks[job.pk] = driving.checks_of(job.stages[self.key].pk)
        return self.checks[job.pk]


@dataclass
class Hand:
    """Somebody at the bench: what they can do, and what they are at."""

    worker: Worker
    speeds: dict[str, float]
    task: Task | None = None
    put_down: list[Task] = field(default_factory=list)
    busy_until: datetime | None = None

    @property
    def key(self) -> str:
        """Return the short name."""
        return self.worker.key


def hands() -> list[Hand]:
    """Return everybody who works at the bench."""
    return [
        Hand(worker, {key: float(speed) for key, speed in worker.skills})
        for worker in WORKERS
        if "technician" in worker.roles
    ]


@dataclass
class Bathful:
    """A load in the bath, or out of it and not yet judged."""

    number: int
    version: int
    bath: str
    program: str
    jobs: list[Job]
    starts_at: datetime
    ends_at: datetime


class House:
    """The clock, the cases and the hands; every write goes through ``send``."""

    def __init__(
        self, shop: Shop, now: datetime, at: datetime, note: DrawNote | None = None
    ) -> None:
        self.shop = shop
        self.note = note
        self.rng = shop.rng
        self.now = now
        self.at = at
        self.time = shop.opened
        self.jobs: dict[int, Job] = {}
        self.hands = hands()
        self.refused: Counter[tuple[str, str]] = Counter()
        self.sent = 0
        self.in_bath: set[str] = set()
        self.baths_over: list[Bathful] = []
        self.power_was_cut = False
        self._heap: list[tuple[datetime, int, Callable[[], object]]] = []
        self._order = 0
        self._woken: set[datetime] = set()

    # --- the clock -----------------------------------------------------------------------
    def later(self, when: datetime, do: Callable[[], object]) -> None:
        """Do something at an instant, never before now."""
        self._order += 1
        heapq.heappush(self._heap, (max(when, self.time), self._order, do))

    def after(self, minutes: float, do: Callable[[], object]) -> None:
        """Do something so many minutes from now."""
        self.later(self.time + timedelta(minutes=minutes), do)

    def wake(self, when: datetime) -> None:
        """Look round again at an instant, once."""
        if when not in self._woken:
            self._woken.add(when)
            self.later(when, lambda: None)

    def ticks(self) -> Iterator[datetime]:
        """Run everything that is due up to ``now``, instant by instant."""
        while self._heap and self._heap[0][0] <= self.now:
            self.time = self._heap[0][0]
            while self._heap and self._heap[0][0] <= self.time:
                heapq.heappop(self._heap)[2]()
            yield self.time
        self.time = self.now

    # --- hands ---------------------------------------------------------------------------
    def shift_end(self, hand: Hand) -> datetime | None:
        """Return when the hands leave next, or None when they are not here now."""
        day = self.shop.day(self.time)
        away = day in self.shop.away.get(hand.key, [])
        if away or not self.shop.works(day) or day.weekday() not in hand.worker.days:
            return None
        first, second = hand.worker.lunch
        for begins, ends in (("08:00", first), (second, SHIFT_ENDS)):
            if self.shop.wall(day, begins) <= self.time < self.shop.wall(day, ends):
                return self.shop.wall(day, ends)
        return None

    def here(self) -> list[Hand]:
        """Return who is at work now."""
        return [hand for hand in self.hands if self.shift_end(hand) is not None]

    def signer(self, skill: str, not_by: set[str]) -> str | None:
        """Return somebody at work who may countersign ``skill`` and had no hand in it."""
        for hand in self.here():
            if hand.worker.signs and skill in hand.speeds and hand.key not in not_by:
                return hand.key
        return None

    # --- writing -------------------------------------------------------------------------
    def send(self, verb: Verb, who: str, /, door: str = "web", **body: Any) -> Outcome | None:
        """Send a verb of somebody of the lab; a refusal is counted and gives None."""
        return self.submit(verb, self.shop.sends(who, self.time, door), **body)

    def submit(self, verb: Verb, envelope: Envelope, /, **body: Any) -> Outcome | None:
        """Send a verb under an envelope; a refusal is counted and gives None."""
        self.sent += 1
        try:
            return verb(envelope, **body)
        except Refusal as refusal:
            self.refused[verb.name, refusal.code] += 1
            return None

    # --- reading -------------------------------------------------------------------------
    def follow(self, job: Job, *, regrown: bool = False) -> None:
        """Read how a case stands after something was done to it."""
        if regrown:
            job.stages = driving.stages_of(job.pk)
            job.design = driving.case_stand(job.pk).design
        else:
            driving.moved(job.pk, job.stages)
        job.stops = driving.stops(job.pk)
        self.look_ahead(job)

    def look_ahead(self, job: Job) -> None:
        """Note which stages nothing but time keeps back, and wake up when it is over."""
        job.ahead = [
            stage
            for stage in job.stages.values()
            if stage.state == "planned" and stage.ready_at is not None
        ]
        for stage in job.ahead:
            if stage.ready_at is not None and stage.ready_at > self.time:
                self.wake(stage.ready_at)

    def next_morning(self, days: int, text: str = "09:30") -> datetime:
        """Return a wall time on the n-th working day from today."""
        day = self.shop.day(self.time)
        for _ in range(days):
            day += timedelta(days=1)
            while not self.shop.works(day):
                day += timedelta(days=1)
        return self.shop.wall(day, text)

    def in_hours(self, when: datetime) -> datetime:
        """Return the instant, or the next morning when the lab is closed then."""
        day = self.shop.day(when)
        if self.shop.works(day) and when < self.shop.wall(day, "16:20"):
            return max(when, self.shop.wall(day, "08:15"))
        day += timedelta(days=1)
        while not self.shop.works(day):
            day += timedelta(days=1)
        return self.shop.wall(day, "08:30")
