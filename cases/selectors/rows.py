"""Read rows of one table by statements that are put together once for each shape and kept.

For the reads that every verb makes, some dozens of times a minute at each bench: the ORM composes
such a statement anew each time, which takes several times as long as the database needs to
answer. Whoever needs a join, an order of another table or a comparison asks the ORM.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from functools import cache
from typing import Any, TypeAlias, TypeVar, cast

from django.db import connection, models

M = TypeVar("M", bound=models.Model)
Model: TypeAlias = type[models.Model]
Column: TypeAlias = "models.Field[Any, Any]"
Shape: TypeAlias = "tuple[tuple[str, int | None], ...]"
"""The columns that are asked for: how many values each may have, None for an empty cell."""


def column_of(model: Model, name: str) -> Column:
    """Return the column of that name, a foreign key by either of its names."""
    return cast("Column", model._meta.get_field(name))


def quoted(name: str | None) -> str:
    """Return the name of a table or column as it stands in a statement."""
    return connection.ops.quote_name(str(name))


def _condition(column: Column, values: int | None) -> str:
    if values is None:
        return f"{quoted(column.column)} IS NULL"
    return f"{quoted(column.column)} IN ({', '.join(['%s'] * values)})"


@cache
def _select(
    model: Model, vendor: str, names: tuple[str, ...], shape: Shape, order: tuple[str, ...]
) -> str:  # fmt: skip
    wanted = ", ".join(quoted(column_of(model, name).column) for name in names)
    # Names of our own models only; every value is a parameter.
    statement = f"SELECT {wanted} FROM {quoted(model._meta.db_table)}"  # noqa: S608
    if shape:
        asked = [_condition(column_of(model, name), values) for name, values in shape]
        statement += f" WHERE {' AND '.join(asked)}"
    if order:
        statement += " ORDER BY " + ", ".join(quoted(column_of(model, o).column) for o in order)
    return statement


def row_lock() -> str:
    """Return what locks the rows of a statement; nothing where the engine locks no rows."""
    return " FOR UPDATE" if connection.features.has_select_for_update else ""


@cache
def _converters(
    model: Model, vendor: str, names: tuple[str, ...]
) -> tuple[tuple[int, Callable[..., Any], Any], ...]:
    """Return what turns a cell of the database into a value, as (place, function, column)."""
    columns = [column_of(model, name).get_col(model._meta.db_table) for name in names]
    return tuple(
        (place, convert, column)
        for place, column in enumerate(columns)
        for convert in (
            *connection.ops.get_db_converters(column),
            *column.get_db_converters(connection),
        )
    )


def _values(model: Model, name: str, given: Any) -> list[Any]:
    column = column_of(model, name)
    several = given if isinstance(given, tuple) else (given,)
    plain = (one.pk if isinstance(one, models.Model) else one for one in several)
    return [column.get_db_prep_value(one, connection) for one in plain]


def read(
    model: Model,
    names: tuple[str, ...],
    *,
    order: tuple[str, ...] = (),
    lock: bool = False,
    **where: Any,
) -> list[list[Any]]:
    """Return cells of the rows that fit.

    Parameters
    ----------
    names
        The columns to return, a foreign key as ``case_id``.
    order
        Columns that the rows are ordered by, ascending.
    lock
        Lock the rows until the transaction ends, where the engine locks rows.
    where
        Column and its value; a tuple for one of several, None for an empty cell.
    """
    shape: list[tuple[str, int | None]] = []
    values: list[Any] = []
    for name, given in where.items():
        if given is None:
            shape.append((name, None))
            continue
        some = _values(model, name, given)
        if not some:
            return []
        shape.append((name, len(some)))
        values += some
    vendor = connection.vendor
    statement = _select(model, vendor, names, tuple(shape), order)
    if lock:
        statement += row_lock()
    with connection.cursor() as cursor:
        cursor.execute(statement, values)
        rows = [list(row) for row in cursor.fetchall()]
    for place, convert, column in _converters(model, vendor, names):
        for row in rows:
            row[place] = convert(row[place], column, connection)
    return rows


@cache
def _all_but(model: Model, without: tuple[str, ...]) -> tuple[str, ...]:
    return tuple(
        column.attname for column in model._meta.concrete_fields if column.attname not in without
    )


def find(
    model: type[M],
    *,
    order: tuple[str, ...] = (),
    lock: bool = False,
    without: tuple[str, ...] = (),
    **where: Any,
) -> list[M]:
    """Return the rows that fit as objects; see ``read``.

    ``without``: columns that are long and seldom asked for; read by themselves when they are.
    """
    names = _all_but(model, without)
    return [
        model.from_db("default", names, row)
        for row in read(model, names, order=order, lock=lock, **where)
    ]


def only(found: Iterable[M]) -> M | None:
    """Return the first row found, or None."""
    return next(iter(found), None)
