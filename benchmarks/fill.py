"""Fill a scratch database with as many cases as are wanted, from a few that the services made.

Copies are written in bulk and leave no events: this is a database to measure, not a record.
Open cases are copied with stages, edges, checks and holds; finished ones with their stages.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta
from itertools import islice

from django.db import connection
from django.db.models import Model

from cases.domain.casenumber import make
from cases.models import Case, CaseEdge, CaseStage, CheckItem, Hold
from tests.factories import Shop, make_case
from tests.walk import Clock, walk

FIRST_SERIAL = 100_000
"""Serials of copies begin here, far from those that the services gave."""
IN_A_STATEMENT = 500
TEETH = ((36, 37, 46, 47), (35, 36), (31, 41, 42), (46,), (36, 46), (45, 46, 47), (34, 35), (37,))
UNTIL = ("", "receive", "pour", "trim", "survey", "block-out", "clasps", "teeth")
"""How far each of the first cases has come: one of every kind of morning."""


def first_cases(shop: Shop, now: datetime) -> list[Case]:
    """Make the cases that are copied, by the services, in several stages of work."""
    made = []
    for place, (teeth, until) in enumerate(zip(TEETH, UNTIL, strict=True)):
        began = now - timedelta(days=4)
        case = make_case(
            shop,
            now=began,
            ref=f"B-{place}",
            replaces=teeth,
            ordered_on=began.date(),
            appointment_on=(now + timedelta(days=14)).date(),
            shade_how="" if place % 3 == 1 else "laboratory",
        )
        if until and place % 3 != 1:
            walk(shop, case, Clock(began), until=until)
        made.append(Case.objects.get(pk=case.pk))
    return made


def _copies(
    sources: list[Case], *, open_cases: int, finished: int, now: datetime, serial: int
) -> Iterator[tuple[Case, int, bool]]:
    """Yield unsaved copies, each with the key of its source and whether it is finished."""
    columns = [
        field.attname
        for field in Case._meta.concrete_fields
        if not field.primary_key and field.attname != "twin_id"
    ]
    for n in range(open_cases + finished):
        done = n >= open_cases
        source = sources[n % len(sources)]
        copy = Case(**{name: getattr(source, name) for name in columns})
        copy.number = str(make(now.year, serial + n))
        copy.patient_ref = f"B-{serial + n}"
        if done:
            copy.state = "sent"
            copy.closed_at = copy.leaves_at = now - timedelta(hours=1 + n % 26_000)
        else:
            copy.leaves_at = now + timedelta(hours=n % 400 - 4)
        yield copy, source.pk, done


def _quoted(name: str) -> str:
    return connection.ops.quote_name(name)


def _columns(model: type[Model], *without: str) -> list[str]:
    """Return the columns of a table but its primary key and those named."""
    named = [str(field.column) for field in model._meta.concrete_fields if not field.primary_key]
    return [name for name in named if name not in without]


def _copy_rows(model: type[Model], *, finished: bool, **instead: str) -> None:
    """Copy the rows of the sources to their copies; ``instead`` gives SQL for a column."""
    table = model._meta.db_table
    names = _columns(model, "case_id")
    chosen = [instead.get(name, f"source.{_quoted(name)}") for name in names]
    flag = "true" if finished else "false"
    # Only names of our own tables and columns stand in the statement.
    statement = (
        f"INSERT INTO {table} (case_id, {', '.join(map(_quoted, names))}) "  # noqa: S608
        f"SELECT pair.copy, {', '.join(chosen)} FROM bench_pair pair "
        f"JOIN {table} source ON source.case_id = pair.source WHERE pair.finished = {flag}"
    )
    with connection.cursor() as cursor:
        cursor.execute(statement)


def fill(
    sources: list[Case], *, open_cases: int, finished: int, now: datetime, serial: int
) -> None:
    """Add copies until there are that many more, and let the engine look at its tables anew."""
    pairs = []
    copies = _copies(
        sources, open_cases=open_cases, finished=finished, now=now, serial=FIRST_SERIAL + serial
    )
    while batch := list(islice(copies, IN_A_STATEMENT)):
        Case.objects.bulk_create([case for case, _source, _done in batch])
        pairs += [(source, case.pk, done) for case, source, done in batch]
    with connection.cursor() as cursor:
        cursor.execute("CREATE TEMP TABLE bench_pair (source bigint, copy bigint, finished bool)")
        cursor.executemany("INSERT INTO bench_pair VALUES (%s, %s, %s)", pairs)
    for model in (CaseStage, CaseEdge, CheckItem, Hold):
        if model is CheckItem:
            _copy_checks()
        else:
            _copy_rows(model, finished=False)
    _copy_rows(CaseStage, finished=True, state="'done'", spec="'{}'", ready_at="NULL")
    with connection.cursor() as cursor:
        cursor.execute("DROP TABLE bench_pair")
        cursor.execute("ANALYZE")


def _copy_checks() -> None:
    """Copy the checks of open cases: they belong to the copied stage of the same key."""
    names = _columns(CheckItem, "case_id", "stage_id")
    listed = ", ".join(map(_quoted, names))
    chosen = ", ".join(f"source.{_quoted(name)}" for name in names)
    with connection.cursor() as cursor:
        cursor.execute(
            f"INSERT INTO cases_checkitem (case_id, stage_id, {listed}) "  # noqa: S608
            f"SELECT pair.copy, stage.id, {chosen} FROM bench_pair pair "
            "JOIN cases_checkitem source ON source.case_id = pair.source "
            "JOIN cases_casestage old ON old.id = source.stage_id "
            "JOIN cases_casestage stage ON stage.case_id = pair.copy AND stage.key = old.key "
            "WHERE pair.finished = false"
        )
