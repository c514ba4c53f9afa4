"""The attended minutes of stored work, shared and corrected as ``cases.domain.labour`` says."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from django.db.models import Exists, Max, Min, OuterRef, Q, QuerySet

from cases.domain.labour import Attended, Span, attended
from cases.models import Person, TimeCorrection, WorkSpan


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


def minutes_if_ended(span: WorkSpan, ended: datetime) -> float:
    """Return what a span would count if it had ended then, shared as everything is."""
    others = WorkSpan.objects.filter(
        Q(ended_at__isnull=True) | Q(ended_at__gte=span.began_at),
        person_id=span.person_id,
        began_at__lte=ended,
    ).exclude(pk=span.pk)
    spans = [
        Span(pk, span.person_id, began, over)
        for pk, began, over in others.values_list("pk", "began_at", "ended_at")
    ]
    mine = Span(span.pk, span.person_id, span.began_at, ended)
    return attended([*spans, mine], ended)[span.pk].minutes


def put_down_by_a_lock(person: Person) -> QuerySet[WorkSpan]:
    """Return what a locking tablet put down and ``person`` has not spoken of yet (one query).

    ``taken_up``: somebody has had it in hand since.
    """
    since = WorkSpan.objects.filter(run=OuterRef("run"), began_at__gte=OuterRef("ended_at"))
    return (
        WorkSpan.objects.filter(person=person, to_check=True, ended_how="lock")
        .select_related("run__stage__case__design")
        .annotate(taken_up=Exists(since.exclude(pk=OuterRef("pk"))))
        .order_by("ended_at", "pk")
    )
