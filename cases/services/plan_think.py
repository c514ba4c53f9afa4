"""A plan of the lab as it is at one instant, made at once: the last plan mended, or by rules."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from functools import cached_property

from django.db.models import Max
from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from cases.domain.planning import problem as plan
from cases.domain.planning.dispatch import Stop, Tried, best_of, go_on, try_rules
from cases.domain.planning.mend import mended
from cases.domain.planning.relax import STEPS, Limits, limits_of_cases, relaxed
from cases.domain.planning.score import to_plan
from cases.domain.planning.shop import Shop
from cases.domain.planning.why import Reasons
from cases.models import Event
from cases.selectors.planning.build import Built, build

DROPPED = {
    "moment": gettext_noop(
        "%(number)s: the last moment of a stage cannot be kept; it comes as soon as it can."
    ),
    "start": gettext_noop(
        "%(number)s: the start that was pinned cannot be kept; it comes as soon as it can."
    ),
    "wait": gettext_noop(
        "%(number)s: a longest wait of its route cannot be kept; it comes as soon as it can."
    ),
}


@dataclass
class Made:
    """A plan and what it was made of.

    ``up_to`` is the last event that it knows of; ``how`` is rules, search or mend; ``words`` says
    which limits were given up.
    """

    built: Built
    problem: plan.Problem
    shop: Shop
    best: Tried
    plan: plan.Plan
    up_to: int
    how: str
    words: tuple[str, ...] = ()

    @cached_property
    def reasons(self) -> Reasons:
        """Return the plan beside its problem, to be asked why."""
        return Reasons(self.problem, self.plan)


def last_event() -> int:
    """Return the number of the last event there is."""
    return Event.objects.aggregate(last=Max("pk"))["last"] or 0


def think(now: datetime, *, rules: Stop = go_on, anew: bool = False) -> Made:
    """Return a plan of the lab at ``now``: the last plan mended, or the dispatcher's first one.

    Parameters
    ----------
    anew
        The dispatcher's, whatever the last plan says.
    rules
        Ends the trying of rules or orders; at least one is tried.
    """
    up_to = last_event()
    built = build(now)
    problem = built.problem
    mending = bool(problem.last) and not anew
    shop, best, found = _try(problem, rules, mending)
    present = limits_of_cases(problem)
    dropped: dict[str, Limits] = {}
    for step in STEPS:
        more = {
            case: step & present[case]
            for case in _without_place(found, shop)
            if step & present[case] and step & present[case] != dropped.get(case)
        }
        if more:
            dropped |= more
            problem = relaxed(built.problem, dropped)
            shop, best, found = _try(problem, rules, mending)
    kept_back = _without_place(found, shop)
    words = _words(built, {case: dropped[case] for case in dropped if case not in kept_back})
    how = "mend" if mending else "rules"
    return Made(built, problem, shop, best, found, up_to, how, words)


def _try(problem: plan.Problem, rules: Stop, mending: bool) -> tuple[Shop, Tried, plan.Plan]:
    shop = Shop(problem)
    best = mended(shop, problem.last, stop=rules) if mending else best_of(try_rules(shop, rules))
    return shop, best, to_plan(shop, best.floor)


def _without_place(made: plan.Plan, shop: Shop) -> set[str]:
    """Return the cases that have no place though nothing is wrong with them."""
    stages = {stage.key: stage for stage in shop.stages}
    flawed = {stages[key].case for key in shop.flawed}
    return {stages[key].case for key, _words in made.unplanned} - flawed


def _words(built: Built, dropped: dict[str, Limits]) -> tuple[str, ...]:
    return tuple(
        _(DROPPED[limit]) % {"number": built.names[case]}
        for case in _in_order(built, dropped)
        for limit in sorted(dropped[case])
    )


def _in_order(built: Built, cases: Iterable[str]) -> list[str]:
    return sorted(cases, key=lambda case: built.names[case])
