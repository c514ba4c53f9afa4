"""From the best rule to a better plan: local search by playing the lab again and again, then
constraints.

A plan that is played again in its own order comes out as it was; with a case or a stage of it
taken up earlier or later, and the rest where it was or sooner, it is a neighbour. What is worse
is taken for a while, within a margin that shrinks; the best is kept, so that the answer is never
worse than its start. Where OR-Tools is there, a small lab is then given to it whole, and of a
large one a window at a time.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Callable
from itertools import accumulate
from random import Random
from typing import Any

from cases.domain.planning import cpsat, windows
from cases.domain.planning.batching import MOST, batches, others
from cases.domain.planning.dispatch import Stop, Tried, best_of, go_on, try_rules
from cases.domain.planning.plays import Plain, Play, plays_of
from cases.domain.planning.problem import Plan, Problem
from cases.domain.planning.score import Worth, to_plan
from cases.domain.planning.shop import Shop

MARGIN, SHRINKS = 0.02, 0.999
"""The share by which a plan may be worse than the best and still be gone on from."""
Enough = Callable[[Worth], bool]
BACK_AFTER = 400
"""Rounds without a better plan, after which the search goes on from the best."""
Progress = Callable[[Worth], None]
FIRST_ROUNDS, FIRST_ROUNDS_COMPILED = 60, 4000
"""Rounds of local search before the constraints are asked for the whole of a small lab: a second
or two. After 60 compiled rounds the constraints started so far away that overloaded labs of six to
eight cases were up to twice as late after five seconds; windows between both help later on."""
TURN_ROUNDS, TURN_ROUNDS_COMPILED = 150, 1500
"""Rounds without a better plan, after which the constraints have their turn on windows: a second
or two on labs of 50 cases. With 150 compiled rounds the constraints took nearly all of the time,
and labs of 50 and 150 cases were a tenth later."""
TURN_WORK = 0.5
"""What the solver may do on one window, in its own repeatable seconds."""
IN_VAIN = 2
"""Windows without a better plan, after which the local search has its turn."""


def nobody(_worth: Worth) -> None:
    """Listen to no progress."""


class _Search:
    def __init__(self, shop: Shop, start: Tried, number: int) -> None:
        self.shop, self.random = shop, Random(number)  # noqa: S311 - repeatable, not secret
        self.number, self.rule = number, start.rule
        self.margin, self.since = MARGIN, 0
        self.plays = plays_of(shop)
        plain = isinstance(self.plays, Plain)
        self.first = FIRST_ROUNDS if plain else FIRST_ROUNDS_COMPILED
        self.turn = TURN_ROUNDS if plain else TURN_ROUNDS_COMPILED
        self.kept: Tried | None = None
        self.better(start)
        self.blocks: list[list[list[int]]] = [[] for _ in shop.own]
        for block in shop.blocks:
            self.blocks[shop.case[block[0]]].append(block)
        self.free = [number for number, blocks in enumerate(self.blocks) if blocks]
        self.batches = any(stage.batch for stage in shop.stages)

    @property
    def best(self) -> Tried:
        """The best plan, with all its places."""
        if self.kept is None:
            self.kept = Tried(self.rule, self.top.floor(), self.top.worth)
        return self.kept

    def go_on_from(self, play: Play, standing: Any) -> None:
        """Seek among the neighbours of a plan from now on."""
        self.here, self.standing = play, standing
        # Reckoned when a case is next picked.
        self.sums: list[float] = []
        self.starts = self.plays.starts(standing)

    def pull(self) -> None:
        """Reckon how likely each case is to be moved: by what it is late, and a little always."""
        cases = self.shop.problem.cases
        late = [
            case.weight * max(0, at - case.due) if at >= 0 else 0.0
            for case, at in zip(cases, self.here.leaves(), strict=True)
        ]
        least = 1.0 + sum(late) / max(1, len(late)) / 4
        self.sums = list(accumulate(late[number] + least for number in self.free))
        self.step = max(2.0, self.here.last() / 8)

    def pick(self) -> int:
        """Return a case, the late ones more often."""
        if not self.sums:
            self.pull()
        point = self.random.random() * self.sums[-1]
        return self.free[min(bisect_left(self.sums, point), len(self.free) - 1)]

    def neighbour(self) -> Any:
        """Return the plan with something moved."""
        random = self.random
        blocks, what = self.blocks[self.pick()], random.random()
        by = int(random.expovariate(1.0) * self.step * random.choice((0.03, 0.1, 0.3, 1.0)))
        moves: dict[int, int] = {}
        if what < 0.35:
            self.move(moves, blocks, -by)
        elif what < 0.6:
            self.move(moves, blocks[random.randrange(len(blocks)) :], -by)
        elif what < 0.75:
            self.move(moves, self.blocks[random.choice(self.free)], by)
        elif what < 0.9:
            self.move(moves, [random.choice(blocks)], -by)
        else:
            one = random.choice(blocks)
            other = random.choice(self.blocks[random.choice(self.free)])
            apart = (self.starts[other[0]] or 0) - (self.starts[one[0]] or 0)
            self.move(moves, [one], apart)
            self.move(moves, [other], -apart)
        return self.plays.moved(self.standing, moves)

    def move(self, moves: dict[int, int], blocks: list[list[int]], by: int) -> None:
        """Note that some blocks are to be taken up by some minutes later."""
        for block in blocks:
            for at in block:
                start = self.starts[at]
                if start is not None and self.shop.stages[at].pin is None:
                    moves[at] = max(0, start + by)

    def run(
        self,
        stop: Stop,
        rounds: int | None,
        enough: Enough,
        progress: Progress,
        in_vain: int | None = None,
    ) -> Tried:
        """Search until the budget, the rounds, or so many of them in vain; return the best."""
        done = self.since = 0
        while self.free and not (stop() or enough(self.top.worth) or done == rounds):
            if self.since == in_vain:
                break
            done += 1
            found = self.plays.play(self.neighbour())
            self.since += 1
            if found.worth < self.top.worth:
                self.rise(found)
                progress(found.worth)
            else:
                if self.since > BACK_AFTER:
                    self.go_on_from(self.top, self.top_standing)
                    self.since = 0
                if self.near(found.worth, self.margin):
                    self.go_on_from(found, found.stood())
            self.margin *= SHRINKS
        return self.best

    def rise(self, found: Play, tried: Tried | None = None) -> None:
        """Keep a plan as the best, and go on from it."""
        self.top, self.kept = found, tried
        self.top_standing, self.since = found.stood(), 0
        self.go_on_from(found, self.top_standing)

    def better(self, found: Tried) -> None:
        """Keep a plan that was made elsewhere as the best, and go on from it."""
        self.rise(self.plays.known(found), found)

    def polish(self, stop: Stop, effort: cpsat.Effort, progress: Progress) -> bool:
        """Let the constraints work on one window; return whether it got better."""
        pick = windows.around_case if self.random.random() < 0.6 else windows.around_time
        freed = pick(self.shop, self.best.floor, self.pick(), self.random)
        late = self.best.worth[1] > 0
        solved = cpsat.solve(
            self.shop, self.best, freed, stop=stop, effort=effort, lateness_only=late
        )
        if solved.best.worth < self.best.worth:
            self.better(solved.best)
            progress(self.best.worth)
            return True
        return False

    def near(self, one: Worth, margin: float) -> bool:
        """Return whether a plan is good enough to go on from."""
        if one <= self.here.worth:
            return True
        best = self.top.worth
        if one[0] > best[0]:
            return False
        return one[1] <= best[1] * (1 + margin) and one[2] <= best[2] + 1


def search(
    shop: Shop,
    tried: list[Tried],
    *,
    stop: Stop = go_on,
    number: int = 0,
    rounds: int | None = None,
    enough: Enough = lambda worth: False,
    work: float | None = None,
    workers: int = 1,
    progress: Progress = nobody,
    bound: Callable[[float], None] | None = None,
) -> Tried:
    """Go on from the best of what was tried, and return what is at least as good.

    Parameters
    ----------
    stop
        Says when the budget of time is used up, or somebody has enough.
    number
        Of the chain of chances: the same number, ``rounds`` and ``work`` give the same plan.
    rounds
        How many plans the local search looks at; without it only ``stop`` ends the search.
    enough
        Says of the worth of the best plan that no better one is sought.
    work
        How much the constraints may do, in the solver's own repeatable seconds. Without it they
        work as long as ``stop`` lets them, and not at all where ``rounds`` are counted.
    workers
        How many processors the solver may use; more than one is not repeatable.
    progress
        Is told what the best plan is worth, each time it gets better.
    bound
        Is told a value that no plan's weighted lateness is below, where one gets known. Who
        asks for it wants the least lateness only: with the proof the search ends.
    """
    one = _Search(shop, best_of(tried), number)
    timed = rounds is None
    freed = windows.whole(shop)
    one.run(
        stop, rounds if not timed else one.first if freed else None, enough, progress,
        in_vain=one.turn if timed else None,
    )  # fmt: skip
    if not cpsat.available() or (work is None and not timed) or not one.free:
        return one.run(stop, None if timed else 0, enough, progress)
    if freed and bound is None and timed:
        _windows(one, stop, enough, None, workers, progress)
    if freed:
        _whole(one, freed, stop, enough, work, workers, progress, bound)
        if bound is None and one.batches:
            _batch_otherwise(one, tried, freed, stop, enough, work, workers, progress)
        return one.best
    left = work
    while not (stop() or enough(one.best.worth)) and (left is None or left > 0):
        left = _windows(one, stop, enough, left, workers, progress)
        if timed:
            one.run(stop, None, enough, progress, in_vain=one.turn)
    return one.best


def _batch_otherwise(
    one: _Search,
    tried: list[Tried],
    freed: set[int],
    stop: Stop,
    enough: Enough,
    work: float | None,
    workers: int,
    progress: Progress,
) -> None:
    """Give the constraints the whole lab in other batches, as long as that is better.

    The local search parts what is done together and joins nothing anew, and to the constraints
    batches are given.
    """
    seen = {batches(one.shop, one.best.floor)}
    # What the solver may do at all is shared: a lab that needs more has the one way it began with.
    share = None if work is None else work / MOST
    while not (stop() or enough(one.best.worth)):
        starts = others(one.shop, [*tried, one.best], one.best, seen)
        if not starts:
            return
        own = _Search(one.shop, starts[0], one.number)
        own.run(stop, own.first, enough, nobody)
        _whole(own, freed, stop, enough, share, workers, nobody, None)
        if own.best.worth < one.best.worth:
            one.better(own.best)
            progress(one.best.worth)


def _windows(
    one: _Search,
    stop: Stop,
    enough: Enough,
    left: float | None,
    workers: int,
    progress: Progress,
) -> float | None:
    """Give the constraints windows until some were in vain; return what they may still do."""
    in_vain = 0
    while in_vain < IN_VAIN and not (stop() or enough(one.best.worth)):
        if left is not None and left <= 0:
            break
        effort = cpsat.Effort(TURN_WORK if left is None else min(left, TURN_WORK), workers)
        in_vain = 0 if one.polish(stop, effort, progress) else in_vain + 1
        left = None if left is None else left - TURN_WORK
    return left


def _whole(
    one: _Search,
    freed: set[int],
    stop: Stop,
    enough: Enough,
    work: float | None,
    workers: int,
    progress: Progress,
    bound: Callable[[float], None] | None,
) -> None:
    """Give the constraints the whole lab, and again as long as other batches are better."""

    def told(better: Tried) -> None:
        progress(better.worth)

    def over() -> bool:
        return stop() or enough(one.best.worth)

    while not over():
        effort = cpsat.Effort(work, workers, one.number)
        solved = cpsat.solve(
            one.shop, one.best, freed, stop=over, effort=effort, found=told,
            lateness_only=bound is not None,
        )  # fmt: skip
        if solved.best.worth < one.best.worth:
            one.better(solved.best)
        if bound is not None and solved.bound is not None:
            bound(solved.bound)
            return
        before = one.best.worth
        # What is done together was not the solver's to choose: the local search may part it.
        one.run(stop, one.first if one.batches else 0, enough, progress)
        if work is not None or not solved.finished or one.best.worth == before:
            return


def improve(
    problem: Problem,
    *,
    stop: Stop = go_on,
    number: int = 0,
    rounds: int | None = None,
    work: float | None = None,
    workers: int = 1,
    progress: Progress = nobody,
) -> Plan:
    """Return a plan that is at least as good as the dispatcher's."""
    shop = Shop(problem)
    tried = try_rules(shop, stop)
    best = search(
        shop, tried, stop=stop, number=number, rounds=rounds, work=work, workers=workers,
        progress=progress,
    )  # fmt: skip
    return to_plan(shop, best.floor)
