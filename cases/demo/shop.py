"""Set the invented laboratory up: people, skills, shifts, practices, flasks."""

from __future__ import annotations

import random
import uuid
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from cases.demo.people import (
    ADDRESS,
    LAB,
    MANAGER,
    PASSWORD,
    PIN,
    PLACES,
    PRESCRIBERS,
    RECEPTION,
    WORKERS,
    ZONE,
    Place,
    Prescriber,
    Worker,
)
from cases.domain.cure.program import EXAMPLES, as_json
from cases.selectors import driving
from cases.services import accounts, lab, people, practices, probes, resins, tablets
from cases.services.record import Envelope

HOURS = [[weekday, "08:00", "17:00"] for weekday in range(5)]
THINGS = {"flask": 24, "articulator": 34, "clamp": 14}
"""How many of each the lab has. Judgement: enough for sixty cases, and not for many more."""
RESIN = "Lindgrund heat-cured"
"""Invented, as are its ratios and the minutes of its dough."""
REFERENCE = "glass thermometer G2, at 74 °C"
STATIONS = {
    "bench": 3, "wax-bench": 3, "plaster-bench": 2, "flask-bench": 2, "finishing": 2,
    "wire-bench": 2, "any": 4, "desk": 2, "articulator": 2,
}  # fmt: skip


@dataclass(frozen=True)
class Tub:
    """A bath as the simulation knows it: how many flasks it takes, and how its probe errs."""

    pk: int
    capacity: int
    probe: str
    off_k: float


@dataclass
class Shop:
    """The laboratory as the simulation knows it: primary keys by the names above.

    ``rng`` is the only chance in the demo; ``closed`` the holidays; ``programs`` the keys of the
    two cycles and ``documents`` what they say, by their names in ``EXAMPLES``.
    """

    rng: random.Random
    zone: ZoneInfo
    opened: datetime
    closed: dict[date, str]
    away: dict[str, list[date]] = field(default_factory=dict)
    people: dict[str, int] = field(default_factory=dict)
    practices: dict[str, int] = field(default_factory=dict)
    dentists: dict[str, int] = field(default_factory=dict)
    members: dict[str, list[int]] = field(default_factory=dict)
    tablets: list[int] = field(default_factory=list)
    baths: dict[str, Tub] = field(default_factory=dict)
    programs: dict[str, int] = field(default_factory=dict)
    documents: dict[str, dict[str, Any]] = field(default_factory=dict)

    def submission(self) -> uuid.UUID:
        """Return the next submission id; the same in every run of the same demo."""
        return uuid.UUID(int=self.rng.getrandbits(128), version=4)

    def sends(self, who: str, now: datetime, door: str = "web") -> Envelope:
        """Return an envelope of somebody of the lab."""
        tablet = self.tablets[now.minute % len(self.tablets)] if door == "bench" else None
        return Envelope(door, now, self.people[who], tablet, submission_id=self.submission())

    def prints(self, who: str, now: datetime, paper: str) -> Envelope:
        """Return an envelope for keeping a paper; chance has no part in it."""
        own = uuid.uuid5(uuid.NAMESPACE_OID, f"{self.opened.isoformat()} {paper}")
        return Envelope("web", now, self.people[who], submission_id=own)

    def member(self, person: int, now: datetime) -> Envelope:
        """Return an envelope of somebody at a practice."""
        return Envelope("portal", now, person, submission_id=self.submission())

    def day(self, instant: datetime) -> date:
        """Return the day on the lab's wall."""
        return instant.astimezone(self.zone).date()

    def wall(self, day: date, text: str) -> datetime:
        """Return the instant at which the wall shows ``text`` on ``day``."""
        return datetime.combine(day, time.fromisoformat(text), tzinfo=self.zone)

    def works(self, day: date) -> bool:
        """Tell whether the lab is open on ``day``."""
        return day.weekday() < 5 and day not in self.closed


def holidays(now: datetime, zone: ZoneInfo, days_back: int) -> dict[date, str]:
    """Return the closed days around ``now``: two invented ones, and the end of each year."""
    today = now.astimezone(zone).date()
    found = {}
    for ahead, words in ((-12, "Guild day"), (16, "Stocktaking")):
        day = today + timedelta(days=ahead)
        while day.weekday() > 4:
            day -= timedelta(days=1)
        found[day] = words
    for year in range((today - timedelta(days=days_back)).year, today.year + 2):
        found[date(year, 12, 25)] = "Christmas"
        found[date(year, 12, 26)] = "Second day of Christmas"
        found[date(year, 1, 1)] = "New Year"
    found.pop(today, None)
    return dict(sorted(found.items()))


def open_shop(now: datetime, rng: random.Random, days_back: int) -> Shop:
    """Set the laboratory up ``days_back`` days before ``now``."""
    zone = ZoneInfo(ZONE)
    day = now.astimezone(zone).date() - timedelta(days=days_back)
    opened = datetime.combine(day, time(7, 0), tzinfo=zone)
    shop = Shop(rng, zone, opened, holidays(now, zone, days_back))
    boss = next(one for one in WORKERS if one.key == MANAGER)
    made = lab.set_up(
        Envelope("web", opened, submission_id=shop.submission()),
        name=LAB, zone=ZONE, address=ADDRESS, manager=boss.name,
        username=boss.username, password=PASSWORD,
    )  # fmt: skip
    shop.people[MANAGER] = int(made.result["manager"])
    _house(shop)
    for worker in WORKERS:
        _worker(shop, worker)
    for place in PLACES:
        _place(shop, place)
    for prescriber in PRESCRIBERS:
        _prescriber(shop, prescriber)
    _reception(shop)
    _absences(shop, now)
    return shop


