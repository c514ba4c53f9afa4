"""Closing time: what rests where it must not rest overnight, and what is still in hand.

Fixed query counts, whatever the number of cases.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime

from django.db.models import Exists, OuterRef, Q

from cases.domain.calendar import NeverOpen
from cases.models import Case, CaseEdge, CaseStage
from cases.selectors.hours import lab_calendar

IN_HAND = ("running", "paused")
TO_COME = ("planned", "running", "paused")


@dataclass(frozen=True)
class Night:
    """From the end of work to the next opening. ``closes_at`` is None after closing time or on
    a closed day, ``opens_at`` None when the lab has no hours."""

    closes_at: datetime | None
    opens_at: datetime | None


@dataclass(frozen=True)
class Rest:
    """Why one case may not be left as it is.

    ``why``: ``no`` (may not rest after ``stage``), ``limit`` (only until ``until``, or only
    under a condition), ``in-hand`` (``stage`` is begun and may not be left so), ``latest``
    (``stage`` must begin before ``until``, which is before the next opening).
    """

    why: str
    stage: CaseStage
    until: datetime | None = None


@dataclass
class Resting:
    """A case with everything that speaks against leaving it."""

    case: Case
    rests: list[Rest] = field(default_factory=list)


def night(now: datetime) -> Night:
    """Return when work ends today and when it begins again."""
    calendar = lab_calendar()
    spans = calendar.open_intervals(calendar.local_day(now))
    closes = spans[-1][1] if spans and spans[-1][1] > now else None
    try:
        return Night(closes, calendar.next_open(closes or now))
    except NeverOpen:
        return Night(closes, None)


def may_not_rest(night: Night) -> list[Resting]:
    """Return the open cases that may not stay as they are until the lab opens again."""
    found: dict[int, Resting] = {}
    for rest in [*_after_done(night), *_in_hand(), *_too_late(night)]:
        case = rest.stage.case
        one = found.setdefault(case.pk, Resting(case))
        if rest.why != "latest" or not one.rests:
            one.rests.append(rest)
    return sorted(found.values(), key=lambda one: (one.case.leaves_at is None, one.case.pk))


def _after_done(night: Night) -> list[Rest]:
    """Find cases whose last work may not rest, or only until the next stage's latest start."""
    next_open = CaseStage.objects.filter(
        case=OuterRef("case"), key=OuterRef("after"), state__in=TO_COME
    )
    goes_on = CaseEdge.objects.filter(
        Exists(next_open), case=OuterRef("case"), before=OuterRef("key")
    )
    rows = CaseStage.objects.filter(
        Exists(goes_on), case__state="open", state="done", spec__night__in=["no", "limit"]
    )
    stages = list(rows.select_related("case__design", "case__practice").order_by("position", "pk"))
    limited = [stage.case_id for stage in stages if stage.spec["night"] == "limit"]
    latest = _latest(limited)
    found = []
    for stage in stages:
        if stage.spec["night"] == "no":
            found.append(Rest("no", stage))
            continue
        until = latest.get((stage.case_id, stage.key))
        if until is None or night.opens_at is None or until < night.opens_at:
            found.append(Rest("limit", stage, until))
    return found


def _latest(cases: list[int]) -> dict[tuple[int, str], datetime]:
    """Return the latest start of what follows, by case and key of the stage before."""
    starts = {
        (stage.case_id, stage.key): stage.latest_at
        for stage in CaseStage.objects.filter(
            case__in=cases, state__in=TO_COME, latest_at__isnull=False
        ).defer("spec")
    }
    found: dict[tuple[int, str], datetime] = {}
    for case, before, after in CaseEdge.objects.filter(case__in=cases).values_list(
        "case", "before", "after"
    ):
        until = starts.get((case, after))
        if until is not None:
            found[(case, before)] = min(until, found.get((case, before), until))
    return found


def _in_hand() -> list[Rest]:
    rows = CaseStage.objects.filter(
        case__state="open", state__in=IN_HAND, spec__night__in=["no", "limit"]
    ).select_related("case__design", "case__practice", "worker")
    return [Rest("in-hand", stage) for stage in rows.order_by("position", "pk")]


def _too_late(night: Night) -> list[Rest]:
    """Find stages whose latest start passes before the lab opens again."""
    if night.opens_at is None:
        return []
    rows = CaseStage.objects.filter(
        Q(ready_at__isnull=False) | Q(key="pour"),
        case__state="open",
        state="planned",
        latest_at__lt=night.opens_at,
    ).select_related("case__design", "case__practice")
    return [Rest("latest", stage, stage.latest_at) for stage in rows.order_by("latest_at", "pk")]


def running() -> list[CaseStage]:
    """Return the stages that somebody has in hand, the longest first."""
    return list(
        CaseStage.objects.filter(state="running", case__state="open")
        .select_related("case__design", "case__practice", "worker")
        .order_by("started_at", "pk")
    )
