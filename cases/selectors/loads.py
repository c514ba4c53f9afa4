"""Loads of the baths: what stands, which baths may be chosen, who shared a bath with whom."""

from __future__ import annotations

from datetime import datetime

from django.db.models import F, Prefetch, Q, QuerySet

from cases.models import Bath, Load, LoadFlask
from cases.selectors.hours import lab_calendar


def _flasks() -> QuerySet[LoadFlask]:
    """Return the flasks that are in their loads or went into the bath with them.

    One that was taken out before the start shared nothing.
    """
    put_in = Q(left_at=None) | Q(left_at__gt=F("load__placed_at"))
    return LoadFlask.objects.filter(put_in).select_related("case")


def loads() -> QuerySet[Load]:
    """Return every load, newest first, with its bath, program and flasks."""
    return (
        Load.objects.select_related("bath", "program__resin")
        .prefetch_related(Prefetch("flasks", _flasks()))
        .order_by("-number")
    )


def one_load(number: int) -> Load | None:
    """Return a load by its number."""
    return loads().filter(number=number).first()


def baths_in_use() -> list[Bath]:
    """Return the baths that are in use."""
    return list(Bath.objects.filter(active=True))


def attended(moments: list[datetime]) -> list[bool]:
    """Tell of each instant whether the lab is open then (three queries for all)."""
    calendar = lab_calendar()
    return [calendar.is_open(at) for at in moments]


def loads_of(case_id: int) -> QuerySet[LoadFlask]:
    """Return the loads that a case was in, newest first, each with all that shared its bath."""
    return (
        _flasks()
        .filter(case_id=case_id, load__placed_at__isnull=False)
        .select_related("load__bath", "load__program")
        .prefetch_related(Prefetch("load__flasks", _flasks()))
        .order_by("-pk")
    )
