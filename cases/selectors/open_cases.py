"""Where is everything: open cases counted, narrowed and paged, in a fixed number of queries."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import datetime

from django.db.models import Count, Exists, F, OuterRef, Q, QuerySet
from django.db.models.expressions import OrderBy

from cases.models import Case, CaseStage, Hold, Person, Practice, RouteVersion
from cases.selectors.lookup import search_cases

IN_THE_LAB = ("open", "packed")
IN_HAND = ("running", "paused", "countersign", "away")
"""States of a stage that somebody has begun."""
AT_A_STAGE = Q(state__in=IN_HAND) | Q(state="planned", ready_at__isnull=False)
"""Stages at which a case stands: begun, or ready to begin (now or when a wait is over)."""
NOBODY = "nobody"
ORDERS: dict[str, tuple[str | OrderBy, ...]] = {
    "leaves": (F("leaves_at").asc(nulls_last=True), "pk"),
    "newest": ("-logged_at", "-pk"),
    "practice": ("practice__name", F("leaves_at").asc(nulls_last=True), "pk"),
}
SHOWN = ("late", "today", "held", "asked", "rush", "undated")


@dataclass(frozen=True)
class Asked:
    """What the page is asked to show; empty entries narrow nothing.

    ``stage`` is a key, ``who`` a person's primary key or ``nobody``, ``show`` one of `SHOWN`,
    ``order`` one of `ORDERS`. ``words`` looks among closed cases as well.
    """

    words: str = ""
    stage: str = ""
    who: str = ""
    practice: str = ""
    show: str = ""
    order: str = "leaves"

    @property
    def narrowed(self) -> bool:
        """Whether less than everything is asked for."""
        return bool(self.words or self.stage or self.who or self.practice or self.show)


@dataclass(frozen=True)
class Counts:
    """The findings of the whole house: cases in it, late, leaving today, waiting for an answer."""

    total: int
    late: int
    today: int
    waiting: int


@dataclass
class Row:
    """A case of the list with the stages it stands at and its open holds."""

    case: Case
    stages: list[CaseStage] = field(default_factory=list)
    holds: list[Hold] = field(default_factory=list)


def _open_holds() -> QuerySet[Hold]:
    return Hold.objects.filter(case=OuterRef("pk"), released_at__isnull=True)


def count_open(cases: QuerySet[Case], *, now: datetime, day_ends: datetime) -> Counts:
    """Count the open cases in one query.

    Parameters
    ----------
    cases
        What the person may see.
    now
    day_ends
        Midnight on the lab's wall after `now`.
    """
    held = Hold.objects.filter(released_at__isnull=True, waits_for="practice").values("case")
    found = cases.filter(state__in=IN_THE_LAB).aggregate(
        total=Count("pk"),
        late=Count("pk", filter=Q(leaves_at__lt=now)),
        today=Count("pk", filter=Q(leaves_at__gte=now, leaves_at__lt=day_ends)),
        waiting=Count("pk", filter=Q(pk__in=held)),
    )
    return Counts(**found)


def narrow(
    cases: QuerySet[Case], asked: Asked, *, now: datetime, day_ends: datetime
) -> QuerySet[Case]:
    """Return the cases that are asked for, in order. Nothing is read yet."""
    found = search_cases(cases, asked.words) if asked.words else cases
    if not asked.words:
        found = found.filter(state__in=IN_THE_LAB)
    if asked.practice:
        found = found.filter(practice=int(asked.practice))
    at = CaseStage.objects.filter(AT_A_STAGE, case=OuterRef("pk"))
    if asked.stage:
        found = found.filter(Exists(at.filter(key=asked.stage)))
    if asked.who == NOBODY:
        has = at.filter(Q(worker__isnull=False, state__in=IN_HAND) | Q(assignee__isnull=False))
        found = found.filter(~Exists(has))
    elif asked.who:
        theirs = Q(worker=asked.who, state__in=IN_HAND) | Q(assignee=asked.who)
        found = found.filter(Exists(at.filter(theirs)))
    found = _shown(found, asked.show, now=now, day_ends=day_ends)
    order = ORDERS.get(asked.order, ORDERS["leaves"])
    if asked.words:
        return _open_first(found, order)
    return found.order_by(*order)


def _open_first(found: QuerySet[Case], order: tuple[str | OrderBy, ...]) -> QuerySet[Case]:
    """Put what is in the house before what has left it."""
    return found.annotate(closed=Q(state__in=("sent", "cancelled"))).order_by("closed", *order)


def _shown(
    found: QuerySet[Case], show: str, *, now: datetime, day_ends: datetime
) -> QuerySet[Case]:
    if show == "late":
        return found.filter(leaves_at__lt=now, state__in=IN_THE_LAB)
    if show == "today":
        return found.filter(leaves_at__gte=now, leaves_at__lt=day_ends)
    if show == "held":
        return found.filter(Exists(_open_holds()))
    if show == "asked":
        return found.filter(Exists(_open_holds().filter(waits_for="practice")))
    if show == "rush":
        return found.filter(rush=True)
    if show == "undated":
        return found.filter(leaves_at__isnull=True)
    return found


def rows_of(keys: Iterable[int]) -> list[Row]:
    """Return the cases of one page in the order given: three queries, whatever their number.

    Of the stages only those at which a case stands are read.
    """
    wanted = list(keys)
    cases = (
        Case.objects.filter(pk__in=wanted)
        .select_related("practice", "design")
        .defer("order", "work_order")
        .order_by()
    )
    rows = {case.pk: Row(case) for case in cases}
    stages = (
        CaseStage.objects.filter(AT_A_STAGE, case__in=wanted)
        .select_related("worker", "assignee")
        .defer("spec")
        .order_by("case_id", "position", "pk")
    )
    for stage in stages:
        rows[stage.case_id].stages.append(stage)
    holds = (
        Hold.objects.filter(case__in=wanted, released_at__isnull=True)
        .select_related("question")
        .order_by("opened_at", "pk")
    )
    for hold in holds:
        rows[hold.case_id].holds.append(hold)
    return [rows[key] for key in wanted if key in rows]


def stage_choices() -> list[tuple[str, str]]:
    """Return key and name of the stages of the current route, in their order."""
    newest = RouteVersion.objects.order_by("-version").first()
    if newest is None:
        return []
    return [(stage["key"], stage["name"]) for stage in newest.document["stages"]]


def who_choices() -> list[tuple[str, str]]:
    """Return the technicians a case can be with."""
    rows = Person.objects.filter(active=True, is_technician=True).values_list("pk", "name")
    return [(str(key), name) for key, name in rows]


def practice_filter() -> list[tuple[str, str]]:
    """Return every practice, also those that order no more."""
    return [(str(key), name) for key, name in Practice.objects.values_list("pk", "name")]


def work_lists() -> list[tuple[Person, int]]:
    """Return the technicians, each with the number of stages on their list (two queries)."""
    held = dict(
        CaseStage.objects.filter(
            assignee__isnull=False,
            state__in=["planned", "paused", "running"],
            case__state__in=IN_THE_LAB,
        )
        .order_by()
        .values_list("assignee")
        .annotate(n=Count("pk"))
    )
    people = Person.objects.filter(active=True, is_technician=True)
    return [(person, held.get(person.pk, 0)) for person in people]
