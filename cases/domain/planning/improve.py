"""Local search on the order in which things are taken up, by playing the lab again and again.

A plan is written as keys: when each block began. Played again with these keys the lab gives
about the same plan; with the keys of one case or stage moved it gives a neighbour. What is
worse is taken for a while, within a margin that shrinks; the best is kept, so that the answer
is never worse than its start.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Callable
from itertools import accumulate
from random import Random

from cases.domain.planning.decode import decode
from cases.domain.planning.dispatch import Stop, Tried, best_of, go_on, try_rules
from cases.domain.planning.floor import Floor
from cases.domain.planning.problem import Plan, Problem
from cases.domain.planning.rules import Rule
from cases.domain.planning.score import Worth, leaving, to_plan, worth
from cases.domain.planning.shop import Shop

MARGIN, SHRINKS = 0.02, 0.999
"""The share by which a plan may be worse than the best and still be gone on from."""
Enough = Callable[[Worth], bool]
BACK_AFTER = 400
"""Rounds without a better plan, after which the search goes on from the best."""


def keys_of(floor: Floor) -> list[float]:
    """Return when each stage began, with its number in a fraction: the order of the plan."""
    size = len(floor.start) + 1
    return [start + at / size for at, start in enumerate(floor.start)]


class _Search:
    def __init__(self, shop: Shop, start: Tried, number: int) -> None:
        self.shop, self.random = shop, Random(number)  # noqa: S311 - repeatable, not secret
        self.patience = start.rule.patience
        self.best = self.here = start
        self.best_keys = self.keys = keys_of(start.floor)
        self.heads: list[list[int]] = [[] for _ in shop.own]
        for block in shop.blocks:
            self.heads[shop.case[block[0]]].append(block[0])
        self.free = [number for number, heads in enumerate(self.heads) if heads]
        self.pull_of(start.floor)

    def pull_of(self, floor: Floor) -> None:
        """Reckon how likely each case is to be moved: by what it is late, and a little always."""
        cases = self.shop.problem.cases
        late = [
            case.weight * max(0, at + case.transit - case.due) if at >= 0 else 0.0
            for case, at in zip(cases, leaving(self.shop, floor), strict=True)
        ]
        least = 1.0 + sum(late) / max(1, len(late)) / 4
        self.sums = list(accumulate(late[number] + least for number in self.free))
        span = max(floor.end, default=1)
        self.step = max(2.0, span / 8)

    def pick(self) -> int:
        """Return a case, the late ones more often."""
        point = self.random.random() * self.sums[-1]
        return self.free[min(bisect_left(self.sums, point), len(self.free) - 1)]

    def neighbour(self) -> list[float]:
        """Return the keys with something moved."""
        random, keys = self.random, list(self.keys)
        heads = self.heads[self.pick()]
        what = random.random()
        by = random.expovariate(1.0) * self.step * random.choice((0.1, 0.3, 1.0))
        if what < 0.35:
            for at in heads:
                keys[at] -= by
        elif what < 0.6:
            for at in heads[random.randrange(len(heads)) :]:
                keys[at] -= by
        elif what < 0.75:
            for at in self.heads[random.choice(self.free)]:
                keys[at] += by
        elif what < 0.9:
            keys[random.choice(heads)] -= by
        else:
            one, other = random.choice(heads), random.choice(self.heads[random.choice(self.free)])
            keys[one], keys[other] = keys[other], keys[one]
        return keys

    def play(self, keys: list[float]) -> Tried:
        """Play the lab with keys."""

        def key(at: int, _now: int) -> float:
            return keys[at]

        floor = decode(self.shop, key, patience=self.patience)
        return Tried(Rule("search", key, patience=self.patience), floor, worth(self.shop, floor))

    def run(self, stop: Stop, rounds: int | None, enough: Enough) -> Tried:
        """Search until the budget or the rounds end; return the best."""
        margin, since, done = MARGIN, 0, 0
        while self.free and not (stop() or enough(self.best.worth) or done == rounds):
            done += 1
            keys = self.neighbour()
            found = self.play(keys)
            since += 1
            if found.worth < self.best.worth:
                self.best, self.best_keys, since = found, keys_of(found.floor), 0
            elif since > BACK_AFTER:
                self.here, self.keys, since = self.best, self.best_keys, 0
            if self.near(found.worth, margin):
                self.here, self.keys = found, keys_of(found.floor)
                self.pull_of(found.floor)
            margin *= SHRINKS
        return self.best

    def near(self, one: Worth, margin: float) -> bool:
        """Return whether a plan is good enough to go on from."""
        if one <= self.here.worth:
            return True
        if one[0] > self.best.worth[0]:
            return False
        return one[1] <= self.best.worth[1] * (1 + margin) and one[2] <= self.best.worth[2] + 1


def search(
    shop: Shop,
    tried: list[Tried],
    *,
    stop: Stop = go_on,
    number: int = 0,
    rounds: int | None = None,
    enough: Enough = lambda worth: False,
) -> Tried:
    """Go on from the best of what was tried, and return what is at least as good.

    Parameters
    ----------
    stop
        Says when the budget of time is used up.
    number
        Of the chain of chances: the same number, and as many rounds, give the same plan.
    rounds
        How many plans are looked at; without it only ``stop`` ends the search.
    enough
        Says of the worth of the best plan that no better one is sought.
    """
    return _Search(shop, best_of(tried), number).run(stop, rounds, enough)


def improve(
    problem: Problem, *, stop: Stop = go_on, number: int = 0, rounds: int | None = None
) -> Plan:
    """Return a plan that is at least as good as the dispatcher's."""
    shop = Shop(problem)
    tried = try_rules(shop, stop)
    return to_plan(shop, search(shop, tried, stop=stop, number=number, rounds=rounds).floor)
