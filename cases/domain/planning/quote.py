"""The day that may be promised to a case that is not in the plan yet, and what it would cost.

The plan is played again with the new case in it. A day is safe when the case arrives by then
and no other case becomes late, or notably later than it is. Whether a day can be kept is not
monotone in the day: a case that goes with today's load may harm nobody, and going tomorrow
another. So days are asked one after the other, never by halving.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from copy import copy
from dataclasses import dataclass, field, replace
from functools import cached_property

from cases.domain.planning.chance import arrivals
from cases.domain.planning.dispatch import Stop, go_on
from cases.domain.planning.floor import Floor
from cases.domain.planning.mend import DAY, wishes
from cases.domain.planning.problem import Case, Held, Plan, Problem, Stage, Thing
from cases.domain.planning.replay import replay
from cases.domain.planning.score import to_plan
from cases.domain.planning.shop import NEVER, Shop
from cases.domain.planning.standing import Standing
from cases.domain.planning.why_words import Name, same, span
from cases.domain.words import gettext as _

BEARABLE = 60
"""Minutes by which a case that is late already may become later. Judgement."""


@dataclass(frozen=True)
class Newcomer:
    """A case that is asked about, with its stages and what it holds."""

    case: Case
    stages: tuple[Stage, ...]
    held: tuple[Held, ...] = ()
    things: tuple[Thing, ...] = ()


@dataclass(frozen=True)
class Harm:
    """A case that would be late, or later: by so many minutes, to a lateness of ``late``."""

    case: str
    by: int
    late: int


@dataclass(frozen=True)
class Offer:
    """What becomes of the lab when a day is promised.

    Attributes
    ----------
    day
        The minute by which the case must have arrived.
    arrives
        When it arrives in ``plan``.
    harmed
        The other cases that it makes late, the worst first.
    plan
        The plan with the case in it; a plan of ``with_case(problem, newcomer, day)``.
    made
        Makes it.
    """

    day: int
    arrives: int
    harmed: tuple[Harm, ...]
    made: Callable[[], Plan] = field(repr=False, compare=False)

    @cached_property
    def plan(self) -> Plan:
        """The plan, put into words when somebody asks for it."""
        return self.made()

    @property
    def safe(self) -> bool:
        """Whether the day is kept and nobody is harmed."""
        return self.arrives <= self.day and not self.harmed


@dataclass(frozen=True)
class Quote:
    """What was asked of each day, in order; ``earliest`` is the first safe one, None if none is."""

    offers: tuple[Offer, ...]

    @property
    def earliest(self) -> Offer | None:
        return next((offer for offer in self.offers if offer.safe), None)


def with_case(problem: Problem, new: Newcomer, due: int | None = None) -> Problem:
    """Return the problem with a case more, due then if that is said."""
    case = new.case if due is None else replace(new.case, due=due)
    return replace(
        problem,
        cases=(*problem.cases, case),
        stages=problem.stages + new.stages,
        held=problem.held + new.held,
        things=problem.things + new.things,
    )


@dataclass(frozen=True)
class _Played:
    floor: Floor
    arrives: int
    harmed: tuple[Harm, ...]


class _Asked:
    """A lab with a newcomer, and the plan that is without it."""

    def __init__(
        self, problem: Problem, plan: Plan, new: Newcomer, keep_until: int, bearable: int
    ) -> None:
        self.new, self.keep_until, self.bearable = new, keep_until, bearable
        self.shop = Shop(with_case(problem, new))
        self.standing = Standing(self.shop, plan.planned)
        self.was = {one.case: one.late for one in plan.leaves}

    def play(self, wished: Mapping[int, float]) -> _Played | None:
        """Return the lab with the case in an order, or None when somebody has no place then."""
        floor = replay(
            self.standing.reordered(wished),
            keep_until=self.keep_until,
            forward_from=self.keep_until,
        )
        *others, arrives = arrivals(self.shop, floor)
        harmed: list[Harm] = []
        for case, at in zip(self.shop.problem.cases, others, strict=False):
            before = self.was.get(case.key)
            if before is None:
                continue
            if at >= NEVER:
                return None
            late = max(0, at - case.due)
            if late > before + (self.bearable if before else 0):
                harmed.append(Harm(case.key, late - before, late))
        harmed.sort(key=lambda one: (-one.by, one.case))
        return _Played(floor, arrives, tuple(harmed)) if arrives < NEVER else None

    def offer(self, day: int, played: _Played) -> Offer:
        """Return the offer of a day; the plan counts the lateness against that day."""

        def made() -> Plan:
            shop, case = copy(self.shop), replace(self.new.case, due=day)
            shop.problem = replace(shop.problem, cases=(*shop.problem.cases[:-1], case))
            return to_plan(shop, played.floor)

        return Offer(day, played.arrives, played.harmed, made)

    def best(self, day: int, first: _Played | None, stop: Stop) -> _Played | None:
        """Return the best that is found for a day: safe, or in time with the least harm."""
        found = [first] if first is not None else []
        if found and _rank(day, found[0])[:2] == (False, 0):
            return first
        # The most patient order first: where it is in time, a hastier one harms others more.
        for wished in wishes(self.standing, day)[:0:-1]:
            if stop():
                break
            played = self.play(wished)
            if played is not None:
                found.append(played)
                if played.arrives <= day:
                    break
        return min(found, key=lambda one: _rank(day, one), default=None)


def _rank(day: int, played: _Played) -> tuple[bool, int, int]:
    """In time first, then the least harm, then the soonest."""
    return played.arrives > day, sum(one.by for one in played.harmed), played.arrives


def quote(
    problem: Problem,
    plan: Plan,
    new: Newcomer,
    days: Sequence[int],
    *,
    keep_until: int = DAY,
    bearable: int = BEARABLE,
    stop: Stop = go_on,
) -> Quote:
    """Return what becomes of each day, up to the first that is safe.

    Parameters
    ----------
    plan
        The plan in force, of the problem without the case, in its minutes.
    days
        Minutes by which the case might have to have arrived, in order.
    keep_until
        Until when nobody is moved, as in ``mend``.
    bearable
        Minutes by which a case that is late already may become later.
    stop
        Says that no further day is asked; one always is.

    Raises
    ------
    ValueError
        When the days are not in order, or the case has a shape that nobody can mean.
    """
    if list(days) != sorted(days):
        raise ValueError("The days must be in order.")
    asked = _Asked(problem, plan, new, keep_until, bearable)
    first = asked.play(wishes(asked.standing)[0])
    offers: list[Offer] = []
    for day in days:
        # Put before all others it arrives no sooner: no order keeps an earlier day.
        hopeless = first is not None and first.arrives > day
        played = first if hopeless else asked.best(day, first, stop)
        if played is not None:
            offers.append(asked.offer(day, played))
            if offers[-1].safe:
                break
        if stop():
            break
    return Quote(tuple(offers))


def needed_by(
    problem: Problem,
    plan: Plan,
    new: Newcomer,
    appointment: int,
    releases: Iterable[int],
    *,
    keep_until: int = DAY,
    bearable: int = BEARABLE,
    enough: Callable[[Newcomer, Offer], bool] = lambda _new, _offer: True,
    stop: Stop = go_on,
) -> tuple[int, Offer] | None:
    """Return the last minute at which a case may come so that it is back for an appointment.

    What comes sooner can wait, so the last that is safe is the answer, whatever lies between.

    Parameters
    ----------
    appointment
        The minute by which it must have arrived.
    releases
        Minutes at which it might come; asked from the last to the first.
    enough
        Says of a safe offer, with the case as it would come, whether it is sure enough.

    Returns
    -------
    The minute with its offer, None if none is safe within the budget.
    """
    for release in sorted(releases, reverse=True):
        if release >= appointment:
            continue
        later = replace(new, case=replace(new.case, release=release))
        found = quote(
            problem,
            plan,
            later,
            [appointment],
            keep_until=keep_until,
            bearable=bearable,
            stop=stop,
        )
        if found.earliest is not None and enough(later, found.earliest):
            return release, found.earliest
        if stop():
            break
    return None


def say_harm(harm: Harm, name: Name = same) -> str:
    """Return in words which case is made late, and by how much."""
    return _("%(case)s would be %(late)s late, %(by)s more than now.") % {
        "case": name(harm.case),
        "late": span(harm.late),
        "by": span(harm.by),
    }
