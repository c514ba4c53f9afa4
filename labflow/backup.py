"""Copies of the SQLite file, made while the lab works, and the way back.

A PostgreSQL installation is copied with PostgreSQL's own tools; these functions refuse there.
"""

from __future__ import annotations

import contextlib
import os
import re
import sqlite3
from datetime import UTC, date, datetime
from pathlib import Path

from django.conf import settings

_DAILY = re.compile(r"^labflow-\d{4}-\d{2}-\d{2}\.sqlite3$")


class BackupRefused(Exception):
    """A copy cannot be made or brought back; the text says why and what to do."""


def live_file() -> Path:
    """Return the path of the SQLite file that the lab works on.

    Raises
    ------
    BackupRefused
        When the lab does not work on SQLite.
    """
    entry = settings.DATABASES["default"]
    if not str(entry["ENGINE"]).endswith("sqlite3"):
        raise BackupRefused(
            "This lab works on PostgreSQL. Copy it with pg_dump and bring it back with pg_restore."
        )
    return Path(entry["NAME"])


def copy_database(*, source: Path, target: Path) -> Path:
    """Copy a SQLite file whole and proven, whatever is written to it meanwhile.

    The copy appears under its name only when it is complete and passes SQLite's own check.

    Raises
    ------
    BackupRefused
        When there is no source or the copy does not pass the check.
    """
    if not source.is_file():
        raise BackupRefused(f"There is no database at {source}. Run `manage.py migrate` first.")
    target.parent.mkdir(mode=0o750, parents=True, exist_ok=True)
    part = target.with_name(f".{target.name}.{os.getpid()}.part")
    try:
        with (
            contextlib.closing(sqlite3.connect(source, timeout=20)) as live,
            contextlib.closing(sqlite3.connect(part)) as copy,
        ):
            # In one step: a reader never holds up writers in WAL mode, and no write restarts it.
            live.backup(copy)
            # One file to carry away, not a file and its log.
            copy.execute("PRAGMA journal_mode=DELETE").fetchone()
        part.chmod(0o640)
        _prove(part)
        part.replace(target)
    finally:
        part.unlink(missing_ok=True)
    return target


def backup(now: datetime) -> Path:
    """Copy the lab's database to a file named after the instant, and return its path.

    Raises
    ------
    BackupRefused
        As :func:`copy_database` and :func:`live_file`.
    """
    name = f"labflow-{now.astimezone(UTC):%Y-%m-%d-%H%M%S}.sqlite3"
    return copy_database(source=live_file(), target=Path(settings.BACKUP_DIR) / name)


def nightly(now: datetime) -> Path | None:
    """Copy the database once per UTC day and keep the newest ``settings.BACKUPS_KEPT`` days.

    Safe to call often: a day that has its copy costs one look at the folder, and a
    machine that was off at midnight makes its copy when it is switched on. Copies made by hand
    (:func:`backup`) are never removed.

    Returns
    -------
    Path or None
        The new copy; None when today has one, or when the lab works on PostgreSQL.
    """
    try:
        source = live_file()
    except BackupRefused:
        return None
    today = now.astimezone(UTC).date()
    target = _daily_file(today)
    if target.exists():
        return None
    copy_database(source=source, target=target)
    for old in _daily_files()[: -settings.BACKUPS_KEPT]:
        old.unlink(missing_ok=True)
    return target


def restore(*, file: Path, now: datetime) -> Path:
    """Put a copy in the place of the lab's database; return where the replaced one was kept.

    Nothing else may have the database open: the caller makes sure that the lab is stopped.

    Raises
    ------
    BackupRefused
        When the file is not a sound copy of a lab, or the lab works on PostgreSQL.
    """
    live = live_file()
    if not file.is_file():
        raise BackupRefused(f"There is no file {file}.")
    _prove(file)
    kept = (
        Path(settings.BACKUP_DIR) / f"before-restore-{now.astimezone(UTC):%Y-%m-%d-%H%M%S}.sqlite3"
    )
    if live.is_file():
        copy_database(source=live, target=kept)
    # The log of the replaced file must go before the new file stands under the name: SQLite
    # would play it into the copy.
    for suffix in ("-wal", "-shm"):
        live.with_name(live.name + suffix).unlink(missing_ok=True)
    copy_database(source=file, target=live)
    return kept


def _daily_file(day: date) -> Path:
    return Path(settings.BACKUP_DIR) / f"labflow-{day.isoformat()}.sqlite3"


def _daily_files() -> list[Path]:
    folder = Path(settings.BACKUP_DIR)
    return sorted(path for path in folder.iterdir() if _DAILY.match(path.name))


def _prove(file: Path) -> None:
    try:
        with contextlib.closing(
            sqlite3.connect(f"{file.resolve().as_uri()}?mode=ro", uri=True)
        ) as db:
            verdict = db.execute("PRAGMA quick_check").fetchone()[0]
            known = db.execute(
                "SELECT count(*) FROM sqlite_master WHERE name = 'django_migrations'"
            ).fetchone()[0]
    except sqlite3.DatabaseError as error:
        raise BackupRefused(f"{file.name} is not a SQLite database ({error}).") from error
    if verdict != "ok":
        raise BackupRefused(f"{file.name} is damaged: {verdict}. Take another copy.")
    if not known:
        raise BackupRefused(f"{file.name} is no database of a lab. Take another file.")
