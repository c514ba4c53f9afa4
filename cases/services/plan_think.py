"""A plan of the lab as it is at one instant, made at once: the last plan mended, or by rules."""

from __future__ import annotations

from collections.abc import Callable, Iterable
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
from cases.domain.planning.why_words import span
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
"""What is said of a case where the plan that stands would keep the limit all the same."""
MISSED = {
    "moment": gettext_noop(
        "%(stage)s: its last moment cannot be kept (%(limit)s); it begins %(begins)s."
    ),
    "start": gettext_noop(
        "%(stage)s: the start that was pinned cannot be kept (%(limit)s); it begins %(begins)s."
    ),
    "wait": gettext_noop(
        "%(stage)s: its longest wait cannot be kept (%(limit)s); it begins %(begins)s."
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
    kept = mend_or_make(built.problem, rules, anew=anew)
    words = (*say_dropped(built, kept.dropped, kept.plan), *_staying(built, kept))
    how = "mend" if _mends(built.problem, anew=anew) else "rules"
    return Made(built, kept.problem, kept.shop, kept.best, kept.plan, up_to, how, words)


@dataclass(frozen=True)
class Kept:
    """A plan, the problem with what had to be given up for it, and which limits of which cases
    that are."""

    problem: plan.Problem
    shop: Shop
    best: Tried
    plan: plan.Plan
    dropped: dict[str, Limits]


def _mends(problem: plan.Problem, *, anew: bool) -> bool:
    """Tell whether there is a last plan to be mended, and it is to be."""
    return bool(problem.last) and not anew


def mend_or_make(problem: plan.Problem, rules: Stop, *, anew: bool = False) -> Kept:
    """Return the last plan mended, or the dispatcher's first one, as ``think`` has them."""

    def make(shop: Shop) -> Tried:
        if _mends(problem, anew=anew):
            return mended(shop, shop.problem.last, stop=rules)
        return best_of(try_rules(shop, rules))

    return keep(problem, make)


def keep(whole: plan.Problem, make: Callable[[Shop], Tried]) -> Kept:
    """Return the plan that ``make`` makes, with the limits given up that no plan of it keeps."""
    problem = whole
    shop = Shop(problem)
    best = make(shop)
    found = to_plan(shop, best.floor)
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
            problem = relaxed(whole, dropped)
            shop = Shop(problem)
            best = make(shop)
            found = to_plan(shop, best.floor)
    kept_back = _without_place(found, shop)
    given_up = {case: limits for case, limits in dropped.items() if case not in kept_back}
    return Kept(problem, shop, best, found, given_up)


def _without_place(made: plan.Plan, shop: Shop) -> set[str]:
    """Return the cases that have no place though nothing is wrong with them."""
    stages = {stage.key: stage for stage in shop.stages}
    flawed = {stages[key].case for key in shop.flawed}
    return {stages[key].case for key, _words in made.unplanned} - flawed


def say_dropped(built: Built, dropped: dict[str, Limits], made: plan.Plan) -> tuple[str, ...]:
    """Return which limits of which cases are given up, in sentences: of which stage, until when it
    was, and when the plan has it instead."""
    at = {one.stage: one for one in made.planned}
    stages: dict[str, list[plan.Stage]] = {}
    for stage in built.problem.stages:
        if stage.case in dropped and stage.key in at:
            stages.setdefault(stage.case, []).append(stage)
    words = []
    for case in _in_order(built, dropped):
        for limit in sorted(dropped[case]):
            missed = [
                _(MISSED[limit])
                % {
                    "stage": built.name(stage.key),
                    "limit": said,
                    "begins": built.moment(at[stage.key].start),
                }
                for stage in stages.get(case, ())
                if (said := _missed(built, stage, limit, at))
            ]
            words += missed or [_(DROPPED[limit]) % {"number": built.names[case]}]
    return tuple(words)


def _missed(built: Built, stage: plan.Stage, limit: str, at: dict[str, plan.Planned]) -> str:
    """Say a limit of a stage that a plan does not keep; nothing where it does."""
    begins = at[stage.key].start
    if limit == "moment" and stage.latest is not None and begins > stage.latest:
        return built.moment(stage.latest)
    pinned = stage.pin.start if stage.pin is not None else None
    if limit == "start" and pinned is not None and begins != pinned:
        return built.moment(pinned)
    for after in stage.after if limit == "wait" else ():
        before = at.get(after.stage)
        if after.most is not None and before is not None and begins - before.end > after.most:
            return _("%(time)s after “%(stage)s”") % {
                "time": span(after.most),
                "stage": built.name(after.stage),
            }
    return ""


def _staying(built: Built, kept: Kept) -> tuple[str, ...]:
    """Return a sentence for each case that is all planned and does not leave."""
    leaves = {one.case for one in kept.plan.leaves}
    lacking = {kept.shop.stages[kept.shop.number[key]].case for key, _why in kept.plan.unplanned}
    last = {case.key: max(case.vans, default=0) for case in kept.problem.cases}
    twins = {one: other for pair in kept.problem.pairs for one, other in (pair, pair[::-1])}
    staying = {stage.case for stage in kept.problem.stages} - leaves - lacking
    words = []
    for case in _in_order(built, staying):
        names = {
            "number": built.names[case],
            "twin": built.names.get(twins.get(case, ""), ""),
            "day": built.day(last[case]),
        }
        if twins.get(case) in lacking:
            words.append(
                _("%(number)s waits for %(twin)s, which has no place in the plan.") % names
            )
        else:
            words.append(
                _(
                    "%(number)s is done after the last van that is known, on %(day)s: say on which "
                    "days a van goes to its practice, or let it be sent otherwise."
                )
                % names
            )
    return tuple(words)


def _in_order(built: Built, cases: Iterable[str]) -> list[str]:
    return sorted(cases, key=lambda case: built.names[case])
