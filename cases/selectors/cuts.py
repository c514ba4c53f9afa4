"""Power cuts: which loads were in a bath then, what was decided before, what became of it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from django.db.models import Exists, F, OuterRef, Q, QuerySet

from cases.models import CutLoad, Load, LoadFlask, PowerCut
from cases.selectors.loads import loads

MOST_SHOWN = 10


@dataclass(frozen=True)
class Span:
    """A time without power as far as anybody knows it; one of the two instants is always there."""

    off_at: datetime | None
    on_at: datetime | None
    now: datetime

    @property
    def since(self) -> datetime:
        """The first instant that is known to have been without power."""
        return self.off_at or self.on_at or self.now

    @property
    def until(self) -> datetime:
        """When the power was back at the latest."""
        return self.on_at or self.now


def loads_then(span: Span) -> list[Load]:
    """Return the loads that were in a bath during a cut, by number."""
    left_later = LoadFlask.objects.filter(
        load=OuterRef("pk"), left_at__gt=span.since, left_at__gte=F("load__placed_at")
    )
    found = loads().filter(placed_at__lt=span.until)
    found = found.filter(Q(state="running") | Q(Exists(left_later), state="over"))
    return list(found.order_by("number"))


def decided_before(load: Load, span: Span) -> CutLoad | None:
    """Return what was decided about a load for the same time without power, if anything."""
    for one in load.cuts.select_related("cut__by"):
        cut = one.cut
        other = Span(cut.off_at, cut.on_at, cut.at)
        if other.since <= span.until and span.since <= other.until:
            return one
    return None


def cuts() -> QuerySet[PowerCut]:
    """Return the power cuts that were decided upon, newest first, with all that they concern."""
    return PowerCut.objects.select_related("by").prefetch_related(
        "loads__load__bath",
        "loads__load__program__resin",
        "loads__load__flasks__case__design",
    )
