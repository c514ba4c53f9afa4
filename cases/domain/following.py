"""What may begin now: readiness of the open stages of one case, and what follows a stage."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta

from cases.domain.growth import PlannedEdge
from cases.domain.network import EdgeSpec


@dataclass(frozen=True)
class StageFact:
    """What readiness needs to know of a stage that a case has.

    ``ended_at`` is set when the stage is done or skipped *and released* (not while a
    countersign or a return from the practice is awaited). ``skipped``: nothing was done, so
    the stage itself asks for no wait.
    """

    key: str
    open: bool
    ended_at: datetime | None
    skipped: bool = False


@dataclass(frozen=True)
class Readiness:
    """``ready``: every predecessor ended and every wait is over. ``ready_at`` is when the
    last wait ends (None while a predecessor is open, or when there is none), ``latest_at``
    the earliest of the latest instants, ``waits_for`` the keys of open predecessors.
    ``may_from`` is the instant from which a person may decide to go on with the least waits."""

    key: str
    ready: bool
    ready_at: datetime | None
    latest_at: datetime | None
    waits_for: tuple[str, ...]
    may_from: datetime | None = None


def _in_utc(fact: StageFact) -> StageFact:
    """Adding minutes to a local time moves the clock on the wall, not the plaster."""
    if fact.ended_at is None:
        return fact
    if fact.ended_at.tzinfo is None:
        raise ValueError(f"The end of {fact.key} needs a time zone.")
    return replace(fact, ended_at=fact.ended_at.astimezone(UTC))


# Ready by the usual waits, ready by the least ones, the latest start; None: nothing before it.
_Window = tuple[datetime | None, datetime | None, datetime | None]


class _Case:
    """The stages and edges of one case, with what was already worked out."""

    def __init__(self, facts: Iterable[StageFact], edges: Sequence[PlannedEdge]) -> None:
        self.facts = {fact.key: _in_utc(fact) for fact in facts}
        self.into: dict[str, list[PlannedEdge]] = defaultdict(list)
        for edge in edges:
            if edge.before in self.facts and edge.after in self.facts:
                self.into[edge.after].append(edge)
        self._windows: dict[str, _Window] = {}
        self._open: dict[str, tuple[str, ...]] = {}

    def ended(self, key: str) -> datetime | None:
        """When the stage ended and released its successors; None while it has not."""
        fact = self.facts[key]
        return None if fact.open else fact.ended_at

    def open_before(self, key: str) -> tuple[str, ...]:
        """The nearest open stages before this one, behind closed ones too.

        A stage that was left standing after a send-back, or skipped early, closes nothing:
        what comes after it still waits for the open stage before it.
        """
        if key not in self._open:
            found: dict[str, None] = {}
            for edge in self.into[key]:
                if self.ended(edge.before) is None:
                    found[edge.before] = None
                else:
                    found.update(dict.fromkeys(self.open_before(edge.before)))
            self._open[key] = tuple(found)
        return self._open[key]

    def window(self, key: str) -> _Window:
        """When the waits before this stage end, and its latest start, from ended stages."""
        if key not in self._windows:
            usual: list[datetime] = []
            least: list[datetime] = []
            latest: list[datetime] = []
            for edge in self.into[key]:
                ended = self.ended(edge.before)
                if ended is not None:
                    self._add_edge(edge, ended, usual, least, latest)
            self._windows[key] = (
                max(usual, default=None),
                max(least, default=None),
                min(latest, default=None),
            )
        return self._windows[key]

    def _add_edge(
        self,
        edge: PlannedEdge,
        ended: datetime,
        usual: list[datetime],
        least: list[datetime],
        latest: list[datetime],
    ) -> None:
        skipped = self.facts[edge.before].skipped
        before_usual, before_least, before_latest = self.window(edge.before)
        if skipped and before_usual is not None and before_least is not None:
            # As if contracted: its predecessors' waits pass through, its own do not count.
            usual.append(before_usual)
            least.append(before_least)
            if before_latest is not None:
                latest.append(before_latest)
            return
        # Predecessors that ended later than the stage itself: it was left standing.
        end = self._late_end(edge.before, ended)
        shortest = edge.min_wait if edge.least_wait is None else edge.least_wait
        usual.append(end + timedelta(minutes=0 if skipped else edge.min_wait))
        least.append(end + timedelta(minutes=0 if skipped else shortest))
        if edge.max_wait is not None and not skipped:
            latest.append(ended + timedelta(minutes=edge.max_wait))

    def _late_end(self, key: str, ended: datetime) -> datetime:
        """The end of the stage, or of a predecessor (with its wait) that ended after it."""
        late = [ended]
        for edge in self.into[key]:
            before = self.ended(edge.before)
            if before is not None and before > ended:
                end = self._late_end(edge.before, before)
                late.append(end + timedelta(minutes=edge.min_wait))
        return max(late)


def readiness(
    facts: Iterable[StageFact],
    edges: Sequence[PlannedEdge],
    now: datetime,
    *,
    latest: Mapping[str, datetime] | None = None,
) -> dict[str, Readiness]:
    """Return, for each open stage, whether it may begin at ``now`` and why not.

    Parameters
    ----------
    facts
        All stages of the case; an edge to a stage that is not among them is ignored.
    edges
        The edges of the case, waits in minutes.
    now
        Aware instant. Waits are added in UTC, so that a change of the clocks moves nothing.
    latest
        Latest instants from outside by stage key: the pour clock, the ship cut-off.

    Raises
    ------
    ValueError
        ``now`` or the end of a stage has no zone.
    """
    if now.tzinfo is None:
        raise ValueError("now needs a time zone.")
    case = _Case(facts, edges)
    outside = latest or {}
    found: dict[str, Readiness] = {}
    for key, fact in case.facts.items():
        if not fact.open:
            continue
        waits_for = case.open_before(key)
        usual, least, latest_at = case.window(key)
        if key in outside:
            latest_at = min(outside[key], latest_at) if latest_at else outside[key]
        if waits_for:
            found[key] = Readiness(key, False, None, latest_at, waits_for)
        else:
            ready = usual is None or now >= usual
            found[key] = Readiness(key, ready, usual, latest_at, (), least)
    return found


def nearest_open(
    edges: Iterable[tuple[str, str]], still_open: Collection[str], key: str
) -> frozenset[str]:
    """Return the nearest open stages before one, looking through stages that have ended.

    A stage that was left standing closes nothing: what comes after it waits for the open stage
    before it, as ``readiness`` has it.

    Parameters
    ----------
    edges
        Pairs of keys, before and after.
    still_open
        Keys of the stages that have not ended.
    """
    into: dict[str, list[str]] = defaultdict(list)
    for before, after in edges:
        into[after].append(before)
    found: set[str] = set()
    seen, rest = {key}, [key]
    while rest:
        for before in into[rest.pop()]:
            if before in still_open:
                found.add(before)
            elif before not in seen:
                seen.add(before)
                rest.append(before)
    return frozenset(found)


def reachable(edges: Iterable[PlannedEdge | EdgeSpec], start: str) -> frozenset[str]:
    """Return ``start`` and every stage that comes after it on some path."""
    after: dict[str, list[str]] = defaultdict(list)
    for edge in edges:
        after[edge.before].append(edge.after)
    found = {start}
    rest = [start]
    while rest:
        for key in after[rest.pop()]:
            if key not in found:
                found.add(key)
                rest.append(key)
    return frozenset(found)
