"""What the feeds of the baths told: the last temperature, the readings of a load."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta

from cases.models import Bath, BathFeed, BathSample, Load, LoadTrace

SHOWN_FOR = timedelta(hours=12)
"""After so long a last temperature says nothing of today. Judgement."""
OLD_AFTER = timedelta(minutes=10)
"""A temperature so old is told as old: no logger reads its bath more seldom. Judgement."""


@dataclass(frozen=True)
class LastHeat:
    """The last temperature that a feed told, or that none came.

    ``old``: not to be relied on. ``fault``: what the clock sees to be wrong with it (``BathFeed``).
    """

    at: datetime | None
    celsius: float | None
    old: bool
    trouble: str = ""
    fault: str = ""


def last_heat(feed: BathFeed, now: datetime) -> LastHeat:
    """Return what a feed told last."""
    if feed.last_at is None or now - feed.last_at > SHOWN_FOR:
        return LastHeat(None, None, old=True, trouble=feed.trouble, fault=feed.fault)
    old = now - feed.last_at > OLD_AFTER
    return LastHeat(feed.last_at, feed.last_celsius, old, feed.trouble, feed.fault)


def last_heats(baths: Iterable[int], now: datetime) -> dict[int, LastHeat]:
    """Return what was told last of each bath that has a feed (one query)."""
    feeds = BathFeed.objects.filter(bath__in=list(baths), ended_at__isnull=True)
    return {feed.bath_id: last_heat(feed, now) for feed in feeds}


def feeds_of(bath: Bath) -> tuple[BathFeed | None, list[BathFeed]]:
    """Return the feed of a bath that is in use, and those that were ended, newest first."""
    rows = list(bath.feeds.select_related("made_by", "ended_by")[:20])
    running = next((row for row in rows if row.ended_at is None), None)
    return running, [row for row in rows if row.ended_at is not None]


def readings(bath_id: int, since: datetime, until: datetime) -> list[tuple[datetime, float]]:
    """Return the temperatures of a bath between two instants, in order."""
    rows = BathSample.objects.filter(bath=bath_id, at__gte=since, at__lte=until).order_by("at")
    return list(rows.values_list("at", "celsius"))


def watched_loads() -> list[tuple[Load, BathFeed]]:
    """Return the loads that are in a bath with a feed, each with that feed."""
    feeds = {
        feed.bath_id: feed
        for feed in BathFeed.objects.filter(ended_at__isnull=True, bath__loads__state="running")
    }
    rows = Load.objects.filter(state="running", bath__in=feeds).select_related(
        "bath", "program__resin"
    )
    return [(load, feeds[load.bath_id]) for load in rows]


def trace_of(load: Load) -> LoadTrace | None:
    """Return the trace that is offered for a load."""
    return LoadTrace.objects.filter(load=load).first()
