"""The attended minutes of stored work, shared and corrected as ``cases.domain.labour`` says."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from django.db.models import Max, Min, Q

from cases.domain.labour import Attended, Span, attended
from cases.models import TimeCorrection, WorkSpan


def attended_minutes(spans: Iterable[WorkSpan], now: datetime) -> dict[int, Attended]:
    """Return what each of ``spans`` counts, by primary key (three queries at most).

    Every other span of the same persons that touches the same time is taken into account,
    whichever case it belongs to.
    """
    wanted = {span.pk: span for span in spans}
    if not wanted:
        return {}
    bounds = WorkSpan.objects.filter(pk__in=wanted).aggregate(
        first=Min("began_at"), last=Max("ended_at")
    )
    some_open = any(span.ended_at is None for span in wanted.values())
    last = now if some_open else bounds["last"]
    near = WorkSpan.objects.filter(
        Q(ended_at__isnull=True) | Q(ended_at__gte=bounds["first"]),
        person_id__in={span.person_id for span in wanted.values()},
        began_at__lte=last,
    )
    corrected = dict(
        TimeCorrection.objects.filter(span__in=wanted)
        .order_by("pk")
        .values_list("span_id", "minutes")
    )
    found = attended(
        (
            Span(pk, person, began, ended, corrected.get(pk))
            for pk, person, began, ended in near.values_list(
                "pk", "person_id", "began_at", "ended_at"
            )
        ),
        now,
    )
    return {pk: found[pk] for pk in wanted}
