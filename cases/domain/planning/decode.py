"""From an order of preference to a plan: the lab is played through, event by event.

Whoever is free takes, of what is ready and what they may do, what the keys put first (the
smallest). The rest of a block gets its place in the same moment.
"""

from __future__ import annotations

from bisect import insort
from heapq import heappop, heappush

from cases.domain.planning.compiled import engine
from cases.domain.planning.floor import Floor, Load, group_minutes
from cases.domain.planning.keys import Formula, Key
from cases.domain.planning.shop import NEVER, Shop

LOOKED_AT = 12
"""How many of a queue are tried for free hands before they are left idle."""
BATCH_LOOKED_AT = 40
AGAIN_FIRST, AGAIN_GROWS, AGAIN_MOST = 10.0, 1.15, 240.0
TRIES = 300
"""A block that has no room is tried again after minutes that grow, so many times."""
KEYS_STALE = 240
"""Minutes after which keys that change with time are looked up again."""

READY, LOOK, FREED, TICK = 0, 1, 2, 3


class _Decoder:
    def __init__(self, shop: Shop, key: Key, patience: int, moving: bool) -> None:
        self.shop, self.key, self.moving = shop, key, moving
        self.floor = Floor(shop, patience)
        self.events: list[tuple[int, int, int]] = []
        self.ticks: set[int] = set()
        self.queue: dict[str, list[tuple[float, int]]] = {skill: [] for skill in shop.skilled}
        self.alone: list[tuple[float, int]] = []
        self.waiting: list[list[tuple[float, int]]] = [[] for _ in shop.thing_count]
        self.idle: set[int] = set()
        self.until = [NEVER] * len(shop.hours)
        self.tries = [0] * len(shop.blocks)
        self.open = [0] * len(shop.blocks)
        self.given_up: set[int] = set()
        self.left = 0
        self.batches = 0
        self.rekeyed = 0

    # ── the beginning ────────────────────────────────────────────────────────
    def set_out(self) -> None:
        shop, floor = self.shop, self.floor
        for at, stage in enumerate(shop.stages):
            if stage.running is not None:
                self.go_on(at)
            elif stage.pin is not None and stage.pin.start is not None and stage.pin.person:
                self.reserve(at, shop.person.get(stage.pin.person), stage.pin.start)
        for at, stage in enumerate(shop.stages):
            if stage.running is not None:
                floor.sign(at)
        for number, block in enumerate(shop.blocks):
            if any(shop.stages[at].key in shop.flawed for at in block):
                self.given_up.add(number)
                continue
            self.open[number] = len(self.outside(number))
            self.left += 1
            if not self.open[number]:
                self.announce(number, 0)
        for person in range(len(shop.hours)):
            heappush(self.events, (max(0, shop.hours[person].next_start(0)), LOOK, person))
        floor.begin()

    def outside(self, number: int) -> set[int]:
        """Return what a block waits for that has no place yet."""
        block = self.shop.blocks[number]
        return {
            earlier
            for at in block
            for earlier, _, _ in self.shop.before[at]
            if self.shop.block_of.get(earlier, number) != number
        }

    def go_on(self, at: int) -> None:
        """Take over a stage that is running."""
        shop, floor = self.shop, self.floor
        stage = shop.stages[at]
        run = stage.running
        if run is None:
            return
        person = shop.person.get(run.person, -1)
        floor.put(at, run.start, run.end, person)
        if person >= 0 and stage.kind == "attended":
            floor.take(floor.busy[person], run.start, run.end)
        if shop.station[at] >= 0:
            floor.take(floor.used[shop.station[at]], run.start, run.end)
        for bath, one in enumerate(shop.problem.baths):
            if stage.kind == "load" and one.key == run.bath:
                floor.loads.append(Load(bath, stage.program, run.start, run.end, person, "", [at]))
                floor.in_bath[bath].append(len(floor.loads) - 1)
                floor.load[at] = len(floor.loads) - 1
        for thing, rest in shop.gives[at]:
            heappush(self.events, (max(0, run.end + rest), FREED, thing))

    def reserve(self, at: int, person: int | None, start: int) -> None:
        """Keep the time of a stage that is pinned to a person and a minute."""
        stage = self.shop.stages[at]
        if person is None or stage.kind != "attended" or person not in self.shop.may_do[at]:
            return
        minutes = self.shop.hands(at, person)
        begun, end = self.floor.room(person, start, minutes, stage.pausable, -1)
        if begun == start:
            self.floor.reserved[at] = (person, start, end)
            self.floor.take(self.floor.busy[person], start, end)

    # ── what is ready ────────────────────────────────────────────────────────
    def announce(self, number: int, now: int) -> None:
        """Tell when the first stage of a block may start."""
        heappush(self.events, (self.floor.lower(self.shop.blocks[number][0], now), READY, number))

    def queue_up(self, number: int, now: int) -> None:
        head = self.shop.blocks[number][0]
        stage = self.shop.stages[head]
        entry = (self.key(head, now), number)
        pinned = stage.pin is not None and stage.pin.start is not None
        if stage.kind == "attended" and not pinned:
            insort(self.queue[stage.skill], entry)
        else:
            insort(self.alone, entry)

    def tick(self, instant: int) -> None:
        if instant < NEVER and instant not in self.ticks:
            self.ticks.add(instant)
            heappush(self.events, (instant, TICK, 0))

    def later(self, number: int, now: int, by: int) -> None:
        """Try a block again later, or give it up."""
        self.tries[number] += 1
        wait = min(AGAIN_MOST, AGAIN_FIRST * AGAIN_GROWS ** min(self.tries[number], 60))
        instant = now + max(by, int(wait))
        for at in self.shop.blocks[number]:
            for thing in self.shop.takes[at]:
                if self.waiting[thing]:
                    heappush(self.events, (now + 1, FREED, -1 - thing))
        if self.tries[number] > TRIES or instant > self.shop.problem.horizon:
            self.given_up.add(number)
            self.left -= 1
        else:
            heappush(self.events, (instant, READY, number))

    def lacking(self, number: int, more: dict[int, int]) -> int:
        """Return a thing that a block needs and that is not there, or -1."""
        needs = dict(more)
        for at in self.shop.blocks[number]:
            for thing in self.shop.takes[at]:
                needs[thing] = needs.get(thing, 0) + 1
                if self.floor.held[thing] + needs[thing] > self.shop.thing_count[thing]:
                    return thing
        more.update(needs)
        return -1

    # ── starting ─────────────────────────────────────────────────────────────
    def follow(self, number: int, now: int) -> int:
        """Give the rest of a block its place; return -1, or by how much it is too late."""
        floor = self.floor
        for at in self.shop.blocks[number]:
            if floor.start[at] >= 0:
                continue
            if not floor.place(at, floor.lower(at, now)):
                return 0
            over = floor.start[at] - floor.slack(at)
            if over > 0:
                return over
        return -1

    def commit(self, numbers: list[int], now: int) -> None:
        """Make what was placed count."""
        shop, floor = self.shop, self.floor
        done = list(floor.placed)
        floor.begin()
        for at in done:
            for thing in shop.takes[at]:
                floor.held[thing] += 1
            for thing, rest in shop.gives[at]:
                heappush(self.events, (floor.end[at] + rest, FREED, thing))
        self.left -= len(numbers)
        touched: dict[int, None] = {}
        for at in done:
            for follower in shop.followers[at]:
                other = shop.block_of.get(follower, -1)
                if other >= 0 and other not in numbers:
                    touched[other] = None
        for other in touched:
            self.open[other] = sum(floor.end[at] < 0 for at in self.outside(other))
            if not self.open[other] and other not in self.given_up:
                self.announce(other, now)

    def start_alone(self, now: int) -> None:
        """Start what needs no hands at its start, or has its minute pinned."""
        ready, self.alone = self.alone, []
        for _, number in ready:
            missing = self.lacking(number, {})
            if missing >= 0:
                insort(self.waiting[missing], (self.key(self.shop.blocks[number][0], now), number))
                continue
            over = self.follow(number, now)
            if over < 0:
                self.commit([number], now)
            else:
                self.floor.give_back()
                self.later(number, now, over)

    def companions(self, number: int, skill: str, more: dict[int, int]) -> list[int]:
        """Return the blocks whose first stages may be done together with that of a block."""
        shop = self.shop
        head = shop.blocks[number][0]
        batch = shop.stages[head].batch
        room = shop.limits.get(batch, len(shop.blocks)) - 1
        found: list[int] = []
        if not batch or shop.stages[head].pin is not None:
            return found
        for _, other in self.queue[skill][:BATCH_LOOKED_AT]:
            stage = shop.stages[shop.blocks[other][0]]
            if len(found) >= room:
                break
            if (
                other != number
                and (stage.batch, stage.station) == (batch, shop.stages[head].station)
                and stage.pin is None
                and self.lacking(other, more) < 0
            ):
                found.append(other)
        return found

    def begin_group(self, numbers: list[int], person: int, now: int) -> tuple[bool, int]:
        """Start some blocks together; return whether it went, or when to look again."""
        shop, floor = self.shop, self.floor
        heads = [shop.blocks[number][0] for number in numbers]
        stage, station = shop.stages[heads[0]], shop.station[heads[0]]
        minutes = group_minutes(shop, heads, person)
        pausable = all(shop.stages[at].pausable for at in heads)
        end = shop.hours[person].finish(now, minutes, pausable)
        if end < 0:
            return False, shop.hours[person].next_span(now)
        again = max(floor.clash(person, now, end), floor.full(station, now, end))
        if again >= 0:
            return False, again
        floor.take(floor.busy[person], now, end)
        if station >= 0:
            floor.take(floor.used[station], now, end)
        name = ""
        if len(heads) > 1:
            self.batches += 1
            name = f"{stage.batch} {self.batches}"
        for at in heads:
            floor.put(at, now, end, person)
            floor.together[at] = name
            if now > floor.slack(at) or not floor.sign(at):
                floor.give_back()
                return False, -1
        for number in numbers:
            over = self.follow(number, now)
            if over >= 0:
                floor.give_back()
                return False, -1 - over
        self.commit(numbers, now)
        heappush(self.events, (end, LOOK, person))
        return True, 0

    def may(self, at: int, person: int) -> bool:
        """Tell whether a person may do a stage, by skill, pin and second pair of eyes."""
        return person in self.shop.may_do[at] and person != self.floor.kept_from(at)

    def with_room(self, head: int, hands: list[int], now: int) -> list[int]:
        """Return who of the free hands may do a stage and has time for it before something else."""
        shop, found = self.shop, []
        for person in hands:
            if self.may(head, person):
                if now + shop.hands(head, person) <= self.until[person]:
                    found.append(person)
                else:
                    self.tick(self.until[person])
        return found

    def start_block(self, number: int, skill: str, hands: list[int], now: int) -> bool:
        """Start a block with one of the free hands; else say what becomes of it."""
        head = self.shop.blocks[number][0]
        fit = self.with_room(head, hands, now)
        if not fit:
            return False
        more: dict[int, int] = {}
        missing = self.lacking(number, more)
        queue = self.queue[skill]
        entry = next(one for one in queue if one[1] == number)
        if missing >= 0:
            queue.remove(entry)
            insort(self.waiting[missing], entry)
            return True
        last = self.shop.last_by[head]
        fit.sort(
            key=lambda one: (one != last, self.shop.hands(head, one), len(self.shop.skills[one]))
        )
        others = self.companions(number, skill, more)
        soonest, over = NEVER, -1
        for person in fit:
            together = [one for one in others if self.may(self.shop.blocks[one][0], person)]
            for group in ([number, *together], [number]) if together else ([number],):
                went, again = self.begin_group(group, person, now)
                if went:
                    gone = set(group)
                    self.queue[skill] = [one for one in queue if one[1] not in gone]
                    self.idle.discard(person)
                    return True
            if again >= 0:
                soonest = min(soonest, again)
            else:
                over = max(over, -1 - again)
                break
        if over >= 0:
            queue.remove(entry)
            self.later(number, now, over)
            return True
        self.tick(max(soonest, now + 1))
        return False

    def free_hands(self, now: int) -> None:
        """Keep among the idle only who is at work and has nothing to do."""
        for person in sorted(self.idle):
            hours = self.shop.hours[person]
            begins = hours.next_start(now)
            self.until[person] = next(
                (begun for begun, _ in self.floor.busy[person] if begun > now), NEVER
            )
            until = begins if begins > now else self.floor.clash(person, now, now + 1)
            if until > now:
                self.idle.discard(person)
                if until < NEVER:
                    heappush(self.events, (until, LOOK, person))

    def fill(self, now: int) -> None:
        """Give everything that can start now to somebody."""
        if self.alone:
            self.start_alone(now)
        self.free_hands(now)
        passed: dict[str, int] = {}
        counted: set[int] = set()
        skills: list[str] = []
        while self.idle:
            best: tuple[tuple[float, int], str] | None = None
            if self.idle != counted:
                counted = set(self.idle)
                skills = sorted({one for person in counted for one in self.shop.skills[person]})
            for skill in skills:
                at = passed.get(skill, 0)
                queue = self.queue[skill]
                if at < LOOKED_AT and at < len(queue) and (best is None or queue[at] < best[0]):
                    best = (queue[at], skill)
            if best is None:
                return
            entry, skill = best
            hands = [one for one in sorted(self.idle) if skill in self.shop.paces[one]]
            if not self.start_block(entry[1], skill, hands, now):
                passed[skill] = passed.get(skill, 0) + 1

    def look_up_keys(self, now: int) -> None:
        self.rekeyed = now
        for skill, queue in self.queue.items():
            self.queue[skill] = sorted(
                (self.key(self.shop.blocks[number][0], now), number) for _, number in queue
            )

    def free_thing(self, thing: int, now: int) -> None:
        """One of a thing is free: call the first that waits for it."""
        if thing < 0:
            thing = -1 - thing
        else:
            self.floor.held[thing] -= 1
        free = self.shop.thing_count[thing] - self.floor.held[thing]
        called, self.waiting[thing] = self.waiting[thing][:free], self.waiting[thing][free:]
        for _, number in called:
            self.queue_up(number, now)

    def run(self) -> Floor:
        """Play the lab until everything has a place or nothing moves any more."""
        self.set_out()
        events = self.events
        while events and self.left:
            now = events[0][0]
            while events and events[0][0] == now:
                _, kind, number = heappop(events)
                if kind == READY:
                    self.queue_up(number, now)
                elif kind == LOOK:
                    self.idle.add(number)
                elif kind == FREED:
                    self.free_thing(number, now)
            if self.moving and now - self.rekeyed > KEYS_STALE:
                self.look_up_keys(now)
            if now - self.floor.now > 60:
                self.floor.tidy(now)
            self.fill(now)
        return self.floor


def decode(shop: Shop, key: Key, *, patience: int = 0, moving: bool = False) -> Floor:
    """Return the lab with a place for every stage that can have one.

    Parameters
    ----------
    key
        The preference: smallest first.
    patience
        Minutes that a load waits for others.
    moving
        Whether keys change with time.
    """
    if isinstance(key, Formula) and engine.ready():
        # Not at the top: it imports Numba.
        from cases.domain.planning.compiled import decoding

        if decoding.fits(shop):
            return decoding.decode(shop, key, patience=patience, moving=moving)
    return _Decoder(shop, key, patience, moving).run()
