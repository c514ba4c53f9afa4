"""Write rows by statements that are put together once for each shape and kept.

The ORM composes a statement anew for every row, which takes several times as long as the
database needs to carry it out; a verb writes a dozen rows. Measured on SQLite.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache
from typing import Any

from django.db import DatabaseError, connection, models, transaction

from cases.selectors.rows import Column, Model, column_of, quoted


@cache
def _insert(model: Model, vendor: str, keyed: bool) -> tuple[str, tuple[Column, ...]]:
    """Return the statement that inserts a row, and the columns that it is given.

    ``keyed``: the row brings its primary key along, so the database is asked for none.
    """
    meta = model._meta
    columns = tuple(column for column in meta.concrete_fields if keyed or not column.primary_key)
    names = ", ".join(quoted(column.column) for column in columns)
    places = ", ".join("%s" for _ in columns)
    # Names of our own models only; every value is a parameter.
    statement = f"INSERT INTO {quoted(meta.db_table)} ({names}) VALUES ({places})"  # noqa: S608
    if not keyed:
        statement += f" RETURNING {quoted(meta.pk.column)}"
    return statement, columns


@cache
def _update(model: Model, vendor: str, names: tuple[str, ...]) -> tuple[str, tuple[Column, ...]]:
    """Return the statement that sets ``names`` of one row, and the columns it is given."""
    meta = model._meta
    columns = tuple(column_of(model, name) for name in names)
    cells = ", ".join(f"{quoted(column.column)} = %s" for column in columns)
    row = f"WHERE {quoted(meta.pk.column)} = %s"
    statement = f"UPDATE {quoted(meta.db_table)} SET {cells} {row}"  # noqa: S608
    return statement, (*columns, meta.pk)


def _cells(obj: models.Model, columns: Sequence[Column]) -> list[Any]:
    return [column.get_db_prep_save(getattr(obj, column.attname), connection) for column in columns]


def insert(obj: models.Model) -> None:
    """Insert one row and set its primary key."""
    keyed = obj.pk is not None
    statement, columns = _insert(type(obj), connection.vendor, keyed)
    with transaction.mark_for_rollback_on_error("default"), connection.cursor() as cursor:
        cursor.execute(statement, _cells(obj, columns))
        if not keyed:
            obj.pk = cursor.fetchone()[0]
    obj._state.adding = False
    obj._state.db = "default"


def insert_many(model: Model, names: Sequence[str], rows: Sequence[tuple[Any, ...]]) -> None:
    """Insert thousands of rows given as tuples of the columns ``names``, without objects.

    Every column but the primary key is named; nobody learns the keys that the database gives.
    """
    if not rows:
        return
    columns = [column_of(model, name) for name in names]
    cells = []
    for column, values in zip(columns, zip(*rows, strict=True), strict=True):
        # Of thousands of values of a column few differ.
        ready = {one: column.get_db_prep_save(one, connection) for one in set(values)}
        cells.append([ready[one] for one in values])
    listed = ", ".join(quoted(column.column) for column in columns)
    places = ", ".join("%s" for _ in columns)
    # Names of our own models only; every value is a parameter.
    statement = f"INSERT INTO {quoted(model._meta.db_table)} ({listed}) VALUES ({places})"  # noqa: S608
    with transaction.mark_for_rollback_on_error("default"), connection.cursor() as cursor:
        cursor.executemany(statement, list(zip(*cells, strict=True)))


def update(rows: Sequence[models.Model], names: Sequence[str]) -> None:
    """Write ``names`` of rows of one model as they stand on the objects.

    Raises
    ------
    DatabaseError
        When one of them is not there any more.
    """
    statement, columns = _update(type(rows[0]), connection.vendor, tuple(names))
    with transaction.mark_for_rollback_on_error("default"), connection.cursor() as cursor:
        cells = [_cells(obj, columns) for obj in rows]
        if len(cells) == 1:
            cursor.execute(statement, cells[0])
        else:
            cursor.executemany(statement, cells)
        if cursor.rowcount != len(rows):
            name = type(rows[0]).__name__
            message = f"{len(rows)} rows of {name} were to be written, {cursor.rowcount} were there"
            raise DatabaseError(message)
