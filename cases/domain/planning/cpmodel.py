"""A plan as a model of constraints: the stages that are freed are variables, the rest stands.

What is done together in the plan at hand stays together, as one *unit*; a load's members may
change. Hands and their breaks: a unit has one optional interval for each person, gap of the
calendar and number of breaks that it spans, with the starts for which that is so; breaks thus
cost no constraint. Whatever is not freed is a constant that is in the way.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Any

from cases.domain.planning.cploads import Loads
from cases.domain.planning.floor import Floor, group_minutes
from cases.domain.planning.gaps import Option, options
from cases.domain.planning.score import leaving
from cases.domain.planning.shop import Shop


@dataclass
class Unit:
    """Stages that start and end together, or one alone, with what of it is a variable."""

    members: list[int]
    start: Any = None
    end: Any = None
    free: Any = None
    by: dict[int, list[Any]] = field(default_factory=dict)
    signers: list[tuple[Any, int, Any, Any]] = field(default_factory=list)


class Impossible(Exception):
    """The freed stages have no room at all in the time looked at."""


class Model:
    """The model of a plan with some stages freed. ``cp`` is the solver's module."""

    def __init__(self, cp: Any, shop: Shop, floor: Floor, freed: set[int], until: int) -> None:
        self.cp, self.shop, self.floor, self.until = cp, shop, floor, until
        self.model = cp.CpModel()
        self.freed = closed(shop, floor, freed)
        self.units: list[Unit] = []
        self.unit: dict[int, Unit] = {}
        self.hands: list[list[Any]] = [[] for _ in shop.hours]
        self.places: list[list[Any]] = [[] for _ in shop.station_count]
        self.baths: list[list[Any]] = [[] for _ in shop.problem.baths]
        self.hints: list[tuple[Any, int]] = []
        self._bounds()
        self._make_units()
        self.loads = Loads(self)
        self._stand()
        self._order()
        self._second_eyes()
        self._exclude()
        self._things()
        self._leaving()

    # ── variables, each with its value in the plan at hand ───────────────────
    def number(self, low: int, high: int, now: int) -> Any:
        var = self.model.new_int_var(low, high, "")
        self.hints.append((var, now))
        return var

    def choice(self, now: bool) -> Any:
        var = self.model.new_bool_var("")
        self.hints.append((var, int(now)))
        return var

    def whole(self, start: Any, size: int, chosen: Any) -> Any:
        return self.model.new_optional_fixed_size_interval_var(start, size, chosen, "")

    def chosen_between(self, start: Any, first: int, last: int, chosen: Any) -> None:
        domain = self.cp.Domain(first, last)
        self.model.add_linear_expression_in_domain(start, domain).only_enforce_if(chosen)

    def _make_units(self) -> None:
        groups: dict[object, list[int]] = {}
        for at in sorted(self.freed):
            name = self.floor.together[at] if self.floor.load[at] < 0 else ""
            groups.setdefault(name or at, []).append(at)
        for members in groups.values():
            unit = Unit(members)
            self.units.append(unit)
            for at in members:
                self.unit[at] = unit
            stage = self.shop.stages[members[0]]
            if stage.kind == "load":
                continue
            if stage.kind == "attended":
                self._attended(unit)
            else:
                self._unattended(unit)

    def _bounds(self) -> None:
        """Find for each freed stage the first and last start by what stands and what is least."""
        shop, floor = self.shop, self.floor
        self.first: dict[int, int] = {}
        self.last: dict[int, int] = {}
        least_of = {at: self._least(at) for at in self.freed}
        for at in (one for one in shop.line if one in self.freed):
            pin = shop.stages[at].pin
            first, last = shop.release[at], min(self.until - least_of[at], shop.latest[at])
            if pin is not None and pin.start is not None:
                first, last = max(first, pin.start), min(last, pin.start)
            for earlier, least, most in shop.before[at]:
                if earlier in self.freed:
                    first = max(first, self.first[earlier] + least_of[earlier] + least)
                    continue
                first = max(first, floor.end[earlier] + least, floor.free[earlier])
                if most is not None and shop.stages[earlier].running is None:
                    last = min(last, floor.end[earlier] + most)
            self.first[at], self.last[at] = first, last
        for at in (one for one in reversed(shop.line) if one in self.freed):
            for after in shop.followers[at]:
                least = next(least for one, least, _ in shop.before[after] if one == at)
                starts = self.last.get(after, floor.start[after])
                if starts >= 0 and shop.stages[after].running is None:
                    self.last[at] = min(self.last[at], starts - least - least_of[at])

    def _least(self, at: int) -> int:
        """Return the least minutes that a stage lasts."""
        shop = self.shop
        stage = shop.stages[at]
        if stage.kind == "load":
            return shop.programs[stage.program].minutes
        if stage.kind != "attended":
            return stage.minutes
        # In company a stage may take longer, never shorter than what is its own.
        return min((shop.hands(at, person) for person in shop.may_do[at]), default=0)

    def between(self, members: list[int]) -> tuple[int, int]:
        """Return the first and last start of what starts together."""
        first = max(self.first[at] for at in members)
        last = min(self.last[at] for at in members)
        if first > last:
            raise Impossible
        return first, last

    def _unattended(self, unit: Unit) -> None:
        at = unit.members[0]
        minutes, station = self.shop.stages[at].minutes, self.shop.station[at]
        unit.start = self.number(*self.between(unit.members), self.floor.start[at])
        unit.end = unit.free = unit.start + minutes
        if station >= 0 and minutes:
            self.places[station].append(
                self.model.new_fixed_size_interval_var(unit.start, minutes, "")
            )

    def _attended(self, unit: Unit) -> None:
        shop, floor, model = self.shop, self.floor, self.model
        at = unit.members[0]
        first, last = self.between(unit.members)
        now = floor.start[at]
        pausable = all(shop.stages[one].pausable for one in unit.members)
        may = [p for p in shop.may_do[at] if all(p in shop.may_do[one] for one in unit.members)]
        found: list[Option] = []
        for person in may:
            minutes = group_minutes(shop, unit.members, person)
            found += options(shop, person, minutes, pausable, first, last)
        if not found:
            raise Impossible
        unit.start = self.number(first, last, now)
        size = self.number(
            min(one[3] for one in found), max(one[3] for one in found), floor.end[at] - now
        )
        unit.end = unit.free = self.number(first, 2 * self.until, floor.end[at])
        model.add(unit.end == unit.start + size)
        chosen: list[tuple[Any, int]] = []
        for person, soonest, latest, length in found:
            own = person == floor.person[at] and soonest <= now <= latest
            taken = self.choice(own and length == floor.end[at] - now)
            self.chosen_between(unit.start, soonest, latest, taken)
            self.hands[person].append(self.whole(unit.start, length, taken))
            unit.by.setdefault(person, []).append(taken)
            chosen.append((taken, length))
        model.add_exactly_one(taken for taken, _ in chosen)
        model.add(size == sum(length * taken for taken, length in chosen))
        if (station := shop.station[at]) >= 0:
            self.places[station].append(model.new_interval_var(unit.start, size, unit.end, ""))
        self._signed(unit, last)

    def _signed(self, unit: Unit, last: int) -> None:
        """A student's work is countersigned by somebody else before anything follows."""
        shop, floor = self.shop, self.floor
        students = [p for p in unit.by if shop.student[p]]
        signs = [at for at in unit.members if shop.stages[at].sign]
        if not (students and signs):
            return
        latest_free = unit.end
        for at in signs:
            signer, begun, _until = floor.signed.get(at, (-1, floor.end[at], 0))
            start = self.number(0, self.until, begun)
            taken_all: list[Any] = []
            minutes = shop.stages[at].sign
            for person in shop.signers[at]:
                for _p, soonest, latest, length in options(
                    shop, person, minutes, False, self.first[at], self.until
                ):
                    taken = self.choice(person == signer and soonest <= begun <= latest)
                    self.chosen_between(start, soonest, latest, taken)
                    self.hands[person].append(self.whole(start, length, taken))
                    for own in unit.by.get(person, ()):
                        self.model.add_at_most_one(own, taken)
                    taken_all.append(taken)
                    unit.signers.append((taken, person, start, at))
            by_student = sum(taken for p in students for taken in unit.by[p])
            self.model.add(sum(taken_all) == by_student)
            self.model.add(start >= unit.end)
            free = self.number(0, self.until + minutes, max(floor.free[at], floor.end[at]))
            self.model.add(free >= latest_free)
            for taken in taken_all:
                self.model.add(free >= start + minutes).only_enforce_if(taken)
            latest_free = free
        unit.free = latest_free

    # ── what stands ──────────────────────────────────────────────────────────
    def _stand(self) -> None:
        """Put what is not freed in the way, as far as it can meet what is."""
        shop, floor = self.shop, self.floor
        hands: set[tuple[int, int, int]] = set()
        places: set[tuple[int, object, int, int]] = set()
        for at, stage in enumerate(shop.stages):
            if at in self.freed or floor.placed_not(at):
                continue
            start, end = floor.start[at], floor.end[at]
            if stage.kind == "attended" and floor.person[at] >= 0:
                hands.add((floor.person[at], start, end))
            if shop.station[at] >= 0:
                places.add((shop.station[at], floor.together[at] or at, start, end))
            if at in floor.signed:
                hands.add(floor.signed[at])
        for number, load in enumerate(floor.loads):
            if number in self.loads.moving or not load.members:
                continue
            self._fixed(self.baths[load.bath], load.start, load.end)
            if load.name and load.person >= 0:
                until = load.start + shop.programs[load.program].hands
                hands.add((load.person, load.start, until))
        for person, start, end in sorted(hands):
            self._fixed(self.hands[person], start, end)
        for station, _name, start, end in sorted(places, key=lambda one: (one[0], one[2:])):
            self._fixed(self.places[station], start, end)

    def _fixed(self, among: list[Any], start: int, end: int) -> None:
        if among and end > max(0, start) and start <= 2 * self.until:
            among.append(self.model.new_fixed_size_interval_var(start, end - start, ""))

    # ── constraints ──────────────────────────────────────────────────────────
    def _order(self) -> None:
        shop, floor, model = self.shop, self.floor, self.model
        for unit in self.units:
            for at in unit.members:
                for earlier, least, most in shop.before[at]:
                    other = self.unit.get(earlier)
                    if other is None:
                        continue
                    model.add(unit.start >= other.end + least)
                    if other.free is not other.end:
                        model.add(unit.start >= other.free)
                    if most is not None:
                        model.add(unit.start <= other.end + most)
                for after in shop.followers[at]:
                    if after in self.unit or floor.placed_not(after):
                        continue
                    if shop.stages[after].running is not None:
                        continue
                    for earlier, least, most in shop.before[after]:
                        if earlier == at:
                            model.add(unit.end + least <= floor.start[after])
                            model.add(unit.free <= floor.start[after])
                            if most is not None:
                                model.add(unit.end + most >= floor.start[after])

    def _second_eyes(self) -> None:
        """Who looks at a stage has not done it, where somebody else can."""
        shop, floor = self.shop, self.floor
        for at, looked_at in enumerate(shop.other_than):
            if looked_at < 0 or not {at, looked_at} & self.unit.keys():
                continue
            for person in range(len(shop.hours)):
                if shop.another(at, person):
                    self.model.add(
                        sum(self._done_by(floor, one, person) for one in (at, looked_at)) <= 1
                    )

    def _done_by(self, floor: Floor, at: int, person: int) -> Any:
        if at in self.unit:
            return sum(self.unit[at].by.get(person, ()))
        return int(floor.person[at] == person)

    def _exclude(self) -> None:
        for busy in (*self.hands, *self.baths):
            if len(busy) > 1:
                self.model.add_no_overlap(busy)
        for station, used in enumerate(self.places):
            count = self.shop.station_count[station]
            if count == 1 and len(used) > 1:
                self.model.add_no_overlap(used)
            elif len(used) > count:
                self.model.add_cumulative(used, [1] * len(used), count)

    def _things(self) -> None:
        """A thing is held from a first stage to some minutes after a last one."""
        shop, floor, model = self.shop, self.floor, self.model
        number = {one.key: at for at, one in enumerate(shop.problem.things)}
        held: list[list[Any]] = [[] for _ in shop.thing_count]
        touched = [False] * len(shop.thing_count)
        for one in shop.problem.held:
            thing = number[one.thing]
            first = shop.number[one.first] if one.first else -1
            last = shop.number[one.last]
            if (first >= 0 and floor.placed_not(first)) or last < 0:
                continue
            begins: Any = (
                self.unit[first].start if first in self.unit else
                floor.start[first] if first >= 0 else 0
            )  # fmt: skip
            ends: Any
            if last in self.unit:
                ends = self.unit[last].end + one.rest
            elif floor.placed_not(last):
                ends = 4 * self.until
            else:
                ends = floor.end[last] + one.rest
            if first in self.unit or last in self.unit:
                touched[thing] = True
                now = floor.end[last] + one.rest
                begun = floor.start[first] if first >= 0 else 0
                size = self.number(0, 4 * self.until, max(0, now - begun))
                held[thing].append(model.new_interval_var(begins, size, ends, ""))
            elif ends > max(0, begins):
                held[thing].append(model.new_fixed_size_interval_var(begins, ends - begins, ""))
        for thing, spans in enumerate(held):
            count = shop.thing_count[thing]
            if touched[thing] and len(spans) > count:
                if count == 1:
                    model.add_no_overlap(spans)
                else:
                    model.add_cumulative(spans, [1] * len(spans), count)

    def _leaving(self) -> None:
        """Lateness and flow of the cases that can change, in whole units of weight."""
        shop, floor, model = self.shop, self.floor, self.model
        cases = shop.problem.cases
        now = leaving(shop, floor)
        paired = {case: pair for pair in shop.pairs for case in pair}
        touched = {shop.case[at] for at in self.freed}
        for pair in shop.pairs:
            if touched & set(pair):
                touched |= set(pair)
        weights = [cases[case].weight for case in touched]
        self.scale = 1 if all(weight == int(weight) for weight in weights) else 100
        late: list[Any] = []
        flow: list[Any] = []
        at_of: dict[int, Any] = {}
        for case in sorted(touched):
            if now[case] < 0:
                continue
            one = cases[case]
            high = max(now[case], self.until)
            if one.vans:
                vans = [van for van in one.vans if van <= high] or [now[case]]
                leaves = model.new_int_var_from_domain(self.cp.Domain.from_values(vans), "")
                self.hints.append((leaves, now[case]))
            else:
                leaves = self.number(0, high, now[case])
            for at in shop.own[case]:
                model.add(leaves >= (self.unit[at].end if at in self.unit else floor.end[at]))
            at_of[case] = leaves
            flow.append(leaves)
            behind = max(0, now[case] - one.due)
            past = self.number(0, max(behind, high - one.due, 0), behind)
            model.add(past >= leaves - one.due)
            late.append(round(one.weight * self.scale) * past)
        for first, second in {paired[case] for case in touched if case in paired}:
            if first in at_of and second in at_of:
                model.add(at_of[first] == at_of[second])
        self.late, self.flow = sum(late), sum(flow)
        self.flow_most = 1 + sum(max(at, self.until) for at in now if at >= 0)
        self.moved = sum(
            1 - sum(self.unit[at].by.get(person, ()))
            for key, person in shop.last_person.items()
            if (at := shop.number.get(key, -1)) in self.unit and self.unit[at].by
        )

    # ── from the solver's values to a plan ───────────────────────────────────
    def read(self, value: Any) -> Floor:
        """Return the plan of a solution, as the floor of a lab that was played through."""
        floor = copy_of(self.floor)
        for at in self.freed:
            floor.signed.pop(at, None)
            if floor.load[at] >= 0:
                floor.loads[floor.load[at]].members.remove(at)
                floor.load[at], floor.together[at] = -1, ""
        for unit in self.units:
            for at in unit.members:
                floor.start[at], floor.end[at] = value(unit.start), value(unit.end)
                floor.free[at] = value(unit.end)
                for person, taken in unit.by.items():
                    if any(value(one) for one in taken):
                        floor.person[at] = person
            for taken, person, start, at in unit.signers:
                if value(taken):
                    begun = value(start)
                    until = begun + self.shop.stages[at].sign
                    floor.signed[at] = (person, begun, until)
                    floor.free[at] = until
        self.loads.read(floor, value)
        return floor


def closed(shop: Shop, floor: Floor, freed: set[int]) -> set[int]:
    """Return what of some stages can be freed.

    Running and unplaced stages, those of cases that do not leave, and groups that are only
    partly meant stay as they are.
    """
    gone = leaving(shop, floor)
    free = {
        at
        for at in freed
        if shop.stages[at].running is None and not floor.placed_not(at) and gone[shop.case[at]] >= 0
    }
    groups: dict[str, list[int]] = {}
    for at, name in enumerate(floor.together):
        if name and floor.load[at] < 0:
            groups.setdefault(name, []).append(at)
    for group in groups.values():
        if not all(at in free for at in group):
            free.difference_update(group)
    return free


def copy_of(floor: Floor) -> Floor:
    """Return a floor that can be changed without changing the first."""
    other = Floor(floor.shop, floor.patience)
    other.start, other.end, other.free = list(floor.start), list(floor.end), list(floor.free)
    other.person, other.load = list(floor.person), list(floor.load)
    other.together, other.signed = list(floor.together), dict(floor.signed)
    other.loads = [replace(load, members=list(load.members)) for load in floor.loads]
    other.in_bath = [list(numbers) for numbers in floor.in_bath]
    return other
