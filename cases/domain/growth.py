"""Grow the work of one case out of template, order and design.

Stages whose condition is false are *contracted away*: their successors inherit their
predecessors, and the wait after the predecessor stays. Edges that say nothing beyond a longer
path are left out, so that "waits for" names only what really stands before a stage.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from heapq import heapify, heappop, heappush

from cases.domain.check_spec import PlannedCheck
from cases.domain.conditions import holds
from cases.domain.design import Design, WorkOrder
from cases.domain.network import (
    UNTIL_FINISH,
    UNTIL_WAIT,
    EdgeSpec,
    Held,
    RouteTemplate,
    StageSpec,
    minutes_of,
    night_of,
)
from cases.domain.plan_checks import plan_checks
from cases.domain.standard_minutes import Standard, placeholder


@dataclass(frozen=True)
class PlannedStage:
    """A stage that this case has, with its labour estimate in minutes for one case alone.

    ``spec`` is the template's, with what depends on the case already decided: which things
    are held and until when, whether it may rest overnight, whether a photograph is asked.
    """

    spec: StageSpec
    minutes: float
    checks: tuple[PlannedCheck, ...]


@dataclass(frozen=True)
class PlannedEdge:
    """Edge between two stages that this case has (absent stages are contracted away)."""

    before: str
    after: str
    min_wait: float
    max_wait: float | None
    least_wait: float | None = None
    latest_words: str = ""


@dataclass(frozen=True)
class Route:
    """The work of one case, stages in topological order."""

    stages: tuple[PlannedStage, ...]
    edges: tuple[PlannedEdge, ...]

    @property
    def minutes(self) -> float:
        """Attended minutes of the whole route."""
        return sum(stage.minutes for stage in self.stages)

    @property
    def keys(self) -> tuple[str, ...]:
        """The keys of the stages, in topological order."""
        return tuple(stage.spec.key for stage in self.stages)

    def stage(self, key: str) -> PlannedStage:
        """Return the stage with this key; KeyError where the case has none."""
        for stage in self.stages:
            if stage.spec.key == key:
                return stage
        raise KeyError(key)


def grow(
    template: RouteTemplate,
    order: WorkOrder,
    design: Design,
    *,
    standard: Standard = placeholder,
) -> Route:
    """Return the stages, edges and checks that this design needs.

    Parameters
    ----------
    standard
        The lab's standard minutes of a stage; the formulas of the template by themselves where the
        lab has no record yet.

    Raises
    ------
    ValueError
        The template has a cycle for this case, or names a condition, a subject or a count
        that nobody knows.
    """
    edges = [edge for edge in template.edges if holds(edge.when, order, design)]
    present = {s.key: s for s in template.stages if holds(s.when, order, design)}
    contracted = contract(edges, [stage.key for stage in template.stages], present)
    sequence = topological(list(present), contracted)
    kept = without_implied(contracted, sequence)
    position = {key: index for index, key in enumerate(sequence)}
    ancestors = _first_predecessors(edges, position)
    checks = plan_checks(template.checks, order, design, position)
    stages = tuple(
        PlannedStage(
            _resolved(present[key], order, design, position, ancestors),
            standard(key, minutes_of(present[key], order, design)),
            checks.get(key, ()),
        )
        for key in sequence
    )
    kept.sort(key=lambda edge: (position[edge.before], position[edge.after]))
    return Route(stages, tuple(kept))


def _merged(one: PlannedEdge | None, other: PlannedEdge) -> PlannedEdge:
    """Two edges between the same stages: the longer wait and the earlier latest start."""
    if one is None:
        return other
    limits = [edge for edge in (one, other) if edge.max_wait is not None]
    tight = min(limits, key=lambda edge: edge.max_wait or 0) if limits else one
    least = max(_least(one), _least(other))
    longest = max(one.min_wait, other.min_wait)
    return PlannedEdge(
        one.before,
        one.after,
        longest,
        tight.max_wait if limits else None,
        None if least == longest else least,
        tight.latest_words or one.latest_words or other.latest_words,
    )


def _least(edge: PlannedEdge) -> float:
    return edge.min_wait if edge.least_wait is None else edge.least_wait


def contract(
    edges: Iterable[EdgeSpec], keys: Sequence[str], present: Iterable[str]
) -> list[PlannedEdge]:
    """Return the edges between present stages; an absent stage hands on its predecessors.

    Parameters
    ----------
    edges
        The edges that hold for this case.
    keys
        All stages of the template, present or not.
    present
        The keys of the stages that the case has.
    """
    table: dict[tuple[str, str], PlannedEdge] = {}
    # Dictionaries as ordered sets: the same template must always give the same edges.
    into: dict[str, dict[str, None]] = defaultdict(dict)
    out: dict[str, dict[str, None]] = defaultdict(dict)

    def add(edge: PlannedEdge) -> None:
        pair = (edge.before, edge.after)
        table[pair] = _merged(table.get(pair), edge)
        into[edge.after][edge.before] = None
        out[edge.before][edge.after] = None

    for e in edges:
        add(PlannedEdge(e.before, e.after, e.min_wait, e.max_wait, e.least_wait, e.latest_words))
    here = set(present)
    for key in keys:
        if key in here:
            continue
        before, after = into.pop(key, {}), out.pop(key, {})
        for first in before:
            incoming = table.pop((first, key))
            out[first].pop(key, None)
            for last in after:
                if first != last:
                    add(replace(incoming, after=last))
        for last in after:
            table.pop((key, last), None)
            into[last].pop(key, None)
    return list(table.values())


def topological(stages: Sequence[str], edges: Iterable[PlannedEdge]) -> tuple[str, ...]:
    """Return the stages so that each comes after its predecessors, else as they stood.

    Raises
    ------
    ValueError
        There is a cycle; the message names its stages.
    """
    rank = {key: index for index, key in enumerate(stages)}
    missing = dict.fromkeys(stages, 0)
    after: dict[str, list[str]] = defaultdict(list)
    for edge in edges:
        missing[edge.after] += 1
        after[edge.before].append(edge.after)
    free = [(rank[key], key) for key, count in missing.items() if count == 0]
    heapify(free)
    sequence: list[str] = []
    while free:
        _rank, key = heappop(free)
        sequence.append(key)
        for follower in after[key]:
            missing[follower] -= 1
            if missing[follower] == 0:
                heappush(free, (rank[follower], follower))
    if len(sequence) < len(rank):
        stuck = [key for key in stages if key not in set(sequence)]
        raise ValueError(f"These stages wait for each other: {', '.join(stuck)}.")
    return tuple(sequence)


def without_implied(edges: Sequence[PlannedEdge], sequence: Sequence[str]) -> list[PlannedEdge]:
    """Leave out edges that a longer path already implies, waits included.

    An edge with a latest start is always kept.
    """
    rank = {key: index for index, key in enumerate(sequence)}
    after: dict[str, list[PlannedEdge]] = defaultdict(list)
    for edge in edges:
        after[edge.before].append(edge)
    kept: list[PlannedEdge] = []
    for leaving in after.values():
        if len(leaving) == 1:
            kept += leaving
            continue
        # The longest waits along paths of two edges or more, from where these edges leave.
        longest: dict[str, tuple[float, float]] = {}
        queue = [(rank[edge.after], edge.after) for edge in leaving]
        direct = {edge.after: (edge.min_wait, _least(edge)) for edge in leaving}
        heapify(queue)
        last = max(rank[edge.after] for edge in leaving)
        seen: set[str] = set()
        while queue:
            place, key = heappop(queue)
            if key in seen or place >= last:
                continue
            seen.add(key)
            here, there = direct.get(key, (0.0, 0.0)), longest.get(key, (0.0, 0.0))
            waits = (max(here[0], there[0]), max(here[1], there[1]))
            for edge in after[key]:
                old = longest.get(edge.after, (0.0, 0.0))
                longest[edge.after] = (
                    max(old[0], waits[0] + edge.min_wait),
                    max(old[1], waits[1] + _least(edge)),
                )
                heappush(queue, (rank[edge.after], edge.after))
        kept += [edge for edge in leaving if not _implied(edge, longest)]
    return kept


def _implied(edge: PlannedEdge, longest: dict[str, tuple[float, float]]) -> bool:
    path = longest.get(edge.after)
    if path is None or edge.max_wait is not None:
        return False
    return path[0] >= edge.min_wait and path[1] >= _least(edge)


def _first_predecessors(
    edges: Iterable[EdgeSpec], position: dict[str, int]
) -> dict[str, frozenset[str]]:
    """For each stage that is absent, the present stages nearest before it."""
    before: dict[str, set[str]] = defaultdict(set)
    for edge in edges:
        before[edge.after].add(edge.before)

    def nearest(key: str, seen: frozenset[str]) -> frozenset[str]:
        found: set[str] = set()
        for earlier in before[key] - seen:
            found |= {earlier} if earlier in position else nearest(earlier, seen | {key})
        return frozenset(found)

    return {key: nearest(key, frozenset()) for key in list(before) if key not in position}


def _resolved(
    spec: StageSpec,
    order: WorkOrder,
    design: Design,
    position: dict[str, int],
    ancestors: dict[str, frozenset[str]],
) -> StageSpec:
    """Decide what depends on the case: things held, the night, the photograph, the cast."""
    night, words = night_of(spec, order, design)
    held = tuple(
        Held(item.thing, _until(item.until, spec.key, position, ancestors))
        for item in spec.holds
        if holds(item.when, order, design)
    )
    photo = spec.photo_before if holds(spec.photo_when, order, design) else ""
    beside = spec.beside_copy and holds("copy", order, design)
    return replace(
        spec,
        night=night,
        night_words=words,
        holds=held,
        photo_before=photo,
        needs_cast=spec.needs_cast and not beside,
    )


def _until(
    until: str, key: str, position: dict[str, int], ancestors: dict[str, frozenset[str]]
) -> str:
    """The stage that frees a thing; where the case has none such, the last one before it."""
    if until in (UNTIL_FINISH, UNTIL_WAIT) or until in position:
        return until
    later = [k for k in ancestors.get(until, frozenset()) if position[k] > position[key]]
    return max(later, key=position.__getitem__) if later else UNTIL_FINISH
