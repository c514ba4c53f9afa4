"""The compiled replay behind its door: arrays in, a floor out."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from functools import cached_property
from typing import TYPE_CHECKING
from weakref import WeakKeyDictionary

import numpy as np

from cases.domain.planning import plays
from cases.domain.planning.compiled import again_worth
from cases.domain.planning.compiled.again import play_again
from cases.domain.planning.compiled.again_state import (
    BATH,
    BEGINS,
    CURES,
    LOADER,
    LOADS,
    MATES,
    NAMED,
    RUNNING_LOAD,
    SEATED,
    SINCE,
    UNKNOWN,
    UNTIL,
    WITH_LOAD,
    Given,
    Lab,
    Stood,
    given_of,
    lab_of,
    stood_of,
)
from cases.domain.planning.compiled.arrays import Flags, Floats, Ints, numbered, of_shop
from cases.domain.planning.compiled.table import (
    END,
    FREE,
    LOAD,
    PERSON,
    SIGNED_FROM,
    SIGNED_UNTIL,
    SIGNER,
    START,
    TOGETHER,
    Table,
    table_of,
)
from cases.domain.planning.floor import Floor, Load
from cases.domain.planning.score import Worth
from cases.domain.planning.shop import NEVER, Shop
from cases.domain.planning.standing import Standing

if TYPE_CHECKING:
    from cases.domain.planning.dispatch import Tried
    from cases.domain.planning.replay import Times

NOBODY: Flags = np.zeros(0, np.bool_)


class Played:
    """A plan that was played again; its floor is made when somebody asks for it."""

    def __init__(self, course: Course, lab: Lab) -> None:
        self.course, self.lab = course, lab

    @cached_property
    def _leaves(self) -> Ints:
        found: Ints = again_worth.leaving(self.course.table, self.course.cases, self.lab.place)
        return found

    @cached_property
    def worth(self) -> Worth:
        """What it is worth."""
        found: Worth = again_worth.worth(
            self.course.table, self.course.cases, self.lab.place, self._leaves
        )
        return found

    def leaves(self) -> Sequence[int]:
        """Return when each case leaves, -1 for those that do not."""
        found: list[int] = self._leaves.tolist()
        return found

    def last(self) -> int:
        """Return when its last stage ends."""
        return int(self.lab.place[:, END].max(initial=-1)) if len(self.lab.place) else 1

    def stood(self) -> Stood:
        """Return it as a plan to play again."""
        course, lab = self.course, self.lab
        of_load = np.empty(max(1, lab.counts[LOADS]), np.int64)
        stage, load, members_from, members, groups_from, groups = again_worth.stand(
            course.table, course.given, lab, of_load, course.heads
        )
        rank, order = again_worth.ranks(course.table, course.given, stage)
        return Stood(stage, load, members_from, members, groups_from, groups, rank, order)

    def floor(self) -> Floor:
        """Return it as the reference writes it."""
        shop, lab, programs = self.course.shop, self.lab, list(self.course.programs)
        place, floor = lab.place, Floor(shop, 0)
        floor.start, floor.end = place[:, START].tolist(), place[:, END].tolist()
        floor.free, floor.person = place[:, FREE].tolist(), place[:, PERSON].tolist()
        floor.load = place[:, LOAD].tolist()
        for at in np.flatnonzero(place[:, TOGETHER]).tolist():
            floor.together[at] = f"{shop.stages[at].batch} {place[at, TOGETHER]}"
        for at in np.flatnonzero(place[:, SIGNER] >= 0).tolist():
            signer, since, until = place[at, [SIGNER, SIGNED_FROM, SIGNED_UNTIL]].tolist()
            floor.signed[at] = (signer, since, until)
        for number, load in enumerate(lab.load[: lab.counts[LOADS]].tolist()):
            bath, members = load[BATH], lab.members[number, : load[SEATED]].tolist()
            name = ""
            if load[NAMED] != RUNNING_LOAD:
                name = f"{shop.problem.baths[bath].key} at {load[SINCE]}"
                for at in members:
                    floor.together[at] = name
            floor.loads.append(
                Load(
                    bath, programs[load[CURES]], load[SINCE], load[UNTIL], load[LOADER],
                    name, members,
                )
            )  # fmt: skip
        return floor


class Course:
    """A shop whose plans are played again and again."""

    def __init__(self, shop: Shop) -> None:
        numbers = of_shop(shop)
        self.shop = shop
        self.table: Table = table_of(shop)
        self.given: Given = given_of(shop, numbers)
        self.cases = numbers.cases
        self.programs = numbered(shop.programs)
        self.minutes: Floats = numbers.minutes.astype(np.float64)
        self.ends: Ints = numbers.run_end
        heads = numbers.blocks[numbers.blocks_from[:-1]]
        self.heads: Flags = np.zeros(len(self.minutes), np.bool_)
        self.heads[heads] = True
        self.case_of_block: Ints = numbers.case[heads]

    def stood(self, standing: Standing) -> Stood:
        """Return a standing in arrays, kept with it."""
        found: Stood | None = standing.arrays
        if found is None:
            found = standing.arrays = stood_of(standing, self.programs)
        return found

    def moved(self, stood: Stood, starts: Mapping[int, int]) -> Stood:
        """Return a plan with some stages begun at other minutes, out of their batch and load."""
        stage = stood.stage.copy()
        for at, start in starts.items():
            own = stage[at]
            own[BEGINS], own[WITH_LOAD], own[MATES] = start, -1, -1
        rank, order = again_worth.ranks(self.table, self.given, stage)
        return stood._replace(stage=stage, rank=rank, order=order)

    def play(
        self,
        stood: Stood,
        times: Times | None = None,
        keep_until: int = 0,
        forward_from: int = NEVER,
        until: Collection[int] | None = None,
    ) -> Lab:
        """Play a plan again: what ``replay`` does."""
        minutes, ends, asked = self.minutes, self.ends, NOBODY
        if times is not None:
            minutes = np.array(times.minutes, np.float64)
            ends = np.array(times.ends, np.int64)
        if until is not None:
            asked = np.isin(self.case_of_block, list(until))
        room = 1
        while True:
            lab = lab_of(self.table, self.given, len(stood.load), room)
            if play_again(
                self.table, self.given, stood, lab, minutes, ends, keep_until, forward_from, asked
            ):  # fmt: skip
                return lab
            room *= 4


_courses: WeakKeyDictionary[Shop, Course] = WeakKeyDictionary()


def course_of(shop: Shop) -> Course:
    """Return the course of a shop, put together when it is first asked for."""
    found = _courses.get(shop)
    if found is None:
        found = _courses[shop] = Course(shop)
    return found


def replayed(
    standing: Standing,
    times: Times | None,
    keep_until: int,
    forward_from: int,
    until: Collection[int] | None,
) -> Floor:
    """Return what ``replay`` returns."""
    course = course_of(standing.shop)
    lab = course.play(course.stood(standing), times, keep_until, forward_from, until)
    return Played(course, lab).floor()


class _Known(plays.Known):
    """A plan that was made elsewhere, among those that were played."""

    def __init__(self, course: Course, tried: Tried) -> None:
        super().__init__(course.shop, tried.floor, tried.worth)
        self.course = course

    def stood(self) -> Stood:
        """Return it as a plan to play again."""
        return self.course.stood(super().stood())


class Swift:
    """Plays the plans of one shop in compiled code: see ``plays``."""

    def __init__(self, shop: Shop) -> None:
        self.course = course_of(shop)

    def known(self, tried: Tried) -> _Known:
        """Return a plan that was made elsewhere."""
        return _Known(self.course, tried)

    def play(self, standing: Stood) -> Played:
        """Play the lab again, everything as soon as it goes in the order of a standing."""
        return Played(self.course, self.course.play(standing, forward_from=0))

    def moved(self, standing: Stood, starts: Mapping[int, int]) -> Stood:
        """Return a standing with some stages taken up at other minutes."""
        return self.course.moved(standing, starts)

    def starts(self, standing: Stood) -> Sequence[int | None]:
        """Return when each stage begins, None where it has no place."""
        return [None if one == UNKNOWN else one for one in standing.stage[:, BEGINS].tolist()]


def warm_up() -> None:
    """Play the least plan once, so that everything is compiled."""
    from cases.domain.planning.dispatch import play
    from cases.domain.planning.lab import invent
    from cases.domain.planning.rules import portfolio

    shop = Shop(invent(1, 1, 0))
    swift = Swift(shop)
    first = swift.known(play(shop, portfolio(shop)[0])).stood()
    swift.moved(swift.play(first).stood(), {})
