"""What the demo wants of each case: what it is, when it comes, and where it stands at the end.

A case that is to be open at ``now`` has a ``target``: the stage that it stands at. ``gates`` are
instants before which a stage is not begun, so that short-lived states (a warm mould, plaster
that sets) are still true when somebody looks.
"""

from __future__ import annotations

import random
from dataclasses import dataclass, field, replace
from datetime import date, datetime, timedelta

from cases.demo.people import PLACES, PRESCRIBERS, Place
from cases.demo.shop import Shop

CURE_FROM = "15:20"
"""From when on what was packed goes into the bath for the night. Judgement."""

OPEN_DAY_MIN = 9 * 60.0
"""Open minutes of a working day of the demo lab."""

LEAD_HOURS: dict[str, float] = {
    "receive": 0.4, "disinfect": 0.8, "look": 1.5, "pick-up": 2, "print-model": 2, "pour": 1.5,
    "stone-copy": 9, "trim": 4, "rim": 8, "cast-prep": 8, "survey": 9, "agree": 12,
    "block-out": 14, "copy-mould": 20, "copy-cast": 23, "mount": 26, "clasps": 28, "bar": 28,
    "join": 36, "teeth": 38, "index": 30, "try-in": 46, "wax": 48, "wax-pass": 56, "key": 12,
    "self-cure": 16, "flask-lower": 56, "flask-upper": 58, "boil-out": 62, "separate": 62,
    "pack": 62, "clamp": 62, "cure": 62, "cool": 66, "deflask": 70, "bite": 76, "take-off": 80,
    "fit": 82, "finish": 84, "polish": 88, "inspect": 92, "soak": 94, "pack-out": 112,
    "send": 114,
}  # fmt: skip
"""Open hours from the door to a stage in a busy week. Judgement, for the demo only."""

BUSY = 0.42
"""How much of these hours the lab needs with the orders of the demo. Judgement."""

EXTRA: tuple[str, ...] = (
    "wax+pair", "cool+bath", "receive+clock", "trim+set", "survey+unsigned", "finish+late",
    "pack-out+wet", "teeth+order", "clasps+silent", "pack+sign", "inspect+today", "polish+late",
    "mount+follows", "pack-out+today", "soak+pair", "pour", "flask-upper", "send+today",
    "block-out", "cool",
)  # fmt: skip
"""What further open cases stand at, with what is particular about them; taken in this order."""

NO_NIGHT = {
    "disinfect": "receive", "pour": "receive", "pick-up": "receive", "separate": "boil-out",
    "pack": "boil-out", "clamp": "boil-out", "cure": "cool", "self-cure": "key",
}  # fmt: skip
"""Where a case stands instead when the lab is closed: these do not rest overnight."""

CHAIN_MIN = {"separate": 50, "pack": 100, "clamp": 130, "cure": 190}
"""Open minutes of today that the way from boiling out to each of these takes."""

LOWER = (
    (36, 37, 46, 47), (45, 46, 47), (35, 36), (46,), (36, 37), (31, 41), (34, 35, 36, 45, 46),
    (36, 46), (42, 41, 31, 32), (35, 36, 37),
)  # fmt: skip
UPPER = (
    (14, 15, 16), (11,), (11, 12), (24, 25, 26), (16, 17, 26, 27), (15,), (21, 22),
    (14, 15, 24, 25), (12, 11, 21, 22), (25, 26, 27),
)  # fmt: skip


@dataclass
class Wish:
    """One order to come, and what is to become of it."""

    arrives: datetime
    place: Place
    kind: str = "new"
    arch: str = "lower"
    target: str = ""
    twin_target: str = ""
    teeth: tuple[int, ...] = ()
    extracted: tuple[int, ...] = ()
    form: str = "impression"
    material: str = "addition-silicone"
    proven: bool = True
    bite: str = "by-hand"
    try_in: bool = False
    polish: str = "all-outer"
    borders: str = "left-full"
    method: str = "plaster"
    bar: bool = False
    joints: int = 0
    rests: bool = False
    agree: bool = False
    rush: bool = False
    ship_on: date | None = None
    appointment: date | None = None
    gates: dict[str, datetime] = field(default_factory=dict)
    flags: frozenset[str] = frozenset()
    dentist: str = ""
    number: int = 0


