"""Who and what is taken when, while a plan is being made; places are found and taken here.

Whatever is taken is noted in a journal, so that a block whose end does not fit is given back.
"""

from __future__ import annotations

from bisect import insort
from dataclasses import dataclass, field

from cases.domain.planning.problem import minutes_of_hands
from cases.domain.planning.shop import NEVER, Shop

TRIES = 200
"""How many gaps are looked at for one stage before its block is tried later."""


@dataclass
class Load:
    """A load that is planned or running."""

    bath: int
    program: str
    start: int
    end: int
    person: int
    name: str
    members: list[int] = field(default_factory=list)


class Floor:
    """The state of the lab while stages get their places."""

    def __init__(self, shop: Shop, patience: int) -> None:
        count = len(shop.stages)
        self.shop, self.patience = shop, patience
        self.start, self.end, self.free = [-1] * count, [-1] * count, [-1] * count
        self.person, self.load = [-1] * count, [-1] * count
        self.together: list[str] = [""] * count
        self.signed: dict[int, tuple[int, int, int]] = {}
        self.busy: list[list[tuple[int, int]]] = [[] for _ in shop.hours]
        self.used: list[list[tuple[int, int]]] = [[] for _ in shop.station_count]
        self.held = list(shop.held_now)
        self.loads: list[Load] = []
        self.in_bath: list[list[int]] = [[] for _ in shop.problem.baths]
        self.journal: list[tuple[list[tuple[int, int]], tuple[int, int], bool]] = []
        self.placed: list[int] = []
        self.reserved: dict[int, tuple[int, int, int]] = {}
        self.now = 0

    # ── taking and giving back ───────────────────────────────────────────────
    def take(self, of: list[tuple[int, int]], start: int, end: int) -> None:
        """Take a person or a station for a while."""
        if end > start:
            insort(of, (start, end))
            self.journal.append((of, (start, end), True))

    def begin(self) -> None:
        """From here on everything can be given back."""
        self.journal.clear()
        self.placed.clear()

    def give_back(self) -> None:
        """Undo everything since ``begin``."""
        for of, span, taken in reversed(self.journal):
            if taken:
                of.remove(span)
            else:
                insort(of, span)
        for at in self.placed:
            self.start[at] = self.end[at] = self.free[at] = self.person[at] = -1
            self.together[at] = ""
            self.signed.pop(at, None)
            if self.load[at] >= 0:
                load = self.loads[self.load[at]]
                load.members.remove(at)
                if not load.members:
                    self.in_bath[load.bath].remove(self.load[at])
                self.load[at] = -1
        self.begin()

    def put(self, at: int, start: int, end: int, person: int = -1) -> None:
        """Give a stage its place."""
        self.start[at], self.end[at], self.free[at] = start, end, end
        self.person[at] = person
        self.placed.append(at)

    def placed_not(self, at: int) -> bool:
        """Return whether a stage has no place."""
        return self.start[at] < 0 and self.shop.stages[at].running is None

    def tidy(self, now: int) -> None:
        """Forget what ended before now."""
        self.now = now
        for lists in (self.busy, self.used):
            for number, of in enumerate(lists):
                if of and of[0][1] <= now:
                    lists[number] = [span for span in of if span[1] > now]

    # ── finding room ─────────────────────────────────────────────────────────
    def clash(self, person: int, start: int, end: int) -> int:
        """Return the end of what a person does in [start, end) already, or -1."""
        for begun, ended in self.busy[person]:
            if begun >= end:
                return -1
            if ended > start:
                return ended
        return -1

    def full(self, station: int, start: int, end: int) -> int:
        """Return when a place at a full station gets free, or -1 when there is one."""
        if station < 0 or end <= start:
            return -1
        touching = [span for span in self.used[station] if span[1] > start and span[0] < end]
        count = self.shop.station_count[station]
        if len(touching) < count:
            return -1
        for begun, _ in [(start, 0), *touching]:
            there = [span[1] for span in touching if span[0] <= begun < span[1]]
            if begun >= start and len(there) >= count:
                return min(there)
        return -1

    def room(
        self,
        person: int,
        start: int,
        minutes: int,
        pausable: bool,
        station: int,
        before: int = NEVER,
    ) -> tuple[int, int]:
        """Return the first start and end from ``start`` on for a person.

        (NEVER, NEVER) where there is none that ends before ``before``.
        """
        hours = self.shop.hours[person]
        for _ in range(TRIES):
            start = hours.next_start(start)
            if start + minutes >= before:
                break
            end = hours.finish(start, minutes, pausable)
            if end < 0:
                start = hours.next_span(start)
                continue
            again = self.clash(person, start, end)
            if again < 0:
                again = self.full(station, start, end)
            if again < 0:
                return start, end
            start = again
        return NEVER, NEVER

    # ── stages inside a block ────────────────────────────────────────────────
    def kept_from(self, at: int) -> int:
        """Return who does not do a stage because it looks at what he did; -1 for nobody."""
        other = self.shop.other_than[at]
        doer = self.person[other] if other >= 0 else -1
        return doer if doer >= 0 and self.shop.another(at, doer) else -1

    def lower(self, at: int, now: int) -> int:
        """Return the first minute for a stage by what it comes after."""
        start = max(now, self.shop.release[at])
        for earlier, least, _ in self.shop.before[at]:
            start = max(start, self.end[earlier] + least, self.free[earlier])
        return start

    def slack(self, at: int) -> int:
        """Return the last minute for a stage by what it comes after."""
        last = self.shop.latest[at]
        for earlier, _, most in self.shop.before[at]:
            if most is not None and self.shop.stages[earlier].running is None:
                last = min(last, self.end[earlier] + most)
        return last

    def sign(self, at: int) -> bool:
        """Find somebody who countersigns what a student did."""
        stage = self.shop.stages[at]
        doer = self.person[at]
        if not stage.sign or doer < 0 or not self.shop.student[doer]:
            return True
        best = (NEVER, NEVER, -1)
        for person in self.shop.signers[at]:
            if person != doer:
                start, end = self.room(person, self.end[at], stage.sign, False, -1)
                best = min(best, (end, start, person))
        end, start, person = best
        if person < 0 or end >= NEVER:
            return False
        self.take(self.busy[person], start, end)
        self.signed[at] = (person, start, end)
        self.free[at] = end
        return True

    def place(self, at: int, earliest: int) -> bool:
        """Give a stage the first place from ``earliest`` on."""
        stage, station = self.shop.stages[at], self.shop.station[at]
        pin = stage.pin.start if stage.pin is not None else None
        earliest = max(earliest, pin if pin is not None else 0)
        if stage.kind == "load":
            return self.place_load(at, earliest)
        if stage.kind != "attended":
            start = earliest
            while (again := self.full(station, start, start + stage.minutes)) >= 0:
                start = again
            self.put(at, start, start + stage.minutes)
            if station >= 0:
                self.take(self.used[station], start, start + stage.minutes)
            return pin is None or start == pin
        own = self.reserved.get(at)
        if own is not None and own[1:] in self.busy[own[0]]:
            self.busy[own[0]].remove(own[1:])
            self.journal.append((self.busy[own[0]], own[1:], False))
        end, start, person = NEVER, NEVER, -1
        kept_from = self.kept_from(at) if self.shop.other_than[at] >= 0 else -1
        for minutes, one in self.shop.fits(at):
            # The quickest come first: who could not end before the best so far is not asked.
            if one == kept_from or earliest + minutes >= end:
                continue
            begun, ended = self.room(one, earliest, minutes, stage.pausable, station, end)
            if ended < end:
                end, start, person = ended, begun, one
        if person < 0 or end >= NEVER or (pin is not None and start != pin):
            return False
        self.put(at, start, end, person)
        self.take(self.busy[person], start, end)
        if station >= 0:
            self.take(self.used[station], start, end)
        return self.sign(at)

    # ── loads ────────────────────────────────────────────────────────────────
    def bath_clash(self, bath: int, start: int, end: int) -> int:
        """Return when the load that is in the way ends, or -1."""
        again = -1
        for number in self.in_bath[bath]:
            load = self.loads[number]
            if load.start < end and load.end > start:
                again = max(again, load.end)
        return again

    def new_load(self, at: int, earliest: int, latest: int) -> tuple[int, int, int] | None:
        """Return start, bath and person of the first load that can be made, or None."""
        stage = self.shop.stages[at]
        program = self.shop.programs[stage.program]
        best: tuple[int, int, int] | None = None
        for bath in self.shop.baths_for[stage.program]:
            start, person = earliest, -1
            for _ in range(TRIES):
                again = self.bath_clash(bath, start, start + program.minutes)
                if again >= 0:
                    start = again
                    continue
                if start > latest or (best is not None and start >= best[0]) or not program.hands:
                    break
                soonest, person = self.loader(at, start, program.hands)
                if soonest == start:
                    break
                start = soonest
            else:
                continue
            if start <= latest and start < NEVER and (best is None or start < best[0]):
                best = (start, bath, person)
        return best

    def loader(self, at: int, earliest: int, minutes: int) -> tuple[int, int]:
        """Return when and by whom a load can be put in at the soonest, NEVER and -1 if never."""
        best, who = NEVER, -1
        for person in self.shop.may_do[at]:
            if best <= earliest:
                break
            start, _ = self.room(person, earliest, minutes, False, -1, best + minutes)
            if start < best:
                best, who = start, person
        return best, who

    def place_load(self, at: int, earliest: int) -> bool:
        """Put a stage into a load: one that is planned, or a new one."""
        stage = self.shop.stages[at]
        latest = self.slack(at)
        pin = stage.pin.start if stage.pin is not None else None
        if pin is not None:
            latest = min(latest, pin)
        joined = -1
        for bath in self.shop.baths_for[stage.program]:
            for number in self.in_bath[bath]:
                load = self.loads[number]
                if (
                    load.program == stage.program
                    and earliest <= load.start <= latest
                    and load.name
                    and len(load.members) < self.shop.problem.baths[bath].places
                    and (load.person in self.shop.may_do[at] or load.person < 0)
                    and (joined < 0 or load.start < self.loads[joined].start)
                ):
                    joined = number
        waiting = max(earliest, min(earliest + self.patience, latest)) if pin is None else earliest
        if joined < 0 or self.loads[joined].start > waiting:
            made = self.new_load(at, waiting, latest) or self.new_load(at, earliest, latest)
            if made is not None and (joined < 0 or made[0] < self.loads[joined].start):
                joined = self.start_load(stage.program, made)
        if joined < 0:
            return False
        load = self.loads[joined]
        load.members.append(at)
        self.put(at, load.start, load.end, load.person)
        self.load[at], self.together[at] = joined, load.name
        return True

    def start_load(self, program: str, made: tuple[int, int, int]) -> int:
        """Open a load and return its number."""
        start, bath, person = made
        minutes = self.shop.programs[program].minutes
        key = self.shop.problem.baths[bath].key
        self.loads.append(Load(bath, program, start, start + minutes, person, f"{key} at {start}"))
        self.in_bath[bath].append(len(self.loads) - 1)
        if person >= 0:
            self.take(self.busy[person], start, start + self.shop.programs[program].hands)
        return len(self.loads) - 1


def group_minutes(shop: Shop, group: list[int], person: int) -> int:
    """Return the minutes that a person needs for some stages together."""
    stages = [shop.stages[at] for at in group]
    shared = max(stage.setup for stage in stages) if len(stages) > 1 else stages[0].setup
    own = sum(stage.minutes - stage.setup for stage in stages)
    return minutes_of_hands(shared + own, shop.paces[person][stages[0].skill])
