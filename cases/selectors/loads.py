"""Loads of the baths: what stands, which baths may be chosen, who shared a bath with whom."""

from __future__ import annotations

from datetime import datetime

from django.db.models import F, Min, OuterRef, Prefetch, Q, QuerySet, Subquery
from django.db.models.fields.json import KT

from cases.domain.cure.longer import prolonged
from cases.domain.cure.program import Program, read_program
from cases.domain.cure.timing import Step, attended_start, nearest_start
from cases.models import Bath, BathRecord, CaseStage, CutLoad, Load, LoadFlask
from cases.selectors.cure_settings import program_here
from cases.selectors.hours import lab_calendar


def _flasks() -> QuerySet[LoadFlask]:
    """Return the flasks that are in their loads or went into the bath with them.

    One that was taken out before the start shared nothing.
    """
    put_in = Q(left_at=None) | Q(left_at__gt=F("load__placed_at"))
    return LoadFlask.objects.filter(put_in).select_related("case__design", "resin")


def records() -> QuerySet[BathRecord]:
    """Return the records of baths without their readings, newest first.

    ``said`` is the word of the verdict; ``cut_decision``, ``cut_hold`` and ``cut_by`` are what was
    decided after a power cut on the strength of this record, None where nothing was.
    """
    after_cut = CutLoad.objects.filter(record=OuterRef("pk")).order_by("-pk")
    return (
        BathRecord.objects.annotate(
            said=KT("verdict__verdict"),
            cut_decision=Subquery(after_cut.values("decision")[:1]),
            cut_hold=Subquery(after_cut.values("hold_minutes")[:1]),
            cut_by=Subquery(after_cut.values("cut__by__name")[:1]),
        )
        .defer("layout", "points", "verdict")
        .select_related("by", "decided_by")
        .order_by("-pk")
    )


def loads() -> QuerySet[Load]:
    """Return every load, newest first, with its bath, program, flasks and records."""
    return (
        Load.objects.select_related("bath", "program__resin")
        .prefetch_related(
            Prefetch("flasks", _flasks()), Prefetch("records", records()), "extensions__by"
        )
        .order_by("-number")
    )


def more_of(load: Load) -> dict[int, float]:
    """Return the minutes that were added to the stages of a load, by the stage's number from 0."""
    more: dict[int, float] = {}
    for one in load.extensions.all():
        more[one.stage] = more.get(one.stage, 0.0) + one.minutes
    return more


def as_run(load: Load) -> Program:
    """Return the program of a load at the lab's altitude, with what was added to its stages."""
    return prolonged(program_here(load.program)[0], more_of(load))


def as_written(load: Load) -> Program:
    """Return the same with its boils as the maker writes them, by no query of its own."""
    return prolonged(read_program(load.program.document), more_of(load))


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


def start_with_hands(load: Load, now: datetime) -> datetime | None:
    """Return the first start of a load that has somebody there for each step (three queries)."""
    return attended_start(as_run(load), now, lab_calendar(), starts_itself=load.bath.starts_itself)


def nearest_to_hands(load: Load, now: datetime) -> tuple[datetime, tuple[Step, ...]] | None:
    """Return the start that leaves the least without hands, and what it leaves (three queries)."""
    calendar = lab_calendar()
    return nearest_start(as_run(load), now, calendar, starts_itself=load.bath.starts_itself)


def rests_until(stage: CaseStage, now: datetime) -> datetime | None:
    """Return from when a packed flask may go into its bath.

    None where its rest under the clamp is over, where it is in, and where a stage before the
    cure is still open: the rest has not begun then.
    """
    if stage.state != "planned" or stage.ready_at is None:
        return None
    until = stage.may_from or stage.ready_at
    return until if until > now else None


def resting(load: Load, now: datetime) -> dict[int, datetime]:
    """Return which flasks of a load still rest, and until when, by the stage *cure* (one query)."""
    rows = CaseStage.objects.filter(loads__load=load, loads__left_at=None).defer("spec")
    found = {row.pk: rests_until(row, now) for row in rows}
    return {stage: until for stage, until in found.items() if until is not None}


def heat_by(load: Load) -> datetime | None:
    """Return by when the heat of a load should begin, of the flask that rests longest.

    One query; None where no flask has a limit.
    """
    rows = CaseStage.objects.filter(loads__load=load, loads__left_at=None, state="planned")
    found: datetime | None = rows.aggregate(first=Min("latest_at"))["first"]
    return found


def loads_of(case_id: int) -> QuerySet[LoadFlask]:
    """Return the loads that a case was in, newest first, each with all that shared its bath."""
    return (
        _flasks()
        .filter(case_id=case_id, load__placed_at__isnull=False)
        .select_related("load__bath", "load__program")
        .prefetch_related(Prefetch("load__flasks", _flasks()), Prefetch("load__records", records()))
        .order_by("-pk")
    )
