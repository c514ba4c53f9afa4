"""Loads of the baths: what stands, what may be chosen, who shared a bath with whom."""

from __future__ import annotations

from datetime import datetime

from django.db.models import Max, Prefetch, QuerySet

from cases.models import Bath, CureProgram, Load, LoadFlask
from cases.selectors.hours import lab_calendar


def loads() -> QuerySet[Load]:
    """Return every load, newest first, with its bath, program and flasks."""
    flasks = LoadFlask.objects.select_related("case")
    return (
        Load.objects.select_related("bath", "program__resin")
        .prefetch_related(Prefetch("flasks", flasks))
        .order_by("-number")
    )


def one_load(number: int) -> Load | None:
    """Return a load by its number."""
    return (
        loads()
        .select_related("made_by", "placed_by")
        .filter(number=number)
        .first()
    )  # fmt: skip


def programs_in_use() -> list[CureProgram]:
    """Return the newest version of each program that is in use, by resin and name."""
    newest = (
        CureProgram.objects.filter(resin__active=True)
        .values("resin_id", "name")
        .annotate(top=Max("version"))
        .values_list("resin_id", "name", "top")
    )
    keys = {(resin, name, top) for resin, name, top in newest.order_by()}
    rows = CureProgram.objects.filter(retired_at=None, resin__active=True).select_related("resin")
    return [row for row in rows.order_by("resin__name", "name")
            if (row.resin_id, row.name, row.version) in keys]  # fmt: skip


def baths_in_use() -> list[Bath]:
    """Return the baths that are in use."""
    return list(Bath.objects.filter(active=True))


def attended(moments: list[datetime]) -> list[bool]:
    """Tell of each instant whether the lab is open then (three queries for all)."""
    calendar = lab_calendar()
    return [calendar.is_open(at) for at in moments]


def loads_of(case_id: int) -> QuerySet[LoadFlask]:
    """Return the loads that a case was in, newest first, each with all that shared its bath."""
    others = LoadFlask.objects.select_related("case")
    return (
        LoadFlask.objects.filter(case_id=case_id, load__placed_at__isnull=False)
        .select_related("load__bath", "load__program")
        .prefetch_related(Prefetch("load__flasks", others))
        .order_by("-pk")
    )
