"""How late the cases are at the least: each as if it had the lab to itself.

A lower bound for any plan: whoever shares hands, stations, things and baths is no sooner. It is
tight where the dates are hopeless, and says little where the hands are what is short.
"""

from __future__ import annotations

from cases.domain.planning.problem import van_after
from cases.domain.planning.shop import NEVER, Shop


def least_lateness(shop: Shop) -> float:
    """Return weighted minutes that no plan's lateness is below."""
    soonest = _soonest(shop)
    total = 0.0
    for case, own in zip(shop.problem.cases, shop.own, strict=True):
        done = max((soonest[at] for at in own), default=-1)
        leaves = van_after(case, done) if 0 <= done < NEVER else None
        if leaves is not None:
            total += case.weight * max(0, leaves - case.due)
    return total


def _soonest(shop: Shop) -> list[int]:
    """Return when each stage ends at the soonest, NEVER where nobody can do it."""
    soonest = [NEVER] * len(shop.stages)
    for at in shop.line:
        stage = shop.stages[at]
        if stage.running is not None:
            soonest[at] = stage.running.end
            continue
        start = shop.release[at]
        if stage.pin is not None and stage.pin.start is not None:
            start = max(start, stage.pin.start)
        for earlier, least, _most in shop.before[at]:
            start = max(start, soonest[earlier] + least)
        if start >= NEVER:
            continue
        if stage.kind == "load":
            program = shop.programs[stage.program]
            loaded = start
            if program.hands:
                loaded = min(
                    (_end(shop, one, start, program.hands, pausable=False) - program.hands
                     for one in shop.may_do[at]),
                    default=NEVER,
                )  # fmt: skip
            soonest[at] = loaded + program.minutes if loaded < NEVER else NEVER
        elif stage.kind == "attended":
            soonest[at] = min(
                (_end(shop, one, start, minutes, pausable=stage.pausable)
                 for minutes, one in shop.fits(at)),
                default=NEVER,
            )  # fmt: skip
        else:
            soonest[at] = start + stage.minutes
    return soonest


def _end(shop: Shop, person: int, start: int, minutes: int, *, pausable: bool) -> int:
    """Return when a person who does nothing else has done some minutes, NEVER if not at all."""
    hours = shop.hours[person]
    start = hours.next_start(start)
    while start < NEVER:
        end = hours.finish(start, minutes, pausable)
        if end >= 0:
            return end
        start = hours.next_span(start)
    return NEVER
