"""The last plan by numbers, beside a shop in which something may have changed since."""

from __future__ import annotations

from collections.abc import Mapping
from copy import copy
from dataclasses import dataclass, replace
from typing import Any

from cases.domain.planning.problem import Planned
from cases.domain.planning.shop import Shop


@dataclass(frozen=True)
class PlannedLoad:
    """A load of the last plan that has not begun."""

    bath: int
    program: str
    start: int
    person: int
    members: tuple[int, ...]


class Standing:
    """What the last plan says of each stage of a shop.

    Attributes
    ----------
    start, signed_from
        Minutes; None for what the last plan does not know.
    person, signer
        By number, -1 if there is none.
    mates
        The first stages of blocks that are done together, by each of them.
    load, loads
        The load of each stage, by its number in ``loads``; -1 if there is none.
    wish
        The minute at which each stage is thought to begin, for the order.
    rank
        The order in which blocks are taken up: by the start of their first stage.
    arrays
        The same for compiled code, once it asked for it.

    Parameters
    ----------
    last
        The plan, in minutes of the shop's problem. What is not in the problem is left out.
    wished
        When stages that the plan does not know should begin, by number; the others as soon as
        what they come after allows.
    """

    def __init__(
        self, shop: Shop, last: tuple[Planned, ...], wished: Mapping[int, float] | None = None
    ) -> None:
        self.shop = shop
        self.arrays: Any = None
        count = len(shop.stages)
        self.start: list[int | None] = [None] * count
        self.person, self.signer, self.signed_from = [-1] * count, [-1] * count, [0] * count
        self.load = [-1] * count
        groups: dict[str, list[int]] = {}
        self.at: dict[int, Planned] = {}
        for one in last:
            at = shop.number.get(one.stage, -1)
            if at < 0 or shop.stages[at].running is not None:
                continue
            self.at[at] = one
            self.start[at] = one.start
            self.person[at] = shop.person.get(one.person, -1)
            if one.signer:
                self.signer[at] = shop.person.get(one.signer, -1)
                self.signed_from[at] = one.signed_from
            if one.together:
                groups.setdefault(one.together, []).append(at)
        self._groups(groups)
        self._ranks(wished or {})

    def reordered(self, wished: Mapping[int, float]) -> Standing:
        """Return the same plan with other wishes for the stages that it does not know."""
        other = copy(self)
        other.arrays = None
        other._ranks(wished)
        return other

    def moved(self, starts: Mapping[int, int]) -> Standing:
        """Return the plan with some stages begun at other minutes, out of their batch and load."""
        other = copy(self)
        other.arrays = None
        other.start, other.load = list(self.start), list(self.load)
        for at, start in starts.items():
            other.start[at], other.load[at] = start, -1
        if any(at in self.mates for at in starts):
            other.mates = {
                at: [one for one in mates if one not in starts]
                for at, mates in self.mates.items() if at not in starts
            }  # fmt: skip
        left = {self.load[at] for at in starts} - {-1}
        if left:
            other.loads = []
            for load in self.loads:
                members = tuple(at for at in load.members if at not in starts)
                for at in members:
                    other.load[at] = len(other.loads)
                if members:
                    other.loads.append(replace(load, members=members))
        other._ranks({})
        return other

    def _groups(self, groups: dict[str, list[int]]) -> None:
        shop = self.shop
        baths = {bath.key: at for at, bath in enumerate(shop.problem.baths)}
        heads = {block[0] for block in shop.blocks}
        self.mates: dict[int, list[int]] = {}
        self.loads: list[PlannedLoad] = []
        for members in groups.values():
            first = members[0]
            stage, one = shop.stages[first], self.at[first]
            if stage.kind != "load":
                together = [
                    at for at in members
                    if at in heads and shop.stages[at].batch == stage.batch and stage.batch
                ]  # fmt: skip
                for at in together if len(together) > 1 else ():
                    self.mates[at] = together
            elif one.bath in baths and baths[one.bath] in shop.baths_for.get(stage.program, ()):
                same = tuple(at for at in members if shop.stages[at].program == stage.program)
                for at in same:
                    self.load[at] = len(self.loads)
                person = shop.person.get(one.person, -1)
                self.loads.append(
                    PlannedLoad(baths[one.bath], stage.program, one.start, person, same)
                )

    def _ranks(self, wished: Mapping[int, float]) -> None:
        shop = self.shop
        wish = self.wish = [0.0] * len(shop.stages)
        for at in shop.line:
            soonest = float(shop.release[at])
            for earlier, least, _ in shop.before[at]:
                soonest = max(soonest, wish[earlier] + shop.minutes[earlier] + least)
            known = self.start[at]
            wish[at] = wished.get(at, soonest if known is None else float(known))
        order = sorted(
            range(len(shop.blocks)), key=lambda number: (wish[shop.blocks[number][0]], number)
        )
        self.rank = [0] * len(shop.blocks)
        for rank, number in enumerate(order):
            self.rank[number] = rank
        self.order = order
