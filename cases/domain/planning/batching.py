"""Other ways to do things together, as plans from which a search may begin."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations

from cases.domain.planning.dispatch import Tried
from cases.domain.planning.floor import Floor
from cases.domain.planning.replay import replay
from cases.domain.planning.score import to_plan, worth
from cases.domain.planning.shop import Shop
from cases.domain.planning.standing import Standing

Batches = frozenset[tuple[int, ...]]
"""What is done together in a plan: groups of stages by their numbers."""
MOST = 8
"""How many ways a search begins with at most. Judgement: each is a search of its own."""


def batches(shop: Shop, floor: Floor) -> Batches:
    """Return what is done together in a plan, besides loads."""
    groups: dict[str, list[int]] = {}
    for at, name in enumerate(floor.together):
        if name and shop.stages[at].batch:
            groups.setdefault(name, []).append(at)
    return frozenset(tuple(group) for group in groups.values())


def others(
    shop: Shop, tried: list[Tried], best: Tried, seen: set[Batches], most: int = MOST
) -> list[Tried]:
    """Return plans with other batches, the best first; what is done together in the first is
    noted as ``seen``.

    They are those that were tried, and ``best`` with two of its groups, or stages that are done
    alone, joined. Nothing is returned once ``most`` have been seen.
    """
    if len(seen) > most:
        return []
    ways: dict[Batches, Tried] = {}
    for one in sorted([*tried, *_joined(shop, best)], key=lambda one: one.worth):
        ways.setdefault(batches(shop, one.floor), one)
    found = [(way, one) for way, one in ways.items() if way not in seen]
    seen.update(way for way, _one in found[:1])
    return [one for _way, one in found]


def _joined(shop: Shop, best: Tried) -> list[Tried]:
    """Return the plan with each two groups of a batch done together, where that goes."""
    planned = to_plan(shop, best.floor).planned
    found = []
    for one, other in combinations(_groups(shop, best.floor), 2):
        first, second = shop.stages[one[0]], shop.stages[other[0]]
        alike = (first.batch, first.skill, first.station) == (
            second.batch, second.skill, second.station,
        )  # fmt: skip
        if not alike or len(one) + len(other) > shop.limits.get(first.batch, len(shop.stages)):
            continue
        keys = {shop.stages[at].key for at in (*one, *other)}
        start = min(best.floor.start[at] for at in (*one, *other))
        together = tuple(
            replace(piece, start=start, together="joined") if piece.stage in keys else piece
            for piece in planned
        )
        floor = replay(Standing(shop, together), forward_from=0)
        found.append(Tried(best.rule, floor, worth(shop, floor)))
    return found


def _groups(shop: Shop, floor: Floor) -> list[tuple[int, ...]]:
    """Return what may be done together with more, in groups as it is done."""
    together = batches(shop, floor)
    in_group = {at for group in together for at in group}
    alone = [
        (at,)
        for at, stage in enumerate(shop.stages)
        if stage.batch and at not in in_group and floor.start[at] >= 0
        and stage.running is None and stage.pin is None
    ]  # fmt: skip
    return sorted([*together, *alone])
