"""A lab that lives through some days with times of its own, which it learns night by night."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from cases.domain.planning.chance import arrivals
from cases.domain.planning.floor import Floor
from cases.domain.planning.problem import Plan, Planned, Problem, Running
from cases.domain.planning.remedy import replan
from cases.domain.planning.replay import Times, replay
from cases.domain.planning.shop import NEVER, Shop
from cases.domain.planning.standing import Standing

DAY = 24 * 60


def begun(problem: Problem, shop: Shop, floor: Floor, now: int) -> tuple[Problem, list[int]]:
    """Return the lab at ``now``, with what has begun as it was, and when that really ends.

    What still runs is expected to end as planned, or soon if that is over. What must follow
    within a time something that has begun follows as soon as it can, even past that time.
    """
    gone = {
        stage.key
        for at, stage in enumerate(problem.stages)
        if stage.running is not None or 0 <= floor.start[at] < now
    }
    stages, ends = [], [0] * len(shop.stages)
    baths = problem.baths
    for at, stage in enumerate(problem.stages):
        if not 0 <= floor.start[at] < now and stage.running is None:
            after = tuple(
                replace(one, most=None) if one.stage in gone else one for one in stage.after
            )
            stages.append(replace(stage, not_before=max(stage.not_before, now), after=after))
            continue
        ends[at] = floor.end[at]
        expected = floor.end[at]
        if expected > now:
            program = next((one for one in problem.programs if one.key == stage.program), None)
            minutes = program.minutes if program is not None else stage.minutes
            expected = max(now + 5, floor.start[at] + minutes)
            if stage.kind == "load":
                expected = floor.end[at]
        load = floor.load[at]
        run = Running(
            floor.start[at],
            expected,
            problem.persons[floor.person[at]].key if floor.person[at] >= 0 else "",
            baths[floor.loads[load].bath].key if load >= 0 else "",
        )
        stages.append(replace(stage, running=run))
    return replace(problem, stages=tuple(stages)), ends


def in_order(problem: Problem, planned: tuple[Planned, ...]) -> tuple[Planned, ...]:
    """The lab keeps the order that it has."""
    return planned


def anew(problem: Problem, planned: tuple[Planned, ...]) -> tuple[Planned, ...]:
    """The lab takes the best plan each night: of the rules, and its own mended."""
    return replan(replace(problem, last=planned)).planned


def live(
    problem: Problem,
    plan: Plan,
    minutes: list[float],
    days: int,
    at_night: Callable[[Problem, tuple[Planned, ...]], tuple[Planned, ...]] = in_order,
) -> list[int]:
    """Return when each case really arrives, where stages take ``minutes`` at pace 1.

    What a stage takes is known when it is over: each night the lab is what it has come to, and
    goes on from there by what ``at_night`` makes of the plan.
    """
    shop = Shop(problem)
    planned: tuple[Planned, ...] = plan.planned
    times = Times(minutes, [0] * len(minutes))
    floor = replay(Standing(shop, planned), times=times, forward_from=0)
    for day in range(1, days):
        now = day * DAY - 60
        known, ends = begun(problem, shop, floor, now)
        shop = Shop(known)
        planned = at_night(known, planned)
        times = Times(minutes, ends)
        floor = replay(Standing(shop, planned), times=times, forward_from=0)
        if all(floor.end[at] <= now for at in range(len(shop.stages))):
            break
    found = arrivals(shop, floor)
    assert NEVER not in found
    return found
