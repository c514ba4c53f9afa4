"""How sure the days of a plan are: it is played many times with drawn times, and counted.

Each replay keeps the plan's order, hands and loads, as the benches do, lets what is ready early
begin early, and forms loads anew where pieces are late. Nobody plans anew in it. On invented labs
that promised the days of their plan and learnt their times night by night, 83.5 % was stated and
82.9 % kept where the order stood (750 promises), 84.1 % and 85.3 % where the lab planned anew
each night (150). ``benchmarks/mending.py`` measures it again.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Collection
from dataclasses import dataclass
from math import sqrt

from cases.domain.planning.dispatch import Stop, go_on
from cases.domain.planning.floor import Floor
from cases.domain.planning.problem import Plan, Planned, Problem
from cases.domain.planning.replay import replay
from cases.domain.planning.score import leaving
from cases.domain.planning.shop import NEVER, Shop
from cases.domain.planning.spread import Luck, SpreadOf, usual
from cases.domain.planning.standing import Standing

REPLAYS = 200
"""Of 200 replays the standard error of a chance is at most 3.5 points."""


@dataclass(frozen=True)
class Chance:
    """When a case arrives, in the replays.

    Attributes
    ----------
    arrivals
        Minutes of arriving, in order; NEVER where it did not leave within the calendar.
    """

    case: str
    due: int
    arrivals: tuple[int, ...]

    def by(self, instant: int) -> float:
        """Return the share of replays in which it has arrived by an instant."""
        if not self.arrivals:
            return 0.0
        return bisect_right(self.arrivals, instant) / len(self.arrivals)

    @property
    def kept(self) -> float:
        """The chance that its due date is kept."""
        return self.by(self.due)

    def error(self, instant: int) -> float:
        """Return the standard error of ``by``, 0.5 without replays; never quite 0."""
        count = len(self.arrivals)
        if not count:
            return 0.5
        # With two added successes and failures (Agresti & Coull 1998, from memory).
        share = (self.by(instant) * count + 2) / (count + 4)
        return sqrt(share * (1 - share) / (count + 4))

    def sure(self, chance: float) -> int:
        """Return by when it has arrived with at least some chance; NEVER if that is not known."""
        needed = max(1, -int(-chance * len(self.arrivals) // 1))
        return self.arrivals[needed - 1] if needed <= len(self.arrivals) else NEVER


def arrivals(shop: Shop, floor: Floor) -> list[int]:
    """Return when each case leaves in a plan, NEVER for those that do not."""
    return [at if at >= 0 else NEVER for at in leaving(shop, floor)]


def with_pairs(shop: Shop, numbers: Collection[int]) -> set[int]:
    """Return some cases with those that leave with them."""
    found = set(numbers)
    for pair in shop.pairs:
        if found & set(pair):
            found |= set(pair)
    return found


def chances(
    problem: Problem,
    plan: Plan,
    *,
    cases: Collection[str] | None = None,
    spread_of: SpreadOf = usual,
    replays: int = REPLAYS,
    number: int = 0,
    stop: Stop = go_on,
) -> dict[str, Chance]:
    """Return how sure the days of cases are, by the key of the case.

    Parameters
    ----------
    plan
        A plan of the problem.
    cases
        Whose chances are asked for, all if None. Asked for few, each replay ends when they left.
    spread_of
        The lab's own spread of each stage's times.
    replays
        How many courses of things are played, at most.
    number
        Of the chain of chances: the same number gives the same chances.
    stop
        Says when the budget is used up; what was played by then is counted.

    Raises
    ------
    KeyError
        When a case is asked for that is not in the problem.
    """
    shop = Shop(problem)
    numbers = {case.key: at for at, case in enumerate(problem.cases)}
    asked = sorted(numbers[key] for key in (numbers if cases is None else cases))
    until = None if cases is None else with_pairs(shop, asked)
    found: dict[int, list[int]] = {at: [] for at in asked}
    standing, luck = Standing(shop, plan.planned), Luck(shop, spread_of, number)
    for day in range(replays):
        if stop():
            break
        times = luck.times(day)
        arrived = arrivals(shop, replay(standing, times=times, forward_from=0, until=until))
        for at in asked:
            found[at].append(arrived[at])
    return {
        problem.cases[at].key: Chance(
            problem.cases[at].key, problem.cases[at].due, tuple(sorted(of))
        )
        for at, of in found.items()
    }


# ── expected lateness ────────────────────────────────────────────────────────
@dataclass(frozen=True)
class Expected:
    """What a plan is worth nominally, and on average over sampled courses of things.

    ``nominal`` and ``mean`` are weighted minutes late; ``worst`` is the largest sampled;
    ``without`` the cases that do not leave, on average.
    """

    nominal: float
    mean: float
    worst: float
    without: float

    @property
    def order(self) -> tuple[float, float, float]:
        """By which plans are compared: the smaller the better."""
        return self.without, self.mean, self.nominal


class Days:
    """A handful of sampled courses of things, the same for every plan that is compared.

    Parameters
    ----------
    count
        How many are sampled. Eight part plans that differ by more than a tenth. Judgement.
    """

    def __init__(
        self, shop: Shop, *, spread_of: SpreadOf = usual, count: int = 8, number: int = 0
    ) -> None:
        self.shop = shop
        luck = Luck(shop, spread_of, number)
        self.times = [luck.times(day) for day in range(count)]

    def expected(self, planned: tuple[Planned, ...]) -> Expected:
        """Return what a plan is worth over these days."""
        standing = Standing(self.shop, planned)
        nominal, _without = self._late(replay(standing, forward_from=0))
        late = [self._late(replay(standing, times=times, forward_from=0)) for times in self.times]
        count = max(1, len(late))
        return Expected(
            nominal,
            sum(one for one, _ in late) / count,
            max((one for one, _ in late), default=nominal),
            sum(without for _, without in late) / count,
        )

    def _late(self, floor: Floor) -> tuple[float, int]:
        lateness, without = 0.0, 0
        arrived = zip(
            self.shop.problem.cases, self.shop.own, arrivals(self.shop, floor), strict=True
        )
        for case, own, at in arrived:
            if at < NEVER:
                lateness += case.weight * max(0, at - case.due)
            elif own:
                without += 1
        return lateness, without

    def best(self, plans: list[Plan]) -> tuple[int, list[Expected]]:
        """Return which of some plans is best on average, and what each is worth.

        Of equals the first. Raises ``ValueError`` without plans.
        """
        if not plans:
            raise ValueError("There is no plan to choose from.")
        worths = [self.expected(plan.planned) for plan in plans]
        return min(range(len(plans)), key=lambda at: worths[at].order), worths