def spread(keys: tuple[str, ...], count: int) -> list[str]:
    """Return ``count`` of the stage keys, evenly over the route, then the extras."""
    if count >= len(keys):
        return [*keys, *EXTRA[: count - len(keys)]]
    return [keys[round(n * (len(keys) - 1) / max(count - 1, 1))] for n in range(count)]


def back(shop: Shop, until: datetime, minutes: float) -> datetime:
    """Return the instant that lies so many open minutes before ``until``."""
    day = shop.day(until)
    left = minutes
    while True:
        if shop.works(day):
            opens, closes = shop.wall(day, "08:00"), shop.wall(day, "17:00")
            end = min(until, closes)
            span = (end - opens).total_seconds() / 60
            if span >= left:
                return end - timedelta(minutes=left)
            left -= max(span, 0.0)
        day -= timedelta(days=1)


def anchor(shop: Shop, now: datetime) -> datetime:
    """Return the last instant before ``now`` at which people were at work."""
    day = shop.day(now)
    if shop.works(day) and shop.wall(day, "08:40") <= now <= shop.wall(day, "16:25"):
        return now
    if not shop.works(day) or now < shop.wall(day, "08:40"):
        day -= timedelta(days=1)
        while not shop.works(day):
            day -= timedelta(days=1)
    return min(now, shop.wall(day, "16:20"))


def _round(shop: Shop, at: datetime) -> datetime:
    """Return the van's round at or before ``at``, a few minutes after it came in."""
    day = shop.day(at)
    for text in ("13:40", "09:20"):
        came = shop.wall(day, text)
        if came <= at:
            return came + timedelta(minutes=shop.rng.randint(0, 18))
    day -= timedelta(days=1)
    while not shop.works(day):
        day -= timedelta(days=1)
    return shop.wall(day, "13:40") + timedelta(minutes=shop.rng.randint(0, 25))


def ship_day(shop: Shop, place: Place, day: date, *, earlier: bool = False) -> date:
    """Return the first ship day of a practice from ``day`` on (or the last up to it)."""
    step = timedelta(days=-1 if earlier else 1)
    while day.weekday() not in place.ship_weekdays or not shop.works(day):
        day += step
    return day


def _dentist(rng: random.Random, place: Place) -> str:
    return rng.choice([one.key for one in PRESCRIBERS if place.code in one.practices])


def _common(shop: Shop, at: datetime, arch: str) -> Wish:
    """Return an ordinary order with the variety of a week."""
    rng = shop.rng
    place = rng.choice(PLACES)
    wish = Wish(at, place, arch=arch, dentist=_dentist(rng, place))
    wish.teeth = rng.choice(UPPER if arch == "upper" else LOWER)
    wish.material = "long-alginate" if rng.random() < 0.35 else "addition-silicone"
    wish.form = "cast" if rng.random() < 0.12 else "impression"
    wish.proven = rng.random() < 0.7
    wish.bite = "record" if rng.random() < 0.3 else "by-hand"
    wish.polish = rng.choice(("all-outer", "all-outer", "all-outer", "outer-borders-left", "none"))
    wish.borders = place.usual_borders or rng.choice(("left-full", "reduced-2mm", "as-drawn"))
    wish.method = rng.choice(
        ("none", "plaster", "plaster", "plaster", "wax-then-copy", "copy-then-plaster")
    )
    wish.bar = arch == "lower" and len(wish.teeth) > 3
    wish.rests = rng.random() < 0.25
    wish.rush = rng.random() < 0.06
    return wish