def _house(shop: Shop) -> None:
    def send() -> Envelope:
        return shop.sends(MANAGER, shop.opened)

    lab.set_hours(send(), hours=HOURS)
    lab.add_closed_days(
        send(), days=[[day.isoformat(), words] for day, words in shop.closed.items()]
    )
    places = driving.stations()
    for key, count in STATIONS.items():
        pk, name = places[key]
        lab.save_station(send(), name=name, count=count, station=pk)
    _cure(shop)
    for kind, count in THINGS.items():
        lab.add_things(send(), kind=kind, labels=[str(n) for n in range(1, count + 1)])
    for name, key in (("Bench 1", "bench"), ("Plaster room", "plaster-bench")):
        outcome, _token = tablets.enrol(send(), name=name, station=places[key][0])
        shop.tablets.append(int(outcome.result["tablet"]))


def _cure(shop: Shop) -> None:
    """Two baths with a probe each, and a resin with the two programs that are taught."""

    def send() -> Envelope:
        return shop.sends(MANAGER, shop.opened)

    day = shop.day(shop.opened).isoformat()
    for name, capacity, probe, off in (("Bath 1", 6, "P1", 0.5), ("Bath 2", 4, "P2", -0.25)):
        bath = lab.save_bath(send(), name=name, capacity=capacity).result["bath"]
        probes.check_probe(
            send(), bath=bath, probe=probe, checked_on=day, reads_high_k=off,
            against=REFERENCE,
        )  # fmt: skip
        shop.baths[name] = Tub(int(bath), capacity, probe, off)
    resin = resins.save_resin(
        send(), name=RESIN, ratio_low=2.2, ratio_high=2.4, dough_from=7.0, dough_until=16.0,
        room_c=23.0,
    )  # fmt: skip
    for key, example in EXAMPLES.items():
        document = as_json(example)
        made = resins.save_program(send(), resin=resin.result["resin"], program=document)
        shop.programs[key], shop.documents[key] = int(made.result["program"]), document


def _worker(shop: Shop, worker: Worker) -> None:
    def send() -> Envelope:
        return shop.sends(MANAGER, shop.opened)

    if worker.key != MANAGER:
        made = people.add_person(
            send(), name=worker.name, roles=list(worker.roles), is_student=worker.student
        )
        shop.people[worker.key] = int(made.result["person"])
        if worker.username:
            _sign_in(shop, shop.people[worker.key], worker.username)
    if "technician" not in worker.roles:
        return
    person = shop.people[worker.key]
    people.set_skills(
        send(),
        person=person,
        skills=[
            {"skill": key, "speed": speed, "countersign": worker.signs}
            for key, speed in worker.skills
        ],
    )
    people.set_shifts(
        send(),
        person=person,
        shifts=[
            span
            for weekday in worker.days
            for span in ([weekday, "08:00", worker.lunch[0]], [weekday, worker.lunch[1], "16:30"])
        ],
    )
    people.set_pin(send(), person=person, pin=PIN)


def _sign_in(shop: Shop, person: int, username: str) -> None:
    _outcome, token = accounts.invite(
        shop.sends(MANAGER, shop.opened), person=person, email=f"{username}@demo.invalid"
    )
    accounts.accept_invitation(
        Envelope("web", shop.opened, submission_id=shop.submission()),
        token=token,
        username=username,
        password=PASSWORD,
    )


def _place(shop: Shop, place: Place) -> None:
    made = practices.add_practice(
        shop.sends(MANAGER, shop.opened),
        name=place.name, code=place.code, address=place.address, phone=place.phone,
        van_route=place.van_route, ship_weekdays=list(place.ship_weekdays),
        transit_days=place.transit_days, cut_off=place.cut_off,
        usual_borders=place.usual_borders, usual_polish=place.usual_polish,
    )  # fmt: skip
    shop.practices[place.code] = int(made.result["practice"])
    shop.members[place.code] = []


def _prescriber(shop: Shop, one: Prescriber) -> None:
    made = practices.add_dentist(
        shop.sends(MANAGER, shop.opened),
        name=one.name,
        licence=one.licence,
        practices=[shop.practices[code] for code in one.practices],
    )
    shop.dentists[one.key] = int(made.result["dentist"])
    if one.username:
        given = practices.give_dentist_sign_in(
            shop.sends(MANAGER, shop.opened), dentist=shop.dentists[one.key]
        )
        person = int(given.result["person"])
        _sign_in(shop, person, one.username)
        for code in one.practices:
            shop.members[code].append(person)


def _reception(shop: Shop) -> None:
    code, name, username = RECEPTION
    made = practices.add_reception(
        shop.sends(MANAGER, shop.opened), practice=shop.practices[code], name=name
    )
    _sign_in(shop, int(made.result["person"]), username)


def _absences(shop: Shop, now: datetime) -> None:
    """Somebody was away, somebody will be; today everybody is here."""
    today = shop.day(now)
    for key, first, days, words in (("tavi", -9, 2, "Course"), ("juno", 6, 3, "Away")):
        away = [today + timedelta(days=first + n) for n in range(days)]
        people.add_absence(
            shop.sends(MANAGER, shop.opened),
            person=shop.people[key],
            first_on=away[0].isoformat(),
            last_on=away[-1].isoformat(),
            words=words,
        )
        shop.away[key] = away
