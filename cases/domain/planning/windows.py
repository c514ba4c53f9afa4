"""Which part of a plan is freed at a time, so that the constraints can polish it."""

from __future__ import annotations

from random import Random

from cases.domain.planning.floor import Floor
from cases.domain.planning.shop import Shop

STAGES = 48
"""How many stages a window holds: more take longer than they give (measured on invented labs)."""
WHOLE_CASES, WHOLE_STAGES = 12, 200
"""Up to so many the whole lab is freed."""


def whole(shop: Shop) -> set[int]:
    """Return all stages of a lab that is small enough to be freed whole, else none."""
    free = {at for at, stage in enumerate(shop.stages) if stage.running is None}
    cases = {shop.case[at] for at in free}
    # A makespan is one case with many stages: what counts is how many there are.
    small = len(cases) <= WHOLE_CASES and len(free) <= WHOLE_STAGES
    return free if small else set()


def _with_groups(floor: Floor, freed: set[int]) -> set[int]:
    """Add those that are done together with what is freed."""
    names = {floor.together[at] for at in freed if floor.load[at] < 0} - {""}
    if not names:
        return freed
    return freed | {at for at, name in enumerate(floor.together) if name in names}


def around_case(shop: Shop, floor: Floor, case: int, random: Random) -> set[int]:
    """Free a case and those that want the same hands and places at the same time."""
    own = [at for at in shop.own[case] if not floor.placed_not(at)]
    meets: dict[int, float] = {}
    spans = [(floor.person[at], shop.station[at], floor.start[at], floor.end[at]) for at in own]
    margin = 4 * 60
    for at, other in enumerate(shop.case):
        if other == case or floor.placed_not(at):
            continue
        person, station = floor.person[at], shop.station[at]
        for by, place, start, end in spans:
            if floor.start[at] < end + margin and floor.end[at] > start - margin:
                same = (by >= 0 and by == person) + (place >= 0 and place == station)
                if same:
                    meets[other] = meets.get(other, 0.0) + same
    freed = set(own)
    order = sorted(meets, key=lambda one: -meets[one] * (0.5 + random.random()))
    for other in order:
        more = set(shop.own[other])
        if len(freed) + len(more) > STAGES:
            break
        freed |= more
    return _with_groups(floor, freed)


def around_time(shop: Shop, floor: Floor, case: int, random: Random) -> set[int]:
    """Free what happens about the time of one stage of a case."""
    own = [at for at in shop.own[case] if not floor.placed_not(at)]
    middle = floor.start[random.choice(own)] if own else 0
    placed = [at for at in range(len(shop.stages)) if not floor.placed_not(at)]
    placed.sort(key=lambda at: (abs(floor.start[at] - middle), at))
    return _with_groups(floor, set(placed[:STAGES]))