def _shaped(wish: Wish, key: str) -> Wish:
    """Return the wish with what makes its route pass through stage ``key``."""
    shape: dict[str, dict[str, object]] = {
        "disinfect": {"proven": False},
        "pour": {"form": "impression", "proven": True},
        "look": {"kind": "adjustment"},
        "pick-up": {"kind": "repair", "form": "impression"},
        "key": {"kind": "addition", "form": "impression"},
        "self-cure": {"kind": "repair", "form": "impression"},
        "print-model": {"form": "scan"},
        "stone-copy": {"form": "scan"},
        "rim": {"bite": "rim"},
        "cast-prep": {"extracted": wish.teeth[:1]},
        "agree": {"agree": True},
        "copy-mould": {"method": "wax-then-copy"},
        "copy-cast": {"method": "copy-then-plaster"},
        "fit": {"method": "wax-then-copy"},
        "block-out": {"method": "plaster"},
        "bar": {"bar": True},
        "join": {"joints": 1, "rests": True},
        "index": {"kind": "remake"},
        "try-in": {"try_in": True},
        "polish": {"polish": "all-outer"},
    }
    shaped = replace(wish, **shape.get(key, {}))  # type: ignore[arg-type]
    if shaped.kind == "addition":
        shaped.teeth = shaped.teeth[:1]
    if shaped.kind in ("adjustment", "repair"):
        shaped.teeth = ()
    return shaped


def _gates(shop: Shop, at: datetime, target: str, flags: frozenset[str]) -> dict[str, datetime]:
    """Return when the last steps before the target may be done, so that it is fresh."""

    def ago(minutes: float) -> datetime:
        return at - timedelta(minutes=minutes)

    opening = shop.wall(shop.day(at), "08:00")
    if "set" in flags:
        return {"pour": ago(50)}
    if "bath" in flags:
        return {"cure": opening}
    if "wet" in flags:
        return {"inspect": opening}
    found = {
        "trim": {"pour": ago(105)},
        "separate": {"boil-out": ago(34)},
        "pack": {"boil-out": ago(85)},
        "clamp": {"pack": ago(40), "boil-out": ago(115)},
        "cure": {"pack": ago(130), "boil-out": ago(175)},
        "boil-out": {"flask-upper": opening},
        "flask-upper": {"flask-lower": opening},
        "deflask": _night_before(shop, at),
        "cool": {"cure": opening},
    }
    return found.get(target, {})


def _night_before(shop: Shop, at: datetime) -> dict[str, datetime]:
    """Return the gates of a case that is cured in the last night, and opened after it."""
    day = shop.day(at) - timedelta(days=1)
    while not shop.works(day):
        day -= timedelta(days=1)
    return {"boil-out": shop.wall(day, "10:30"), "cure": shop.wall(day, CURE_FROM)}


def _possible(shop: Shop, now: datetime, at: datetime, target: str) -> str:
    """Return the target, or the stage before it where a piece may rest instead."""
    if at != now:
        return NO_NIGHT.get(target, target)
    since = (at - shop.wall(shop.day(at), "08:00")).total_seconds() / 60
    return "boil-out" if since < CHAIN_MIN.get(target, 0) else target


def _arrival(shop: Shop, at: datetime, wish: Wish) -> datetime:
    """Return when the order must come to be at its target in time."""
    target = wish.target
    if "clock" in wish.flags:
        return at - timedelta(minutes=7)
    hours = LEAD_HOURS[target]
    if hours < 3:
        return back(shop, at, hours * 60)
    if target not in ("rim", "look") and (wish.bite == "rim" or wish.try_in):
        hours += 18
    hours *= BUSY if hours > 8 else 1.0
    slack = shop.rng.uniform(2, 8) if hours > 8 else 0.5
    return _round(shop, back(shop, at, (hours + slack) * 60))


