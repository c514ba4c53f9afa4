"""The limits of the cure that the lab changed, and when and why it did."""

from __future__ import annotations

from cases.domain.cure.settings import Changed, usable
from cases.models import CureLimitsChange, Lab

CHANGES_SHOWN = 20


def cure_limits() -> Changed:
    """Return the limits that the lab changed, by key (one query); empty before it is set up."""
    return usable(Lab.objects.values_list("cure_limits", flat=True).first() or {})


def limit_changes() -> list[CureLimitsChange]:
    """Return the last changes of the limits, newest first (one query)."""
    return list(CureLimitsChange.objects.select_related("by")[:CHANGES_SHOWN])
