"""One running lab per folder: two would mean two clocks and every alert twice."""

from __future__ import annotations

import contextlib
import sqlite3
from collections.abc import Iterator
from pathlib import Path


class AlreadyRunning(Exception):
    """Another process holds the lock."""


@contextlib.contextmanager
def only_one(folder: Path) -> Iterator[None]:
    """Hold the folder's lock while the block runs.

    The lock is SQLite's own, so it works on every platform and is gone when its holder is,
    however that ended.

    Raises
    ------
    AlreadyRunning
        When another process holds it.
    """
    with contextlib.closing(
        sqlite3.connect(folder / "running.lock", timeout=0, isolation_level=None)
    ) as lock:
        try:
            lock.execute("BEGIN EXCLUSIVE")
        except sqlite3.OperationalError as error:
            raise AlreadyRunning from error
        yield
        lock.execute("ROLLBACK")
