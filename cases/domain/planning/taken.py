"""All that is taken while a plan is played again, with a way back to the last good moment."""

from __future__ import annotations

from collections.abc import Callable

from cases.domain.planning.floor import Floor
from cases.domain.planning.shop import NEVER, Shop
from cases.domain.planning.timeline import Hands, Places, Store


class Taken:
    """Hands, stations and things of a shop, and the places that stages got.

    Every taking is noted; ``undo`` gives back all since ``keep``.
    """

    def __init__(self, shop: Shop) -> None:
        self.shop = shop
        self.floor = Floor(shop, 0)
        self.hands = [Hands(hours) for hours in shop.hours]
        self.places = [Places(count) for count in shop.station_count]
        counts = zip(shop.thing_count, shop.held_now, strict=True)
        self.stores = [Store(count - held) for count, held in counts]
        self.journal: list[tuple[Callable[..., None], tuple[int, ...]]] = []
        self.placed: list[int] = []

    def take_hands(self, person: int, start: int, end: int) -> None:
        """Take a person in [start, end)."""
        self.hands[person].take(start, end)
        self.journal.append((self.hands[person].give_back, (start, end)))

    def leave_hands(self, person: int, start: int, end: int) -> None:
        """Give a person back for [start, end)."""
        self.hands[person].give_back(start, end)
        self.journal.append((self.hands[person].take, (start, end)))

    def take_place(self, station: int, start: int, end: int) -> None:
        """Take a place of a station in [start, end); -1 is no station."""
        if station >= 0:
            self.places[station].take(start, end)
            self.journal.append((self.places[station].take, (start, end, -1)))

    def put(self, at: int, start: int, end: int, person: int = -1) -> None:
        """Give a stage its place, and it the things that it takes."""
        floor = self.floor
        floor.start[at], floor.end[at], floor.free[at], floor.person[at] = start, end, end, person
        self.placed.append(at)
        for thing in self.shop.takes[at]:
            since = self.stores[thing].take(start)
            self.journal.append((self.stores[thing].give_back, (since,)))

    def keep(self) -> list[int]:
        """Let all that was taken count; return the stages that got a place."""
        done = list(self.placed)
        self.journal.clear()
        self.placed.clear()
        return done

    def undo(self) -> None:
        """Give back all since ``keep``."""
        floor = self.floor
        for back, of in reversed(self.journal):
            back(*of)
        for at in self.placed:
            floor.start[at] = floor.end[at] = floor.free[at] = floor.person[at] = -1
            floor.together[at] = ""
            floor.signed.pop(at, None)
        self.keep()

    def room(
        self, person: int, earliest: int, minutes: int, pausable: bool, station: int
    ) -> tuple[int, int]:
        """Return the first start and end for a person and a place, (NEVER, NEVER) if none."""
        hands = self.hands[person]
        start, end = hands.room(earliest, minutes, pausable)
        if station >= 0:
            full = self.places[station].full
            while start < NEVER and (again := full(start, end)) >= 0:
                start, end = hands.room(again, minutes, pausable)
        return start, end