def open_wishes(shop: Shop, now: datetime, keys: tuple[str, ...], count: int) -> list[Wish]:
    """Return the orders of the ``count`` cases that are open at ``now``."""
    at = anchor(shop, now)
    wishes: list[Wish] = []
    left = count
    for n, entry in enumerate(spread(keys, count)):
        if left == 0:
            break
        key, _, mark = entry.partition("+")
        wish = _shaped(_common(shop, at, "upper" if n % 3 == 1 else "lower"), key)
        if key == "cast-prep":
            mark = "no-order"
        wish.flags = frozenset({mark} - {""})
        if mark == "pair" and left > 1:
            wish.arch, wish.form, wish.extracted = "both", "impression", ()
            wish.teeth = (*shop.rng.choice(UPPER), *shop.rng.choice(LOWER))
            wish.twin_target = key
            left -= 1
        left -= 1
        if mark == "clock":
            wish.place = next(one for one in PLACES if one.code == "LS")
            wish.dentist = _dentist(shop.rng, wish.place)
            wish.material, wish.proven, wish.form = "alginate", True, "impression"
        wish.target = _possible(shop, now, at, key)
        wish.gates = _gates(shop, at, wish.target, wish.flags)
        wish.arrives = _arrival(shop, at, wish)
        wish.ship_on = _open_ship_day(shop, now, wish)
        wishes.append(wish)
    return wishes


def _open_ship_day(shop: Shop, now: datetime, wish: Wish) -> date:
    today, came = shop.day(now), shop.day(wish.arrives)
    if "today" in wish.flags and shop.works(today):
        wish.place = next(one for one in PLACES if today.weekday() in one.ship_weekdays)
        wish.dentist = _dentist(shop.rng, wish.place)
        return today
    if "late" in wish.flags:
        return max(ship_day(shop, wish.place, today - timedelta(days=1), earlier=True), came)
    left = max(0.0, LEAD_HOURS["send"] - LEAD_HOURS[wish.target or "send"]) / 9
    if wish.kind in ("adjustment", "repair", "addition"):
        left = 2
    ahead = timedelta(days=1 + round(left * 0.7) + shop.rng.randint(0, 2))
    return ship_day(shop, wish.place, today + ahead)


SMALL = {0: "look", 2: "look", 6: "self-cure", 7: "self-cure", 11: "key"}
"""Which of twelve finished orders are adjustments, repairs and added teeth, by what they need."""


def lately(shop: Shop, now: datetime, count: int) -> list[Wish]:
    """Return small orders of the last days, which have left by ``now``."""
    wishes = []
    for n in range(count):
        at = _round(shop, back(shop, now, (4.2 + 0.5 * n) * OPEN_DAY_MIN))
        wish = _shaped(_common(shop, at, "lower"), "look" if n % 2 else "self-cure")
        wish.place = next(one for one in PLACES if one.code == ("QF", "LS", "OH", "BM")[n % 4])
        wish.dentist = _dentist(shop.rng, wish.place)
        wish.ship_on = ship_day(shop, wish.place, shop.day(at) + timedelta(days=2))
        wishes.append(wish)
    return wishes


def finished_wishes(shop: Shop, first: datetime, last: datetime, count: int) -> list[Wish]:
    """Return the orders of ``count`` cases that leave, coming evenly from first to last."""
    wishes: list[Wish] = []
    span = (last - first) / max(count, 1)
    n = 0
    while n < count:
        at = first + span * n
        if not shop.works(shop.day(at)):
            at = back(shop, at, 60)
        wish = _common(shop, _round(shop, at), "upper" if n % 5 in (1, 3) else "lower")
        kind = n % 12
        if kind in SMALL and n > 3:
            wish = _shaped(wish, SMALL[kind])
        elif kind in (4, 8):
            wish = _shaped(wish, {4: "try-in", 8: "join"}[kind])
        elif kind == 9 and n + 1 < count:
            wish.arch, wish.form = "both", "impression"
            wish.teeth = (*shop.rng.choice(UPPER), *shop.rng.choice(LOWER))
            n += 1
        elif kind == 5:
            wish = _shaped(wish, "cast-prep" if n % 24 == 5 else "agree")
        days = 3 if wish.kind in ("adjustment", "repair", "addition") else 9
        wish.ship_on = ship_day(shop, wish.place, shop.day(wish.arrives) + timedelta(days=days))
        wishes.append(wish)
        n += 1
    return wishes
