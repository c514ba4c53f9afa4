"""What hangs on the wall: every bath with its load, and every wait that runs.

Fixed query counts; a load that stands at its bath is not told again as the waits of its cases.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import datetime, timedelta

from django.db.models import F, Prefetch, Q

from cases.models import Bath, CaseStage, Load, LoadFlask, Mix
from cases.selectors.bench import NOT_OPEN, Work, running_waits

MOST_LOADS = 24
ROOM, STAYS = 5, 2
"""How many waits and doughs a screen has room for that is read from five metres, and how many waits
stand there always, the ones that end first. Looked at in 1920 by 1080. Judgement."""

TURN = timedelta(seconds=30)
"""How long some of the other waits stand before the next do; as often the page asks anew."""

IN_THE_LOAD = ("cool", "deflask")
"""Stages whose waits are those of the load that the case lies in."""

ORDER = ("running", "gathering", "over")
FRESH = timedelta(hours=2)
"""Dough that was mixed longer ago and never closed was forgotten. Judgement."""


@dataclass
class BathOnTheWall:
    """A bath with its loads: in it, being gathered, and out of it but still cooling."""

    bath: Bath
    loads: list[Load] = field(default_factory=list)

    @property
    def running(self) -> bool:
        """Whether flasks are in the bath."""
        return any(load.state == "running" for load in self.loads)


@dataclass
class Wall:
    """Everything on the wall at one instant.

    ``waits`` are the ones that end first. Where not all find room, ``others`` are those whose turn
    it is, the ``place``-th and following of ``count``. ``doughs`` are mixed and not closed yet, the
    one that stiffens first on top.
    """

    baths: list[BathOnTheWall]
    waits: list[Work]
    others: list[Work] = field(default_factory=list)
    place: int = 0
    count: int = 0
    doughs: list[Mix] = field(default_factory=list)


def wall(now: datetime, *, banners: int = 0) -> Wall:
    """Return what hangs on the wall at ``now``, below so many ``banners`` that need room too."""
    loads = list(
        Load.objects.filter(
            Q(state__in=("gathering", "running")) | Q(state="over", open_from__gt=now)
        )
        .select_related("bath", "program")
        .prefetch_related(
            Prefetch("flasks", LoadFlask.objects.select_related("case").order_by("pk")),
            "extensions",
        )
        .order_by("number")[:MOST_LOADS]
    )
    baths = {bath.pk: BathOnTheWall(bath) for bath in Bath.objects.filter(active=True)}
    for load in sorted(loads, key=lambda one: ORDER.index(one.state)):
        # A bath that was put out of use is shown for as long as flasks are in it.
        baths.setdefault(load.bath_id, BathOnTheWall(load.bath)).loads.append(load)
    doughs = _doughs(now)
    found = Wall(list(baths.values()), [], doughs=doughs)
    _hang_waits(found, loads, now, max(STAYS + 1, ROOM - banners - len(doughs)))
    return found


def _doughs(now: datetime) -> list[Mix]:
    """Return the last mix of each packing in hand that is not closed and has an end."""
    mixed = (
        Mix.objects.filter(mixed_at__gt=now - FRESH, stage__state__in=("running", "paused"))
        .filter(case__state="open", attempt=F("stage__attempt"))
        .select_related("case__design")
        .order_by("pk")
    )
    last = {mix.stage_id: mix for mix in mixed}.values()
    open_ones = [(mix.closes_at, mix) for mix in last if not mix.closed_at and mix.closes_at]
    return [mix for _closes, mix in sorted(open_ones, key=lambda pair: pair[0])]


def flasks_of(load: Load) -> list[LoadFlask]:
    """Return the flasks that are in a load, or were until all left the bath together."""
    return [flask for flask in load.flasks.all() if _belongs(load, flask)]


def _belongs(load: Load, flask: LoadFlask) -> bool:
    if flask.left_at is None:
        return True
    return load.state == "over" and load.placed_at is not None and flask.left_at > load.placed_at


def _hang_waits(found: Wall, loads: Iterable[Load], now: datetime, room: int) -> None:
    """Hang as many waits as have room, each with the stage that it follows; the others in turns."""
    told = {
        flask.case_id for load in loads if load.state != "gathering" for flask in flasks_of(load)
    }
    stages = (
        CaseStage.objects.exclude(case__state__in=NOT_OPEN)
        .exclude(case__in=told, key__in=IN_THE_LOAD)
        .filter(state="planned", ready_at__gt=now)
        .order_by("ready_at", "pk")
    )
    keys = list(stages.values_list("pk", flat=True))
    stay = room if len(keys) <= room else STAYS
    place = stay + turn_of(len(keys) - stay, room - stay, now)
    shown = CaseStage.objects.select_related("case__design").in_bulk(
        [*keys[:stay], *keys[place : place + room - stay]]
    )
    after = running_waits(list(shown.values()), now)
    works = [Work(shown[key], after=after.get(key)) for key in keys if key in shown]
    found.waits, found.others = works[:stay], works[stay:]
    found.place, found.count = place + 1, len(keys)


def turn_of(many: int, room: int, now: datetime) -> int:
    """Return from which of ``many`` on those stand that have their turn, from 0.

    Turns follow each other by the clock alone, so that every screen shows the same.
    """
    if many <= 0 or room <= 0:
        return 0
    turns = -(-many // room)
    return int(now.timestamp() // TURN.total_seconds()) % turns * room
