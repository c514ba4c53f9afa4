"""What a plan is worth, in the order in which it counts, and the plan in words of the problem."""

from __future__ import annotations

from cases.domain.planning.flaws import moment, too_late
from cases.domain.planning.floor import Floor
from cases.domain.planning.problem import Leaves, Plan, Planned, Stage, van_after
from cases.domain.planning.shop import NEVER, Shop
from cases.domain.words import gettext as _

Worth = tuple[int, float, int, int]
"""Stages without a place, weighted lateness, moves against the last plan, flow."""


def leaving(shop: Shop, floor: Floor) -> list[int]:
    """Return when each case leaves, -1 for those that do not."""
    end = floor.end
    found: list[int] = []
    for number, own in enumerate(shop.own):
        done = max((end[at] for at in own), default=-1)
        if not own or any(floor.placed_not(at) for at in own):
            found.append(-1)
            continue
        case = shop.problem.cases[number]
        van = van_after(case, done)
        found.append(done if van is None and not case.vans else -1 if van is None else van)
    for first, second in shop.pairs:
        later = max(found[first], found[second])
        if min(found[first], found[second]) >= 0:
            vans = set(shop.problem.cases[first].vans) & set(shop.problem.cases[second].vans)
            later = min((van for van in vans if van >= later), default=later)
            found[first] = found[second] = later
        else:
            found[first] = found[second] = -1
    return found


def moves(shop: Shop, floor: Floor) -> int:
    """Return how many stages of the last plan's next days another person would do."""
    return sum(
        floor.person[shop.number[key]] != person
        for key, person in shop.last_person.items()
        if key in shop.number
    )


def worth(shop: Shop, floor: Floor) -> Worth:
    """Return what a plan is worth: the smaller the better."""
    lateness, flow, without = 0.0, 0, 0
    for case, own, at in zip(shop.problem.cases, shop.own, leaving(shop, floor), strict=True):
        if at < 0:
            without += sum(floor.placed_not(one) for one in own) or len(own)
            continue
        lateness += case.weight * max(0, at - case.due)
        flow += at - case.release
    return without, lateness, moves(shop, floor), flow


def _reason(shop: Shop, floor: Floor, at: int) -> str:
    stage = shop.stages[at]
    if stage.key in shop.flawed:
        return shop.flawed[stage.key]
    waits = [one for one, _, _ in shop.before[at] if floor.placed_not(one)]
    if waits:
        return _("It waits for “%(stage)s”, which has no place in the plan.") % {
            "stage": shop.stages[waits[0]].key
        }
    return too_late(stage, _may_begin(shop, floor, at), _works(shop, stage)) or _(
        "No time before %(until)s was found in which hands, station and things for “%(stage)s” "
        "and what must follow it at once are free together: extend the calendar, or free one of "
        "them."
    ) % {"stage": stage.key, "until": moment(shop.problem.horizon)}


def _may_begin(shop: Shop, floor: Floor, at: int) -> int:
    """Return the minute from which a stage may begin after what has its place."""
    ends = [floor.end[one] + least for one, least, _most in shop.before[at]]
    return max([shop.release[at], *ends])


def _works(shop: Shop, stage: Stage) -> int:
    """Return until when somebody with the skill of a stage has hours; NEVER where none is asked."""
    return max(
        (
            hours.ends[-1]
            for hours, skills in zip(shop.hours, shop.skills, strict=True)
            if stage.skill in skills and hours.ends
        ),
        default=NEVER,
    )


def to_plan(shop: Shop, floor: Floor) -> Plan:
    """Return the plan in the words of the problem."""
    persons, baths = shop.problem.persons, shop.problem.baths
    planned: list[Planned] = []
    unplanned: list[tuple[str, str]] = []
    for at, stage in enumerate(shop.stages):
        if stage.key in shop.frozen:
            continue
        if floor.placed_not(at):
            unplanned.append((stage.key, _reason(shop, floor, at)))
            continue
        person, load = floor.person[at], floor.load[at]
        signer, signed_from, signed_until = floor.signed.get(at, (-1, 0, 0))
        bath = baths[floor.loads[load].bath].key if load >= 0 else ""
        if stage.running is not None:
            bath = stage.running.bath  # it may be out of use by now
        planned.append(
            Planned(
                stage.key,
                floor.start[at],
                floor.end[at],
                persons[person].key if person >= 0 else "",
                shop.real_bath.get(bath, bath),
                floor.together[at],
                persons[signer].key if signer >= 0 else "",
                signed_from,
                signed_until,
            )
        )
    leaves = tuple(
        Leaves(case.key, at, max(0, at - case.due))
        for case, at in zip(shop.problem.cases, leaving(shop, floor), strict=True)
        if at >= 0
    )
    _none, lateness, moved, flow = worth(shop, floor)
    return Plan(tuple(planned), leaves, tuple(unplanned), lateness, moved, flow)
