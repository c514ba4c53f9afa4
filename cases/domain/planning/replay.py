"""The last plan played again in its own order, under what has changed or with other times.

Blocks are taken up in the order in which the plan begins them; each gets the first room from
its planned start on (or from when it is ready, if asked), on the same hands, in the same batch
and load. So a plan that nothing has happened to comes out as it went in, and what happened
moves only what it must. Later blocks may go into gaps before earlier ones, never in their way.

Serial schedule generation: Kolisch, European Journal of Operational Research 90 (1996), from
memory; the priorities are a plan that is known.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from heapq import heapify, heappop, heappush

from cases.domain.planning.compiled import engine
from cases.domain.planning.floor import Floor
from cases.domain.planning.problem import minutes_of_hands
from cases.domain.planning.reload import Loads
from cases.domain.planning.shop import NEVER
from cases.domain.planning.standing import Standing
from cases.domain.planning.taken import Taken

TRIES = 100
"""How often a block whose end does not fit in time is begun later. Judgement."""
GROWS = 1.1
"""By which the minutes from one try to the next grow, so that a full week is passed. Judgement."""
BATCH_WAITS = 30
"""Minutes that a batch waits for a piece of it. Judgement."""
EASY = 60
"""Minutes past its planned start from which a stage looks for other hands. Judgement."""


@dataclass(frozen=True)
class Times:
    """How long things take this time, by number of the stage.

    Attributes
    ----------
    minutes
        At pace 1 for attended stages, of the clock for others. Programs of baths stay as they are.
    ends
        When running stages end.
    """

    minutes: Sequence[float]
    ends: Sequence[int]


class _Replay:
    def __init__(
        self, standing: Standing, times: Times | None, keep_until: int, forward_from: int
    ) -> None:
        shop = self.shop = standing.shop
        self.standing, self.keep_until, self.forward_from = standing, keep_until, forward_from
        self.minutes: Sequence[float] = (
            [one.minutes for one in shop.stages] if times is None else times.minutes
        )
        self.ends = None if times is None else times.ends
        self.taken = Taken(shop)
        self.floor = self.taken.floor
        self.loads = Loads(standing, self.taken)
        self.waiting: list[list[int]] = [[] for _ in shop.thing_count]
        self.open = list(shop.waits_for)
        self.over = [False] * len(shop.blocks)
        self.queue: list[tuple[int, int]] = []
        self.reserved: dict[int, tuple[int, int, int]] = {}
        self.batches = 0

    # ── the beginning ────────────────────────────────────────────────────────
    def set_out(self) -> None:
        shop, taken = self.shop, self.taken
        for at, stage in enumerate(shop.stages):
            run = stage.running
            if run is None:
                continue
            end = run.end if self.ends is None else self.ends[at]
            person = shop.person.get(run.person, -1)
            self.floor.start[at], self.floor.person[at] = run.start, person
            self.floor.end[at] = self.floor.free[at] = end
            if stage.kind == "attended" and person >= 0:
                free, _ = taken.hands[person].room(0, 1, True)
                if free < end:  # whom two things keep busy at once is busy until the later
                    taken.hands[person].take(free, end)
            if shop.station[at] >= 0:
                taken.places[shop.station[at]].take(run.start, end)
            if stage.kind == "load":
                self.loads.open_running(at)
            for thing, rest in shop.gives[at]:
                taken.stores[thing].give_back(max(0, end + rest))
        self.reserve()
        self.loads.open_planned()
        for at, stage in enumerate(shop.stages):
            if stage.running is not None:
                self.sign(at)
        taken.keep()
        for number, block in enumerate(shop.blocks):
            if any(shop.stages[at].key in shop.flawed for at in block):
                self.over[number] = True
            elif not self.open[number]:
                self.queue.append((self.standing.rank[number], number))
        heapify(self.queue)

    def reserve(self) -> None:
        """Keep the time of stages that are pinned to a minute, before others take it."""
        shop, taken = self.shop, self.taken
        for at, stage in enumerate(shop.stages):
            pin = stage.pin
            if pin is None or pin.start is None or stage.kind != "attended" or stage.running:
                continue
            person = shop.person.get(pin.person, self.standing.person[at])
            if person not in shop.may_do[at]:
                continue
            minutes = minutes_of_hands(self.minutes[at], shop.paces[person][stage.skill])
            start, end = taken.hands[person].room(pin.start, minutes, stage.pausable)
            if start == pin.start:
                self.reserved[at] = (person, start, end)
                taken.hands[person].take(start, end)

    # ── one stage ────────────────────────────────────────────────────────────
    def earliest(self, at: int) -> int:
        """Return the first minute for a stage by what it comes after, and what it takes."""
        start = self.shop.release[at]
        floor = self.floor
        for earlier, least, _ in self.shop.before[at]:
            start = max(start, floor.end[earlier] + least, floor.free[earlier])
        for thing in self.shop.takes[at]:
            start = max(start, self.taken.stores[thing].soonest())
        return start

    def choose(self, ats: list[int], earliest: int, wished: int) -> tuple[int, int, int]:
        """Return start, end and person for stages done together, NEVER if nobody can.

        Within the time in which people are kept only its own hands are asked, unless they do
        not work at its hour.
        """
        shop, taken, at = self.shop, self.taken, ats[0]
        station, total = shop.station[at], self.total_minutes(ats)
        stage, may = shop.stages[at], shop.may_do[at]
        pausable = stage.pausable
        if len(ats) > 1:
            pausable = all(shop.stages[one].pausable for one in ats)
            may = [person for person in may if all(person in shop.may_do[one] for one in ats)]
        if any(shop.other_than[one] >= 0 for one in ats):
            kept_from = {self.floor.kept_from(one) for one in ats}
            may = [person for person in may if person not in kept_from]
        kept_from = {self.floor.kept_from(one) for one in ats} - {-1}
        if kept_from:
            may = [person for person in may if person not in kept_from]
        own, planned = self.standing.person[at], self.standing.start[at]
        best = (NEVER, NEVER, -1)
        if planned is not None and own in may:
            minutes = minutes_of_hands(total, shop.paces[own][stage.skill])
            start, end = taken.room(own, earliest, minutes, pausable, station)
            kept = planned < self.keep_until and (planned < 0 or taken.hands[own].works_at(planned))
            if start < NEVER and (kept or start <= max(earliest, wished) + EASY):
                return start, end, own
            best = (end, start, own)
        for person in may:
            if person != own:
                minutes = minutes_of_hands(total, shop.paces[person][stage.skill])
                start, end = taken.room(person, earliest, minutes, pausable, station)
                if end < best[0]:
                    best = (end, start, person)
        return best[1], best[0], best[2]

    def total_minutes(self, ats: list[int]) -> float:
        """Return the minutes of hands at pace 1 of stages that are done together."""
        if len(ats) == 1:
            return self.minutes[ats[0]]
        setups = [self.shop.stages[at].setup for at in ats]
        own = (max(0.0, self.minutes[at] - setup) for at, setup in zip(ats, setups, strict=True))
        return max(setups) + sum(own)

    def place_attended(self, ats: list[int], earliest: int) -> bool:
        """Give stages that are done together their place."""
        shop, taken, first = self.shop, self.taken, ats[0]
        wished = self.standing.start[first] or 0
        if first in self.reserved:
            taken.leave_hands(*self.reserved[first])
        start, end, person = self.choose(ats, earliest, wished)
        if start >= NEVER:
            return False
        pin = shop.stages[first].pin
        if pin is not None and pin.start is not None and start != pin.start:
            return False
        taken.take_hands(person, start, end)
        taken.take_place(shop.station[first], start, end)
        name = ""
        if len(ats) > 1:
            self.batches += 1
            name = f"{shop.stages[first].batch} {self.batches}"
        for at in ats:
            taken.put(at, start, end, person)
            self.floor.together[at] = name
            if not self.sign(at):
                return False
        return True

    def sign(self, at: int) -> bool:
        """Find who countersigns what a student did: who should have, if he can soon."""
        shop, doer, minutes = self.shop, self.floor.person[at], self.shop.stages[at].sign
        if not minutes or doer < 0 or not shop.student[doer]:
            return True
        end, best = self.floor.end[at], (NEVER, NEVER, -1)
        own, wished = self.standing.signer[at], max(end, self.standing.signed_from[at])
        for person in shop.signers[at]:
            if person != doer:
                since = wished if person == own and wished <= end + EASY else end
                start, until = self.taken.hands[person].room(since, minutes, False)
                if person == own and start == wished < NEVER:
                    best = (until, start, person)
                    break
                best = min(best, (until, start, person))
        until, start, person = best
        if person < 0 or until >= NEVER:
            return False
        self.taken.take_hands(person, start, until)
        self.floor.signed[at] = (person, start, until)
        self.floor.free[at] = until
        return True

    def place(self, at: int, earliest: int) -> bool:
        """Give a stage the first place from a minute on."""
        stage = self.shop.stages[at]
        pin = stage.pin.start if stage.pin is not None else None
        if pin is not None:
            if pin < earliest:
                return False
            earliest = pin
        if stage.kind == "attended":
            return self.place_attended([at], earliest)
        if stage.kind == "load":
            latest = self.floor.slack(at)
            return self.loads.place(at, earliest, latest if pin is None else min(pin, latest))
        station, minutes = self.shop.station[at], round(self.minutes[at])
        start = earliest
        if station >= 0:
            while (again := self.taken.places[station].full(start, start + minutes)) >= 0:
                start = again
        self.taken.take_place(station, start, start + minutes)
        self.taken.put(at, start, start + minutes)
        return pin is None or start == pin

    # ── blocks ───────────────────────────────────────────────────────────────
    def wished(self, at: int, *, alone: bool) -> int:
        """Return the minute from which a stage looks for room."""
        earliest = self.earliest(at)
        planned = self.standing.start[at]
        if planned is None or (alone and planned >= self.forward_from) or earliest >= NEVER:
            return earliest
        return max(earliest, min(planned, self.floor.slack(at)))

    def lacking(self, numbers: list[int]) -> int:
        """Return a thing that some blocks need and that nobody will give back yet, or -1."""
        stores, needs = self.taken.stores, self.shop.needs
        if len(numbers) == 1:
            for thing, needed in needs[numbers[0]].items():
                if stores[thing].count() < needed:
                    return thing
            return -1
        for thing in {thing for number in numbers for thing in needs[number]}:
            if stores[thing].count() < sum(needs[number].get(thing, 0) for number in numbers):
                return thing
        return -1

    def place_blocks(self, numbers: list[int]) -> bool:
        """Give some blocks, whose first stages are done together, their places."""
        blocks, floor = [self.shop.blocks[number] for number in numbers], self.floor
        heads = [block[0] for block in blocks]
        start = 0
        for block in blocks:
            start = max(start, self.wished(block[0], alone=len(block) == 1))
        if len(heads) > 1:
            start = max(start, self.together_from(heads))
        for tried in range(TRIES):
            if start > self.shop.problem.horizon:
                return False
            late = self._from(blocks, heads, start)
            if late < 0:
                return True
            start = max(start, floor.start[heads[0]]) + max(late, int(GROWS**tried))
            self.taken.undo()
            if not late:
                return False
        return False

    def together_from(self, heads: list[int]) -> int:
        """Return when there are things enough for stages that begin together."""
        taken = [thing for at in heads for thing in self.shop.takes[at]]
        stores = self.taken.stores
        return max((stores[thing].soonest(taken.count(thing)) for thing in set(taken)), default=0)

    def _from(self, blocks: list[list[int]], heads: list[int], start: int) -> int:
        """Place blocks from a minute on; return -1, by how much it is too soon, or 0: cannot be."""
        floor = self.floor
        went = self.place_attended(heads, start) if len(heads) > 1 else self.place(heads[0], start)
        if not went or any(floor.start[at] > floor.slack(at) for at in heads):
            return 0
        for block in blocks:
            for at in block[1:]:
                if not self.place(at, self.wished(at, alone=False)):
                    return 0 if self.shop.stages[at].kind != "load" else BATCH_WAITS
                if floor.start[at] > floor.slack(at):
                    return floor.start[at] - floor.slack(at)
        return -1

    def mates(self, number: int) -> list[int]:
        """Return the blocks whose first stages are done with that of a block, it first."""
        head = self.shop.blocks[number][0]
        found, planned = [number], self.standing.start[head]
        until = max(self.earliest(head), planned or 0) + BATCH_WAITS
        limit = self.shop.limits.get(self.shop.stages[head].batch, len(self.shop.blocks))
        for at in self.standing.mates.get(head, ()):
            other = self.shop.block_of[at]
            if (
                other != number
                and not self.over[other]
                and not self.open[other]
                and len(found) < limit
                and self.shop.stages[at].pin is None
                and self.shop.stages[at].skill == self.shop.stages[head].skill
                and self.shop.station[at] == self.shop.station[head]
                and self.earliest(at) <= until
            ):
                found.append(other)
        return found

    def commit(self, numbers: list[int]) -> None:
        """Let what was placed count, and call what waited for it."""
        for number in numbers:
            self.over[number] = True
        for at in self.taken.keep():
            for thing, rest in self.shop.gives[at]:
                self.taken.stores[thing].give_back(self.floor.end[at] + rest)
                for number in self.waiting[thing]:
                    heappush(self.queue, (self.standing.rank[number], number))
                self.waiting[thing].clear()
            for number in self.shop.feeds[at]:
                self.open[number] -= 1
                if not self.open[number] and not self.over[number]:
                    heappush(self.queue, (self.standing.rank[number], number))

    def take_up(self, number: int) -> None:
        """Give a block its place, with those that it is done together with if that goes."""
        missing = self.lacking([number])
        if missing >= 0:
            self.waiting[missing].append(number)
            return
        mates = self.mates(number) if self.shop.blocks[number][0] in self.standing.mates else []
        if len(mates) > 1 and self.lacking(mates) < 0 and self.place_blocks(mates):
            self.commit(mates)
        elif self.place_blocks([number]):
            self.commit([number])
        else:
            self.over[number] = True

    def run(self, until: Collection[int] | None) -> Floor:
        """Play until everything has a place, or all stages of the asked cases have."""
        self.set_out()
        left = None
        if until is not None:
            blocks = self.shop.blocks
            left = {
                number
                for number, block in enumerate(blocks)
                if self.shop.case[block[0]] in until and not self.over[number]
            }
        while self.queue:
            _, number = heappop(self.queue)
            if self.over[number]:
                continue
            self.take_up(number)
            if left is not None:
                left = {one for one in left if not self.over[one]}
                if not left:
                    break
        self.loads.name()
        return self.floor


def replay(
    standing: Standing,
    *,
    times: Times | None = None,
    keep_until: int = 0,
    forward_from: int = NEVER,
    until: Collection[int] | None = None,
) -> Floor:
    """Return the lab after the last plan was played again in its own order.

    Parameters
    ----------
    standing
        The last plan and the shop.
    times
        How long things take, where it is not what the problem says.
    keep_until
        The minute before whose planned start stages keep their hands, even if it makes them
        later; unless those hands are not at work then.
    forward_from
        What is planned from this minute on begins earlier if it is ready earlier. Blocks of
        several stages and loads keep their hour.
    until
        Numbers of cases after which the rest need not be played: it cannot change them any more.
    """
    if engine.ready():
        # Numba is imported by those who are ready, not by every page.
        from cases.domain.planning.compiled.replaying import replayed

        return replayed(standing, times, keep_until, forward_from, until)
    return replay_plainly(
        standing, times=times, keep_until=keep_until, forward_from=forward_from, until=until
    )


def replay_plainly(
    standing: Standing,
    *,
    times: Times | None = None,
    keep_until: int = 0,
    forward_from: int = NEVER,
    until: Collection[int] | None = None,
) -> Floor:
    """Return the same, in plain Python: the reference of the compiled replay."""
    return _Replay(standing, times, keep_until, forward_from).run(until)
