"""The record is append-only: the database itself refuses to change or delete its rows.

On SQLite the triggers ask ``record_guard()``, a function that the connection provides and that
only the tests' flush switches off; without it the statement fails, so a foreign client cannot
change the record either. ``recursive_triggers`` (set in the settings) keeps INSERT OR REPLACE
from forging a row. A later AlterField would remake the table without its triggers: they are
installed after every migrate, and a check refuses to start without them.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from django.db.backends.base.base import BaseDatabaseWrapper

GUARDED = ("cases_submission", "cases_event")
_guard = {"on": 1}


@contextmanager
def lifted() -> Iterator[None]:
    """Let rows of the record be deleted inside the block: for the tests' flush only."""
    _guard["on"] = 0
    try:
        yield
    finally:
        _guard["on"] = 1


def provide(connection: BaseDatabaseWrapper, **kwargs: Any) -> None:
    """Give a new SQLite connection the function that its triggers ask."""
    if connection.vendor == "sqlite":
        connection.connection.create_function("record_guard", 0, lambda: _guard["on"])


def _names(table: str) -> tuple[str, str]:
    return f"{table}_no_update", f"{table}_no_delete"


def install(connection: BaseDatabaseWrapper) -> None:
    """Create the triggers on both tables; harmless when they are there."""
    tables = set(connection.introspection.table_names())
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            cursor.execute(
                "CREATE OR REPLACE FUNCTION cases_record_guard() RETURNS trigger AS $$ BEGIN "
                "RAISE EXCEPTION 'the record is append-only'; END $$ LANGUAGE plpgsql"
            )
        for table in GUARDED:
            if table not in tables:
                continue
            for name, action in zip(_names(table), ("UPDATE", "DELETE"), strict=True):
                if connection.vendor == "postgresql":
                    cursor.execute(f"DROP TRIGGER IF EXISTS {name} ON {table}")
                    cursor.execute(
                        f"CREATE TRIGGER {name} BEFORE {action} ON {table} "
                        "FOR EACH ROW EXECUTE FUNCTION cases_record_guard()"
                    )
                else:
                    cursor.execute(f"DROP TRIGGER IF EXISTS {name}")
                    cursor.execute(
                        f"CREATE TRIGGER {name} BEFORE {action} ON {table} "
                        "WHEN record_guard() BEGIN "
                        "SELECT RAISE(ABORT, 'the record is append-only'); END"
                    )


def missing(connection: BaseDatabaseWrapper) -> list[str]:
    """Return the names of triggers that should be there and are not."""
    tables = set(connection.introspection.table_names())
    wanted = {name for table in GUARDED if table in tables for name in _names(table)}
    query = (
        "SELECT tgname FROM pg_trigger WHERE NOT tgisinternal"
        if connection.vendor == "postgresql"
        else "SELECT name FROM sqlite_master WHERE type = 'trigger'"
    )
    with connection.cursor() as cursor:
        cursor.execute(query)
        present = {row[0] for row in cursor.fetchall()}
    return sorted(wanted - present)
