"""What a choice would cost, before it is made: the lab planned twice, as it is and with it.

Both times the plan in force is mended, as the planner will do at once; where the choice would make
that later, some of the rules are asked too, as they will be when the planner improves it.
"""

from __future__ import annotations

import time
from collections.abc import Collection
from dataclasses import dataclass, replace
from datetime import datetime

from django.utils.translation import gettext as _

from cases.domain.planning import problem as plan
from cases.domain.planning.dispatch import Stop, Tried, best_of, try_rules
from cases.domain.planning.mend import mended
from cases.domain.planning.shop import Shop
from cases.models import Case
from cases.selectors.planning.build import Built, build
from cases.selectors.planning.people import person_key
from cases.selectors.planning.places import bath_key
from cases.selectors.planning.work import case_pk, stage_key
from cases.services.plan_think import Kept, keep, say_dropped

RULES_SECONDS = 0.5
"""How long rules are tried: a person waits. Judgement."""


@dataclass(frozen=True)
class Later:
    """A case that would leave later, or earlier, than without the choice."""

    case: Case
    before: datetime
    after: datetime
    late_minutes: int


@dataclass(frozen=True)
class Price:
    """What a choice costs.

    ``lateness`` is in weighted minutes, more than without it; ``later`` and ``sooner`` are the
    cases whose day changes, those that change most first; ``given_up`` says what could not be
    kept any more, ``impossible`` why it cannot be planned at all.
    """

    lateness: float = 0
    later: tuple[Later, ...] = ()
    sooner: tuple[Later, ...] = ()
    given_up: tuple[str, ...] = ()
    impossible: str = ""


def _soon() -> Stop:
    ends = time.monotonic() + RULES_SECONDS
    return lambda: time.monotonic() >= ends


def _with_pin(problem: plan.Problem, keys: Collection[str], pin: plan.Pin) -> plan.Problem:
    stages = tuple(
        replace(stage, pin=pin) if stage.key in keys else stage for stage in problem.stages
    )
    return replace(problem, stages=stages)


def _planned(problem: plan.Problem, better_than: Tried | None = None) -> Kept:
    """Return the plan in force as the problem makes it, by rules where there is none or it is worse
    than another; what cannot be kept is given up as the planner will."""

    def make(shop: Shop) -> Tried:
        tried = [mended(shop, problem.last)] if problem.last else []
        if not tried or (better_than is not None and tried[0].worth[:2] > better_than.worth[:2]):
            tried += try_rules(shop, _soon())
        return best_of(tried)

    return keep(problem, make)


def price_of_pin(
    now: datetime, *, stage: int, person: int | None, begins_at: datetime | None
) -> Price:
    """Return what it costs when a person, a time, or both are decided for a stage.

    Where nobody is chosen it stays with whom it was handed to.
    """
    built, key = build(now), stage_key(stage)
    start = built.clock.not_before(begins_at) if begins_at else None
    who = person_key(person) if person else built.handed.get(key, "")
    return _price(built, [key], plan.Pin(who, start))


def price_of_load(
    now: datetime, *, stages: Collection[int], bath: int, begins_at: datetime
) -> Price:
    """Return what it costs when the bath and the minute of a load are decided."""
    built = build(now)
    pin = plan.Pin("", built.clock.not_before(begins_at), bath_key(bath))
    return _price(built, [stage_key(one) for one in stages], pin)


def _price(built: Built, keys: Collection[str], pin: plan.Pin) -> Price:
    without = _planned(built.problem)
    with_it = _with_pin(built.problem, keys, pin)
    pinned = _planned(with_it, better_than=without.best)
    words, before = dict(pinned.plan.unplanned), dict(without.plan.unplanned)
    own = {stage.case for stage in with_it.stages if stage.key in keys}
    for key in keys:
        if key in words and key not in before:
            return Price(impossible=built.said(words[key]))
    given_up = any("start" in pinned.dropped.get(case, ()) for case in own)
    if given_up and pin.start is not None:
        return Price(impossible=_cannot_begin(built, keys, pin.start, pinned.plan))
    return replace(
        _compare(built, without.plan, pinned.plan), given_up=_given_up(built, without, pinned)
    )


def _cannot_begin(built: Built, keys: Collection[str], start: int, made: plan.Plan) -> str:
    """Say that a start cannot be, and the first that can."""
    words = _("It cannot begin %(at)s: hands, a place or what comes before it are not free then.")
    said = words % {"at": built.moment(start)}
    begins = [one.start for one in made.planned if one.stage in keys]
    if not begins:
        return said
    as_soon = _("As soon as it can, it begins %(at)s.") % {"at": built.moment(min(begins))}
    return f"{said} {as_soon}"


def _given_up(built: Built, without: Kept, pinned: Kept) -> tuple[str, ...]:
    """Return what could be kept without the choice and cannot with it, in sentences."""
    stages = {stage.key: stage.case for stage in pinned.problem.stages}
    lost = {stages[key] for key, _why in pinned.plan.unplanned}
    lost -= {stages[key] for key, _why in without.plan.unplanned}
    found = [
        _("%(number)s would have no place in the plan any more.") % {"number": built.name(case)}
        for case in sorted(lost, key=built.name)
    ]
    more = {
        case: limits - without.dropped.get(case, frozenset())
        for case, limits in pinned.dropped.items()
    }
    given_up = {case: limits for case, limits in more.items() if limits}
    return (*found, *say_dropped(built, given_up, pinned.plan))


def _compare(built: Built, without: plan.Plan, pinned: plan.Plan) -> Price:
    before = {one.case: one for one in without.leaves}
    moved = [one for one in pinned.leaves if one.case in before and before[one.case].at != one.at]
    moved.sort(key=lambda one: -abs(one.at - before[one.case].at))
    cases = Case.objects.select_related("design").in_bulk([case_pk(one.case) for one in moved])
    rows = [
        Later(
            cases[case_pk(one.case)],
            built.clock.instant(before[one.case].at),
            built.clock.instant(one.at),
            one.late,
        )
        for one in moved
    ]
    return Price(
        lateness=pinned.lateness - without.lateness,
        later=tuple(row for row in rows if row.after > row.before),
        sooner=tuple(row for row in rows if row.after < row.before),
    )
