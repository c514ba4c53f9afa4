"""Loads in the model of constraints: which there are, when they start, and what goes into them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from cases.domain.planning.floor import Floor, Load
from cases.domain.planning.gaps import options

if TYPE_CHECKING:
    from cases.domain.planning.cpmodel import Model, Unit

NEW = 3
"""How many loads more than the plan has may be opened, for each program."""


@dataclass
class Slot:
    """A load that may run. ``number`` is its number in the plan at hand, -1 for a new one."""

    program: str
    number: int
    start: Any
    used: Any = 1
    baths: list[tuple[int, Any]] = field(default_factory=list)
    persons: list[tuple[int, Any]] = field(default_factory=list)
    members: list[tuple[int, Any]] = field(default_factory=list)


class Loads:
    """All loads that a freed stage may go into.

    A load of which everything is freed may move; one with a member that stays is joined or
    left, not moved.
    """

    def __init__(self, model: Model) -> None:
        self.of, self.shop, self.floor = model, model.shop, model.floor
        self.moving: set[int] = set()
        self.slots: list[Slot] = []
        stages = self.shop.stages
        self.units = [unit for unit in model.units if stages[unit.members[0]].kind == "load"]
        programs = [stages[unit.members[0]].program for unit in self.units]
        for number, load in enumerate(self.floor.loads):
            if load.program in programs and load.members and load.name:
                if all(at in model.freed for at in load.members):
                    self.moving.add(number)
                    self._open(load.program, number)
                elif load.start <= model.until:
                    self.slots.append(Slot(load.program, number, load.start))
        for program in sorted(set(programs)):
            for _ in range(min(NEW, programs.count(program))):
                self._open(program, -1)
        for unit in self.units:
            self._into(unit)
        for slot in self.slots:
            self._places(slot)

    def _open(self, name: str, number: int) -> None:
        """Make a load whose start, bath and hands are variables."""
        of, shop = self.of, self.shop
        program = shop.programs[name]
        load = self.floor.loads[number] if number >= 0 else None
        now = load.start if load is not None else 0
        slot = Slot(name, number, of.number(0, of.until, now), of.choice(load is not None))
        for bath in shop.baths_for[name]:
            taken = of.choice(load is not None and load.bath == bath)
            of.baths[bath].append(of.whole(slot.start, program.minutes, taken))
            slot.baths.append((bath, taken))
        of.model.add(sum(taken for _, taken in slot.baths) == slot.used)
        if program.hands:
            self._hands(slot, load, program.hands)
        self.slots.append(slot)

    def _hands(self, slot: Slot, load: Load | None, minutes: int) -> None:
        """Somebody who may load is there, in one piece."""
        of, shop = self.of, self.shop
        mine = [
            unit.members[0]
            for unit in self.units
            if shop.stages[unit.members[0]].program == slot.program
        ]
        first = min(of.first[at] for at in mine)
        last = max(of.last[at] for at in mine)
        for person in sorted({person for at in mine for person in shop.may_do[at]}):
            for _, soonest, latest, length in options(shop, person, minutes, False, first, last):
                taken = of.choice(
                    load is not None and load.person == person and soonest <= load.start <= latest
                )
                of.chosen_between(slot.start, soonest, latest, taken)
                of.hands[person].append(of.whole(slot.start, length, taken))
                slot.persons.append((person, taken))
        of.model.add(sum(taken for _, taken in slot.persons) == slot.used)

    def _into(self, unit: Unit) -> None:
        """Let a stage choose its load."""
        of, shop = self.of, self.shop
        at = unit.members[0]
        program = shop.stages[at].program
        unit.start = of.number(*of.between([at]), self.floor.start[at])
        unit.end = unit.free = unit.start + shop.programs[program].minutes
        joined: list[Any] = []
        for slot in self.slots:
            stands = slot.number >= 0 and slot.number not in self.moving
            loader = self.floor.loads[slot.number].person if stands else -1
            if slot.program != program or (loader >= 0 and loader not in shop.may_do[at]):
                continue
            taken = of.choice(slot.number >= 0 and slot.number == self.floor.load[at])
            of.model.add(unit.start == slot.start).only_enforce_if(taken)
            of.model.add_implication(taken, slot.used)
            for person, loads in slot.persons:
                if person not in shop.may_do[at]:
                    of.model.add_at_most_one(taken, loads)
            slot.members.append((at, taken))
            joined.append(taken)
        of.model.add_exactly_one(joined)

    def _places(self, slot: Slot) -> None:
        baths, load = self.shop.problem.baths, self.floor.loads[slot.number]
        inside = sum(taken for _, taken in slot.members)
        if slot.number < 0 or slot.number in self.moving:
            room = sum(baths[bath].places * taken for bath, taken in slot.baths)
            self.of.model.add(inside <= room)
        elif slot.members:
            stay = sum(at not in self.of.freed for at in load.members)
            self.of.model.add(inside <= baths[load.bath].places - stay)

    def read(self, floor: Floor, value: Callable[[Any], int]) -> None:
        """Put what was chosen into a plan."""
        for slot in self.slots:
            inside = [at for at, taken in slot.members if value(taken)]
            if not inside:
                continue
            if slot.number >= 0 and slot.number not in self.moving:
                load, number = floor.loads[slot.number], slot.number
            else:
                bath = next(bath for bath, taken in slot.baths if value(taken))
                person = next((one for one, taken in slot.persons if value(taken)), -1)
                start, number = value(slot.start), len(floor.loads)
                end = start + self.shop.programs[slot.program].minutes
                name = f"{self.shop.problem.baths[bath].key} at {start}"
                load = Load(bath, slot.program, start, end, person, name)
                floor.loads.append(load)
            for at in inside:
                load.members.append(at)
                floor.load[at], floor.together[at] = number, load.name
                floor.person[at] = load.person
