"""What the records of baths said: of a load, and of the load in which a flask had its cure."""

from __future__ import annotations

from collections.abc import Iterable

from django.db.models import F, Prefetch, QuerySet

from cases.models import BathRecord, Load, LoadFlask
from cases.selectors.loads import records

SHUT = ("cool", "deflask")
"""Stages at which a flask is out of its bath and what it holds can still be cured again."""


def records_of(load: Load) -> QuerySet[BathRecord]:
    """Return the records of a load, newest first (one query)."""
    return records().filter(load=load)


def cured_in_loads(cases: Iterable[int]) -> dict[int, Load]:
    """Return by case the load in which it had its present cure, with its records (two queries).

    A case whose cure was sent back to be done again is not among them until it is in a bath.
    """
    rows = (
        LoadFlask.objects.filter(
            case__in=list(cases), attempt=F("stage__attempt"), load__placed_at__isnull=False
        )
        .exclude(left_at__lte=F("load__placed_at"))
        .select_related("load__bath", "load__program__resin")
        .prefetch_related(Prefetch("load__records", records()))
        .order_by("pk")
    )
    return {row.case_id: row.load for row in rows}
