"""Every plan of a tiny lab, minute by minute: who, when, which load, what is done together.

Written apart from the planner and from its check: it reads a problem, tries all there is, and
returns the least weighted lateness. Hours are one span without a break; nobody is a student.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from math import ceil

from cases.domain.planning.problem import Problem, Stage

NEVER = 10**6


def partitions(of: Sequence[str], most: int) -> Iterator[list[list[str]]]:
    """Yield every way to part some names into groups of at most so many."""
    if not of:
        yield []
        return
    first, rest = of[0], of[1:]
    for groups in partitions(rest, most):
        yield [[first], *groups]
        for at, group in enumerate(groups):
            if len(group) < most:
                yield [*groups[:at], [first, *group], *groups[at + 1 :]]


@dataclass
class Piece:
    """What is done at once: one stage, a batch, or a load. ``ways`` are all that may do it:
    hands ("" for nobody), for how long, where it is cured, and how long it lasts."""

    members: list[Stage]
    ways: list[tuple[str, int, str, int]]


@dataclass
class EveryPlan:
    """Searches all plans of ``problem`` that end by the minute ``until``."""

    problem: Problem
    until: int
    best: float = NEVER
    start: dict[str, int] = field(default_factory=dict)
    end: dict[str, int] = field(default_factory=dict)
    taken: dict[str, list[tuple[int, int]]] = field(default_factory=dict)

    def least(self) -> float:
        """Return the least weighted lateness, NEVER where no plan ends in time."""
        stages = self.problem.stages
        batches = sorted({one.batch for one in stages if one.batch})
        limits = dict(self.problem.batch_limits)
        ways: list[list[list[list[str]]]] = []
        for batch in batches:
            names = [one.key for one in stages if one.batch == batch]
            ways.append(list(partitions(names, limits.get(batch, len(names)))))
        cured = [one.key for one in stages if one.kind == "load"]
        places = max((bath.places for bath in self.problem.baths), default=1)
        ways.append(list(partitions(cured, places)))
        self._choose(ways, [])
        return self.best

    def _choose(self, ways: list[list[list[list[str]]]], chosen: list[list[str]]) -> None:
        if ways:
            for groups in ways[0]:
                self._choose(ways[1:], [*chosen, *groups])
            return
        by_key = {one.key: one for one in self.problem.stages}
        grouped = {key for group in chosen for key in group}
        groups = [*chosen, *([key] for key in by_key if key not in grouped)]
        pieces = [self._piece([by_key[key] for key in group]) for group in groups]
        ordered = self._ordered(pieces)
        if ordered is not None:
            self._place(ordered)

    def _piece(self, members: list[Stage]) -> Piece:
        first, ways = members[0], []
        persons = self.problem.persons
        if first.kind == "load":
            programs = {one.key: one for one in self.problem.programs}
            program = programs[first.program]
            for bath in self.problem.baths:
                fits = len(members) <= bath.places and program.key in bath.programs
                if fits and all(one.program == program.key for one in members):
                    ways += [
                        (one.key, program.hands, bath.key, program.minutes)
                        for one in persons
                        if first.skill in dict(one.skills)
                    ]
        elif first.kind == "attended":
            for one in persons:
                pace = dict(one.skills).get(first.skill)
                if pace is not None:
                    shared = max(stage.setup for stage in members)
                    own = sum(stage.minutes - stage.setup for stage in members)
                    minutes = ceil((shared + own) * pace)
                    ways.append((one.key, minutes, "", minutes))
        else:
            ways.append(("", 0, "", first.minutes))
        return Piece(members, ways)

    def _ordered(self, pieces: list[Piece]) -> list[Piece] | None:
        """Return the pieces so that each comes after what it waits for; None in a circle."""
        done: set[str] = set()
        found: list[Piece] = []
        left = list(pieces)
        while left:
            free = [
                piece
                for piece in left
                if all(after.stage in done for one in piece.members for after in one.after)
            ]
            if not free:
                return None
            left.remove(free[0])
            found.append(free[0])
            done |= {one.key for one in free[0].members}
        return found

    def _free(self, of: str, start: int, end: int) -> bool:
        return all(until <= start or since >= end for since, until in self.taken.get(of, ()))

    def _place(self, pieces: list[Piece]) -> None:
        if self._bound(pieces) >= self.best or not self._things():
            return
        if not pieces:
            self.best = self._late(self.end)
            return
        piece = pieces[0]
        since, until = 0, self.until
        for one in piece.members:
            since = max(since, one.not_before)
            for after in one.after:
                since = max(since, self.end[after.stage] + after.least)
                if after.most is not None:
                    until = min(until, self.end[after.stage] + after.most)
        hours = {one.key: one.hours[0] for one in self.problem.persons}
        for start in range(since, until + 1):
            for person, hands, bath, lasts in piece.ways:
                end = start + lasts
                if end > self.until:
                    continue
                uses = [(person, start + hands)] if person else []
                uses += [(bath, end)] if bath else []
                if person and not hours[person][0] <= start <= start + hands <= hours[person][1]:
                    continue
                if not all(self._free(of, start, over) for of, over in uses):
                    continue
                for of, over in uses:
                    self.taken.setdefault(of, []).append((start, over))
                for one in piece.members:
                    self.start[one.key], self.end[one.key] = start, end
                self._place(pieces[1:])
                for one in piece.members:
                    del self.start[one.key], self.end[one.key]
                for of, _over in uses:
                    self.taken[of].pop()

    def _things(self) -> bool:
        """Tell whether there are as many of each thing as are held at any minute, by what has a
        place so far."""
        for thing in self.problem.things:
            spans = [
                (self.start[one.first] if one.first else 0, self.end[one.last] + one.rest)
                for one in self.problem.held
                if one.thing == thing.key and one.last in self.end
            ]
            for instant in range(self.until + 1):
                if sum(since <= instant < until for since, until in spans) > thing.count:
                    return False
        return True

    def _bound(self, pieces: list[Piece]) -> float:
        """Return what the lateness will be at the least: nobody waits for hands any more."""
        ends = dict(self.end)
        for piece in pieces:
            for one in piece.members:
                since = max(
                    [one.not_before, *(ends[after.stage] + after.least for after in one.after)]
                )
                quickest = min((lasts for _who, _hands, _bath, lasts in piece.ways), default=NEVER)
                ends[one.key] = since + quickest
        return self._late(ends)

    def _late(self, ends: dict[str, int]) -> float:
        late = 0.0
        for case in self.problem.cases:
            done = max(ends[one.key] for one in self.problem.stages if one.case == case.key)
            leaves = next((van for van in case.vans if van >= done), NEVER) if case.vans else done
            late += case.weight * max(0, leaves - case.due)
        return late
