"""The loads of a plan that is played again: those that run, those planned, and new ones.

Planned loads that have not begun keep their bath and hour, and not their seats: these go to who
is taken up first. Kept seats send a late piece past all full loads, days on; on invented labs
that made the lateness after an event up to seven times as large. Who comes too late asks the
load to wait, or goes with another; a load without anybody is given up.
"""

from __future__ import annotations

from cases.domain.planning.floor import Load
from cases.domain.planning.shop import NEVER
from cases.domain.planning.standing import Standing
from cases.domain.planning.taken import Taken

WAITS = 240
"""Minutes that a load which has not begun waits for pieces. On invented labs half of it was
worse after an event, more than it no better."""
TRIES = 40
"""How many gaps between the loads of a bath are looked at."""


class Loads:
    """All loads of a plan that is played again, in a floor's ``loads``."""

    def __init__(self, standing: Standing, taken: Taken) -> None:
        self.standing, self.taken, self.shop = standing, taken, standing.shop
        self.loads = taken.floor.loads
        self.in_bath: list[list[int]] = [[] for _ in self.shop.problem.baths]
        self.meant: list[int] = []
        self.until: list[int] = []

    def open_running(self, at: int) -> None:
        """Take over a load that is in its bath."""
        run, stage = self.shop.stages[at].running, self.shop.stages[at]
        if run is None:
            return
        for bath, one in enumerate(self.shop.problem.baths):
            if one.key == run.bath:
                self.taken.floor.load[at] = self._open(
                    Load(bath, stage.program, run.start, max(run.end, 0), -1, "", [at]), 0
                )

    def open_planned(self) -> None:
        """Open the planned loads where hour, bath and hands allow it still."""
        self.own: list[int] = []
        for planned in self.standing.loads:
            program = self.shop.programs[planned.program]
            start, end, person = planned.start, planned.start + program.minutes, -1
            fits = (
                start >= 0
                # A piece that cannot wait so long any more needs another load, in this bath too.
                and all(start <= self.shop.latest[at] for at in planned.members)
                and len(planned.members) <= self.shop.problem.baths[planned.bath].places
                and self._bath_clash(planned.bath, start, end, -1) < 0
            )
            if fits and program.hands:
                person = self._loader(list(planned.members), start, planned.person)
                fits = person >= 0
            if not fits:
                self.own.append(-1)
                continue
            load = Load(planned.bath, planned.program, start, end, person, "planned")
            self.own.append(self._open(load, len(planned.members)))
            if person >= 0:
                self.taken.take_hands(person, start, start + program.hands)
        self.taken.keep()

    def _open(self, load: Load, meant: int) -> int:
        number = len(self.loads)
        self.loads.append(load)
        self.meant.append(meant)
        self.until.append(load.start + WAITS)
        self.in_bath[load.bath].append(number)
        return number

    def _loader(self, members: list[int], start: int, first: int) -> int:
        """Return who may load at a minute, -1 if nobody; ``first`` if it may be."""
        hands = self.shop.programs[self.shop.stages[members[0]].program].hands
        may = [one for one in self.shop.may_do[members[0]] if self._may(one, members)]
        for person in sorted(may, key=lambda one: one != first):
            if self.taken.hands[person].room(start, hands, False)[0] == start:
                return person
        return -1

    def _may(self, person: int, members: list[int]) -> bool:
        return all(person in self.shop.may_do[at] for at in members)

    def _bath_clash(self, bath: int, start: int, end: int, but: int) -> int:
        again = -1
        for number in self.in_bath[bath]:
            load = self.loads[number]
            if number != but and load.start < end and load.end > start:
                again = max(again, load.end)
        return again

    # ── a piece of a load ────────────────────────────────────────────────────
    def place(self, at: int, earliest: int, latest: int) -> bool:
        """Put a stage into a load that begins in [earliest, latest]; return whether one was found.

        A stage without a fitting load of its own takes a free seat in another or begins one.
        """
        planned = self.standing.load[at]
        own = self.own[planned] if planned >= 0 else -1
        if own >= 0 and own in self._free_seats(at):
            load = self.loads[own]
            if earliest <= load.start <= latest and self._fits(own, at):
                self._join(at, own, own)
                return True
            if load.start < earliest <= latest and self._wait(own, at, earliest):
                self._join(at, own, own)
                return True
        found, begun = self._other(at, earliest, latest), self._new(at, earliest, latest)
        soonest = min(
            self.loads[found].start if found >= 0 else NEVER,
            NEVER if begun is None else begun.start,
        )
        waited = self._one_that_waits(at, earliest) if earliest < soonest else -1
        if waited < 0 and soonest == NEVER:
            return False
        if waited >= 0:
            found = waited
        elif (
            begun is not None
            and begun.start == soonest
            and (found < 0 or soonest < self.loads[found].start)
        ):
            found = self._open(begun, 0)
            self.taken.journal.append((self._close, (found,)))
            if begun.person >= 0:
                hands = self.shop.programs[begun.program].hands
                self.taken.take_hands(begun.person, begun.start, begun.start + hands)
        self._join(at, found, own)
        return True

    def _fits(self, number: int, at: int) -> bool:
        person = self.loads[number].person
        return person < 0 or person in self.shop.may_do[at]

    def _free_seats(self, at: int) -> list[int]:
        """Return the loads that have not begun and have a seat for a stage, in order of time."""
        program, found = self.shop.stages[at].program, []
        for bath in self.shop.baths_for[program]:
            places = self.shop.problem.baths[bath].places
            for number in self.in_bath[bath]:
                load = self.loads[number]
                free = load.name and load.program == program and len(load.members) < places
                if free and self._fits(number, at):
                    found.append(number)
        return sorted(found, key=lambda number: (self.loads[number].start, number))

    def _other(self, at: int, earliest: int, latest: int) -> int:
        for number in self._free_seats(at):
            if earliest <= self.loads[number].start <= latest:
                return number
        return -1

    def _one_that_waits(self, at: int, until: int) -> int:
        for number in self._free_seats(at):
            if self.loads[number].start < until and self._wait(number, at, until):
                return number
        return -1

    def _new(self, at: int, earliest: int, latest: int) -> Load | None:
        stage = self.shop.stages[at]
        program = self.shop.programs[stage.program]
        best: Load | None = None
        for bath in self.shop.baths_for[stage.program]:
            start, person = earliest, -1
            for _ in range(TRIES):
                if program.hands:
                    start, person = min(
                        (
                            (self.taken.hands[one].room(start, program.hands, False)[0], one)
                            for one in self.shop.may_do[at]
                        ),
                        default=(NEVER, -1),
                    )
                if start > latest or start >= NEVER:
                    break
                again = self._bath_clash(bath, start, start + program.minutes, -1)
                if again < 0:
                    if best is None or start < best.start:
                        end = start + program.minutes
                        best = Load(bath, stage.program, start, end, person, "new")
                    break
                start = again
        return best

    def _join(self, at: int, number: int, own: int) -> None:
        load, floor = self.loads[number], self.taken.floor
        load.members.append(at)
        self.taken.journal.append((self._part, (at, number)))
        floor.load[at], floor.together[at] = number, "load"
        self.taken.put(at, load.start, load.end, load.person)
        if own >= 0 and self.meant[own] > 0:
            self._mean(own, -1)
            self.taken.journal.append((self._mean, (own, 1)))
            if not self.meant[own] and not self.loads[own].members:
                self._give_up(own)

    def _mean(self, number: int, by: int) -> None:
        self.meant[number] += by

    def _part(self, at: int, number: int) -> None:
        self.loads[number].members.remove(at)
        self.taken.floor.load[at] = -1

    def _close(self, number: int) -> None:
        self.in_bath[self.loads[number].bath].remove(number)

    def _reopen(self, number: int) -> None:
        self.in_bath[self.loads[number].bath].append(number)

    def _give_up(self, number: int) -> None:
        """Give up a load into which nobody goes any more."""
        load = self.loads[number]
        self._close(number)
        self.taken.journal.append((self._reopen, (number,)))
        if load.person >= 0:
            hands = self.shop.programs[load.program].hands
            self.taken.leave_hands(load.person, load.start, load.start + hands)

    # ── a load that waits ────────────────────────────────────────────────────
    def _wait(self, number: int, at: int, until: int) -> bool:
        """Let a load begin later if nothing speaks against it; return whether it does."""
        load, floor, shop = self.loads[number], self.taken.floor, self.shop
        program = shop.programs[load.program]
        if not load.name or until > self.until[number]:
            return False
        for one in load.members:
            followed = any(floor.start[next_] >= 0 for next_ in shop.followers[one])
            if followed or shop.gives[one] or until > floor.slack(one):
                return False
            if shop.stages[one].pin is not None:
                return False
        if self._bath_clash(load.bath, until, until + program.minutes, number) >= 0:
            return False
        hands, person = self.taken.hands, load.person
        if person >= 0:
            hands[person].give_back(load.start, load.start + program.hands)
            later = self._loader([*load.members, at], until, person)
            hands[person].take(load.start, load.start + program.hands)
            if later < 0:
                return False
            self.taken.leave_hands(person, load.start, load.start + program.hands)
            self.taken.take_hands(later, until, until + program.hands)
            person = later
        self.taken.journal.append((self._set, (number, load.start, load.person)))
        self._set(number, until, person)
        return True

    def _set(self, number: int, start: int, person: int) -> None:
        load, floor = self.loads[number], self.taken.floor
        load.start, load.end = start, start + self.shop.programs[load.program].minutes
        load.person = person
        for at in load.members:
            floor.start[at], floor.end[at], floor.free[at] = start, load.end, load.end
            floor.person[at] = person

    def name(self) -> None:
        """Give the loads that run or will, and their stages, their names."""
        for load in self.loads:
            if load.name:
                load.name = f"{self.shop.problem.baths[load.bath].key} at {load.start}"
                for at in load.members:
                    self.taken.floor.together[at] = load.name
