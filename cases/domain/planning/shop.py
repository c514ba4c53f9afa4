"""The problem in numbers, put together once and then planned many times.

Stages that must follow each other within a time (``After.most``) are one *block*: it gets its
place as a whole, so that what has been begun can be ended in time.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from functools import cached_property

from cases.domain.planning import flaws
from cases.domain.planning.pinned import with_pinned_loads
from cases.domain.planning.problem import Problem, Stage, may_sign, minutes_of_hands, somebody_else

NEVER = 1 << 40
Fit = tuple[int, int]
"""Minutes that somebody needs for a stage, and who."""


class Hours:
    """The hours of one person, with sums, so that work over breaks is two look-ups."""

    __slots__ = ("ends", "starts", "worked", "worked_before")

    def __init__(self, spans: tuple[tuple[int, int], ...]) -> None:
        self.starts = [start for start, _ in spans]
        self.ends = [end for _, end in spans]
        self.worked_before: list[int] = []
        self.worked: list[int] = []
        total = 0
        for start, end in spans:
            self.worked_before.append(total)
            total += end - start
            self.worked.append(total)

    def finish(self, start: int, minutes: int, pausable: bool) -> int:
        """Return when work begun at ``start`` ends, or -1 when it cannot begin there."""
        at = bisect_right(self.starts, start) - 1
        if at < 0 or start >= self.ends[at]:
            return -1
        end = start + minutes
        if end <= self.ends[at]:
            return end
        if not pausable:
            return -1
        wanted = self.worked_before[at] + start - self.starts[at] + minutes
        at = bisect_left(self.worked, wanted)
        if at == len(self.starts):
            return -1
        return self.starts[at] + wanted - self.worked_before[at]

    def next_start(self, instant: int) -> int:
        """Return the first minute from ``instant`` on that is worked."""
        at = bisect_right(self.starts, instant) - 1
        if at >= 0 and instant < self.ends[at]:
            return instant
        return self.starts[at + 1] if at + 1 < len(self.starts) else NEVER

    def next_span(self, instant: int) -> int:
        """Return the start of the first span after ``instant``."""
        at = bisect_right(self.starts, instant)
        return self.starts[at] if at < len(self.starts) else NEVER


class Shop:
    """A problem by numbers: stage 3 is done by person 1 at station 0.

    Attributes
    ----------
    asked
        The problem that was given: what a plan is checked against.
    problem
        As it is played: pinned loads have baths beside (``real_bath``) and stages that keep the
        real ones free (``frozen``).
    """

    def __init__(self, problem: Problem) -> None:
        flaws.check_shape(problem)
        self.flawed = flaws.find(problem)
        played = with_pinned_loads(problem)
        self.asked, self.problem = problem, played.problem
        self.real_bath, self.frozen = played.real, played.frozen
        self.stages = self.problem.stages
        self.number = {stage.key: at for at, stage in enumerate(self.stages)}
        self._persons()
        self._stations_and_things()
        self._cases()
        self._order()
        self._blocks()
        self.last_by = [self.last_person.get(stage.key, -1) for stage in self.stages]
        self._fits: dict[tuple[str, int, tuple[int, ...]], list[Fit]] = {}

    def _persons(self) -> None:
        persons = self.problem.persons
        self.person = {one.key: at for at, one in enumerate(persons)}
        self.hours = [Hours(one.working) for one in persons]
        self.paces = [dict(one.skills) for one in persons]
        self.skills = [tuple(dict(one.skills)) for one in persons]
        self.student = [one.student for one in persons]
        self.last_person = {
            one.stage: self.person[one.person]
            for one in self.problem.last
            if one.person in self.person and one.start < self.problem.keep_until
        }
        self.skilled: dict[str, list[int]] = {}
        for at, one in enumerate(persons):
            for skill, _ in one.skills:
                self.skilled.setdefault(skill, []).append(at)
        self.may_do: list[list[int]] = []
        for stage in self.stages:
            may = self.skilled.get(stage.skill, [])
            if stage.pin is not None and stage.pin.person:
                may = [at for at in may if persons[at].key == stage.pin.person]
            self.may_do.append(may)
        self._signers()
        self._second_eyes()

    def _signers(self) -> None:
        """Find who countersigns what students do; where nobody can, no student does it."""
        self.signers: list[list[int]] = [[] for _ in self.stages]
        known: dict[str, list[int]] = {}
        for at, stage in enumerate(self.stages):
            if not stage.sign:
                continue
            if stage.sign_skill not in known:
                known[stage.sign_skill] = [
                    number
                    for number, one in enumerate(self.problem.persons)
                    if may_sign(one, stage) and self.hours[number].starts
                ]
            able = self.signers[at] = known[stage.sign_skill]
            lost = [one for one in self.may_do[at] if self.student[one] and not set(able) - {one}]
            if lost:
                self.may_do[at] = [one for one in self.may_do[at] if one not in lost]

    def _second_eyes(self) -> None:
        """Find what somebody else than the doer of another stage must do, and who can."""
        persons = self.problem.persons
        longest = {
            one.key: max((b - a for a, b in zip(hours.starts, hours.ends, strict=True)), default=0)
            for one, hours in zip(persons, self.hours, strict=True)
        }
        self.other_than = [self.number.get(stage.other_than, -1) for stage in self.stages]
        self.eyes: dict[int, frozenset[int]] = {}
        for at, stage in enumerate(self.stages):
            if stage.kind != "attended" or not (stage.other_than or stage.not_by):
                continue
            can = somebody_else(stage, persons, longest)
            self.eyes[at] = frozenset(self.person[key] for key in can)
            did = self.person.get(stage.not_by, -1)
            if self.another(at, did):
                self.may_do[at] = [one for one in self.may_do[at] if one != did]
            looked_at = self.other_than[at]
            if looked_at >= 0 and stage.pin is not None and stage.pin.person:
                # Who is to look at it leaves it to somebody else, if that can be.
                pinned = self.person.get(stage.pin.person, -1)
                left = [one for one in self.may_do[looked_at] if one != pinned]
                if left and self.another(at, pinned):
                    self.may_do[looked_at] = left

    def another(self, at: int, person: int) -> bool:
        """Tell whether somebody else than a person can look at what he did."""
        return bool(self.eyes.get(at, frozenset()) - {person})

    def _stations_and_things(self) -> None:
        stations = {one.key: at for at, one in enumerate(self.problem.stations)}
        self.station_count = [one.count for one in self.problem.stations]
        self.station = [stations.get(stage.station, -1) for stage in self.stages]
        things = {one.key: at for at, one in enumerate(self.problem.things)}
        self.thing_count = [one.count for one in self.problem.things]
        self.takes: list[list[int]] = [[] for _ in self.stages]
        self.gives: list[list[tuple[int, int]]] = [[] for _ in self.stages]
        self.held_now = [0] * len(self.thing_count)
        for held in self.problem.held:
            thing = things[held.thing]
            if held.first and self.stages[self.number[held.first]].running is None:
                self.takes[self.number[held.first]].append(thing)
            else:
                self.held_now[thing] += 1
            self.gives[self.number[held.last]].append((thing, held.rest))
        self.programs = {one.key: one for one in self.problem.programs}
        self.baths_for = {
            program: [
                at for at, bath in enumerate(self.problem.baths)
                if program in bath.programs and bath.places > 0
            ]
            for program in self.programs
        }  # fmt: skip
        self.limits = dict(self.problem.batch_limits)

    def _cases(self) -> None:
        cases = self.problem.cases
        number = {one.key: at for at, one in enumerate(cases)}
        self.case = [number[stage.case] for stage in self.stages]
        self.own: list[list[int]] = [[] for _ in cases]
        for at, case in enumerate(self.case):
            self.own[case].append(at)
        self.pairs = [(number[a], number[b]) for a, b in self.problem.pairs]

    def _order(self) -> None:
        self.before: list[list[tuple[int, int, int | None]]] = []
        self.followers: list[list[int]] = [[] for _ in self.stages]
        for at, stage in enumerate(self.stages):
            self.before.append([])
            for after in stage.after:
                earlier = self.number[after.stage]
                self.before[at].append((earlier, after.least, after.most))
                self.followers[earlier].append(at)
        self.release = [
            max(stage.not_before, self.problem.cases[self.case[at]].release, 0)
            for at, stage in enumerate(self.stages)
        ]
        self.latest = [NEVER if one.latest is None else one.latest for one in self.stages]
        self._line_up()
        self.minutes = [self._usual_minutes(stage) for stage in self.stages]
        self.tail = [0] * len(self.stages)
        for at in reversed(self.line):
            rest = max(
                (
                    self.tail[next_]
                    + next(least for one, least, _ in self.before[next_] if one == at)
                    for next_ in self.followers[at]
                ),
                default=0,
            )
            self.tail[at] = rest + self.minutes[at]

    def _line_up(self) -> None:
        """Put the stages in an order in which each comes after what it waits for."""
        left = [len(before) for before in self.before]
        self.line = [at for at, count in enumerate(left) if count == 0]
        for at in self.line:
            for next_ in self.followers[at]:
                left[next_] -= 1
                if left[next_] == 0:
                    self.line.append(next_)
        self.place = {at: place for place, at in enumerate(self.line)}

    def _usual_minutes(self, stage: Stage) -> int:
        if stage.running is not None:
            return max(0, stage.running.end)
        if stage.kind == "load" and stage.program in self.programs:
            return self.programs[stage.program].minutes
        return stage.minutes

    def _blocks(self) -> None:
        root = list(range(len(self.stages)))

        def find(at: int) -> int:
            while root[at] != at:
                root[at] = root[root[at]]
                at = root[at]
            return at

        for at, stage in enumerate(self.stages):
            if stage.running is not None:
                continue
            for earlier, _, most in self.before[at]:
                run = self.stages[earlier].running
                if most is not None and run is not None:
                    self.latest[at] = min(self.latest[at], run.end + most)
                elif most is not None:
                    root[find(at)] = find(earlier)
        members: dict[int, list[int]] = {}
        for at in self.line:
            if self.stages[at].running is None:
                members.setdefault(find(at), []).append(at)
        self.blocks = list(members.values())
        self.block_of = {at: number for number, block in enumerate(self.blocks) for at in block}

    @cached_property
    def needs(self) -> list[dict[int, int]]:
        """How many of each thing each block takes."""
        found: list[dict[int, int]] = []
        for block in self.blocks:
            needs: dict[int, int] = {}
            for at in block:
                for thing in self.takes[at]:
                    needs[thing] = needs.get(thing, 0) + 1
            found.append(needs)
        return found

    @cached_property
    def feeds(self) -> list[list[int]]:
        """The blocks that wait for each stage, besides its own."""
        found: list[list[int]] = []
        for at, followers in enumerate(self.followers):
            if self.stages[at].running is not None:
                found.append([])
                continue
            own = self.block_of.get(at, -1)
            found.append(sorted({self.block_of.get(one, own) for one in followers} - {own}))
        return found

    @cached_property
    def waits_for(self) -> list[int]:
        """How many stages of other blocks each block waits for."""
        found = [0] * len(self.blocks)
        for fed in self.feeds:
            for number in fed:
                found[number] += 1
        return found

    @cached_property
    def hands_left(self) -> list[float]:
        """For each stage the minutes of scarce work from it to the end of its case."""
        left = [1.0] * len(self.stages)
        for at in reversed(self.line):
            stage = self.stages[at]
            scarce = stage.kind == "attended" or self.station[at] >= 0
            after = max((left[one] for one in self.followers[at]), default=1.0)
            left[at] = after + (float(stage.minutes) if scarce else 0.0)
        return left

    def fits(self, at: int) -> list[Fit]:
        """Return who may do a stage alone, the quickest first, of equals the least skilled."""
        stage, may = self.stages[at], self.may_do[at]
        own = may is not self.skilled.get(stage.skill)
        key = (stage.skill, stage.minutes, tuple(may) if own else ())
        found = self._fits.get(key)
        if found is None:
            order = sorted((self.hands(at, one), len(self.skills[one]), one) for one in may)
            found = self._fits[key] = [(minutes, one) for minutes, _, one in order]
        return found

    def hands(self, at: int, person: int) -> int:
        """Return the minutes that a person needs for a stage alone."""
        stage = self.stages[at]
        return minutes_of_hands(stage.minutes, self.paces[person][stage.skill])
