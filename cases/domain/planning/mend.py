"""The last plan mended after something happened: at once, and with few surprises for people.

The caller puts the event into the problem (a stage that ended or runs longer, a new case, hours
that a person is away, a cure that failed, an answer); the last plan, in minutes of the new
problem, is ``problem.last``. What runs stays. Loads that have not begun are formed anew where
they must. The improver goes on from here behind it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from cases.domain.planning.dispatch import Stop, Tried, best_of, go_on, play
from cases.domain.planning.problem import Plan, Planned, Problem
from cases.domain.planning.replay import replay
from cases.domain.planning.rules import PATIENCE, Rule, portfolio
from cases.domain.planning.score import to_plan, worth
from cases.domain.planning.shop import Shop
from cases.domain.planning.standing import Standing
from cases.domain.planning.why import Reasons, Wait
from cases.domain.planning.why_words import Name, same, say, span
from cases.domain.words import gettext as _

DAY = 24 * 60
NOTABLE = 30
"""Minutes by which a start must differ to be told. Judgement."""

ChangeKind = Literal["person", "load", "later", "earlier", "new", "unplanned"]


@dataclass(frozen=True)
class Change:
    """What a mended plan has otherwise than the last one, for the people concerned.

    Attributes
    ----------
    kind
        person: other hands; load: another bath, or the load at another time; later, earlier:
        the same hands at another time; new: it was not in the last plan; unplanned: it has no
        place any more.
    was, now
        Its place in the last plan and in this; None where it has none.
    away
        Whether the last plan's hands are not at work at the hour that it had.
    wait
        What it waits for last before it starts; None if for nothing.
    """

    stage: str
    kind: ChangeKind
    was: Planned | None
    now: Planned | None
    away: bool = False
    wait: Wait | None = None


@dataclass(frozen=True)
class Mended:
    """A mended plan with what changed for the next days, soonest first."""

    plan: Plan
    changes: tuple[Change, ...]


def wishes(standing: Standing, due: int | None = None) -> list[Mapping[int, float]]:
    """Return orders in which stages that a plan does not know might be put into it.

    As soon as they may begin; half way; as late as their case allows. Without such stages only
    the order of the plan itself.

    Parameters
    ----------
    due
        The date that is held to be that of their cases, if it is not their own.
    """
    shop = standing.shop
    new = [
        at
        for at, start in enumerate(standing.start)
        if start is None and shop.stages[at].running is None
    ]
    if not new:
        return [{}]
    soon = {at: standing.wish[at] for at in new}
    late: dict[int, float] = {}
    for at in new:
        by = shop.problem.cases[shop.case[at]].due if due is None else due
        late[at] = max(soon[at], float(by - shop.tail[at]))
    return [soon, {at: (soon[at] + late[at]) / 2 for at in new}, late]


def mended(
    shop: Shop, last: tuple[Planned, ...], keep_until: int = DAY, stop: Stop = go_on
) -> Tried:
    """Return the best of few passes over the last plan's order; a search may go on from it.

    Should stages stay without a place that have no flaw, the first of the rules is asked too,
    which moves people.
    """
    found: list[Tried] = []
    known = Standing(shop, last)
    for wished in wishes(known):
        standing = known.reordered(wished)
        floor = replay(standing, keep_until=keep_until, forward_from=keep_until)
        found.append(Tried(_in_order(standing), floor, worth(shop, floor)))
        if stop():
            break
    if best_of(found).worth[0] > _flawed(shop) and not stop():
        found.append(play(shop, portfolio(shop)[0]))
    return best_of(found)


def _in_order(standing: Standing) -> Rule:
    """Return the order of a plan as a rule."""
    rank, block_of = standing.rank, standing.shop.block_of
    return Rule("mend", lambda at, now: float(rank[block_of[at]]), patience=PATIENCE[0])


def _flawed(shop: Shop) -> int:
    """Return how many stages cannot have a place, whatever the plan: flaws, and what follows."""
    without = {shop.number[key] for key in shop.flawed}
    waiting = list(without)
    while waiting:
        at = waiting.pop()
        block = shop.block_of.get(at, -1)
        beside = shop.blocks[block] if block >= 0 else []
        for one in (*shop.followers[at], *beside):
            if one not in without:
                without.add(one)
                waiting.append(one)
    return len(without)


def mend(problem: Problem, *, keep_until: int = DAY, stop: Stop = go_on) -> Mended:
    """Return the last plan as it must be now, and what changed for people.

    Parameters
    ----------
    problem
        With the event in it, and the last plan as ``problem.last``.
    keep_until
        Minute before whose planned start nobody is moved, unless they are not at work then or
        may not do it any more.
    stop
        Says that no further pass is begun; one is always made.

    Raises
    ------
    ValueError
        When the problem has a shape that nobody can mean.
    """
    shop = Shop(problem)
    plan = to_plan(shop, mended(shop, problem.last, keep_until, stop).floor)
    return Mended(plan, changes(problem, plan))


def changes(
    problem: Problem, plan: Plan, *, notable: int = NOTABLE, until: int | None = None
) -> tuple[Change, ...]:
    """Return what a plan has otherwise than ``problem.last``, soonest first.

    Parameters
    ----------
    notable
        A start counts as changed from so many minutes on, a person always.
    until
        What was and is to begin from this minute on concerns nobody yet; ``keep_until`` of the
        problem if None.
    """
    concerns = problem.keep_until if until is None else until
    reasons = Reasons(problem, plan)
    was = {one.stage: one for one in problem.last}
    now = {one.stage: one for one in plan.planned}
    found: list[Change] = []
    for stage in problem.stages:
        old, new = was.get(stage.key), now.get(stage.key)
        kind = _kind(old, new, notable)
        if kind is None or stage.running is not None:
            continue
        if all(one is None or one.start >= concerns for one in (old, new)):
            continue
        waits = reasons.of(stage.key) if new is not None else ()
        hours = reasons.hours.get(old.person, ()) if old is not None else ()
        away = (
            old is not None
            and bool(old.person)
            and not any(start <= max(0, old.start) < end for start, end in hours)
        )
        found.append(Change(stage.key, kind, old, new, away, waits[-1] if waits else None))
    return tuple(sorted(found, key=_soonest))


def _kind(old: Planned | None, new: Planned | None, notable: int) -> ChangeKind | None:
    if new is None:
        return None if old is None else "unplanned"
    if old is None:
        return "new"
    if new.bath and (new.bath, new.start) != (old.bath, old.start):
        return "load"
    if new.person != old.person:
        return "person"
    if abs(new.start - old.start) < notable:
        return None
    return "later" if new.start > old.start else "earlier"


def _soonest(change: Change) -> tuple[int, str]:
    starts = [one.start for one in (change.was, change.now) if one is not None]
    return min(starts), change.stage


def say_change(change: Change, name: Name = same) -> str:
    """Return a change as a sentence, with its reason."""
    was, now, stage = change.was, change.now, name(change.stage)
    why = say(change.wait, name) if change.wait is not None else ""
    if now is None:
        return _("%(stage)s has no place in the plan any more.") % {"stage": stage}
    if was is None:
        words = _("%(stage)s is new in the plan.") % {"stage": stage}
    elif change.kind == "person":
        both = {"stage": stage, "was": name(was.person), "now": name(now.person)}
        words = (
            _("%(stage)s goes from %(was)s, who is not at work then, to %(now)s.")
            if change.away
            else _("%(stage)s goes from %(was)s to %(now)s.")
        ) % both
    elif change.kind == "load":
        words = _("%(stage)s goes with another load, in %(bath)s.") % {
            "stage": stage,
            "bath": name(now.bath),
        }
    else:
        by = {"stage": stage, "time": span(abs(now.start - was.start))}
        words = (
            _("%(stage)s begins %(time)s later.")
            if change.kind == "later"
            else _("%(stage)s begins %(time)s earlier.")
        ) % by
    return _("%(change)s It waits: %(why)s.") % {"change": words, "why": why} if why else words
