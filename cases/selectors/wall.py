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

MOST_LOADS, MOST_WAITS = 24, 12
"""What a screen has room for that is read from five metres. Judgement."""

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
    """Everything on the wall at one instant; ``more`` counts the waits that found no room.

    ``doughs`` are mixed and not closed yet, the one that stiffens first on top.
    """

    baths: list[BathOnTheWall]
    waits: list[Work]
    more: int = 0
    doughs: list[Mix] = field(default_factory=list)


def wall(now: datetime) -> Wall:
    """Return what hangs on the wall at ``now``."""
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
    waits, more = _waits(loads, now)
    return Wall(list(baths.values()), waits, more, _doughs(now))


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


def _waits(loads: Iterable[Load], now: datetime) -> tuple[list[Work], int]:
    """Return the waits that end first, with the stage that each follows, and how many more run."""
    told = {
        flask.case_id for load in loads if load.state != "gathering" for flask in flasks_of(load)
    }
    stages = (
        CaseStage.objects.exclude(case__state__in=NOT_OPEN)
        .exclude(case__in=told, key__in=IN_THE_LOAD)
        .filter(state="planned", ready_at__gt=now)
        .select_related("case__design")
        .order_by("ready_at", "pk")
    )
    shown = list(stages[:MOST_WAITS])
    after = running_waits(shown, now)
    more = max(0, stages.count() - MOST_WAITS) if len(shown) == MOST_WAITS else 0
    return [Work(stage, after=after.get(stage.pk)) for stage in shown], more
