"""Copies of the SQLite file are whole, proven, few, and come back."""

from __future__ import annotations

import contextlib
import sqlite3
import threading
from datetime import datetime, timedelta
from pathlib import Path

import pytest
from pytest_django.fixtures import Settings

from labflow.backup import BackupRefused, backup, nightly, restore


@pytest.fixture
def live(tmp_path: Path, settings: Settings, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A small database in WAL mode, named as the lab's own."""
    file = tmp_path / "lab.sqlite3"
    with contextlib.closing(sqlite3.connect(file)) as db:
        db.execute("PRAGMA journal_mode=WAL")
        db.execute("CREATE TABLE django_migrations (id INTEGER)")
        db.execute("CREATE TABLE pair (a INTEGER, b INTEGER)")
        db.commit()
    entry = {"ENGINE": "django.db.backends.sqlite3", "NAME": str(file)}
    monkeypatch.setitem(settings.DATABASES, "default", entry)
    return file


def write(file: Path, value: int) -> None:
    with contextlib.closing(sqlite3.connect(file, timeout=20)) as db:
        db.execute("INSERT INTO pair VALUES (?, ?)", (value, value))
        db.commit()


def values(file: Path) -> list[tuple[int, int]]:
    with contextlib.closing(sqlite3.connect(file)) as db:
        return db.execute("SELECT a, b FROM pair ORDER BY a").fetchall()


def test_backup_copies_what_is_still_in_the_log(live: Path, now: datetime) -> None:
    # An open reader keeps the write-ahead log from being folded into the file.
    with contextlib.closing(sqlite3.connect(live)) as reader:
        reader.execute("SELECT * FROM pair").fetchall()
        write(live, 7)

        copy = backup(now)

    assert copy.name == "labflow-2026-12-09-094200.sqlite3"
    assert values(copy) == [(7, 7)]
    assert [path.name for path in copy.parent.iterdir()] == [copy.name]


def test_backup_is_whole_while_others_write(live: Path, now: datetime) -> None:
    done = threading.Event()

    def keep_writing() -> None:
        with contextlib.closing(sqlite3.connect(live, timeout=20)) as db:
            value = 0
            while not done.is_set():
                db.execute("INSERT INTO pair VALUES (?, 0)", (value,))
                db.execute("UPDATE pair SET b = a WHERE a = ?", (value,))
                db.commit()
                value += 1

    writer = threading.Thread(target=keep_writing)
    writer.start()
    try:
        copies = [backup(now + timedelta(seconds=number)) for number in range(5)]
    finally:
        done.set()
        writer.join()

    assert all(a == b for copy in copies for a, b in values(copy))


def test_nightly_copies_once_a_day(live: Path, now: datetime) -> None:
    first = nightly(now)
    write(live, 1)

    assert first is not None
    assert first.name == "labflow-2026-12-09.sqlite3"
    assert nightly(now + timedelta(hours=3)) is None
    assert values(first) == []


def test_nightly_keeps_the_newest_and_what_was_made_by_hand(
    live: Path, now: datetime, settings: Settings
) -> None:
    settings.BACKUPS_KEPT = 14
    by_hand = backup(now - timedelta(days=300))

    for day in range(16):
        nightly(now + timedelta(days=day))

    kept = sorted(path.name for path in by_hand.parent.iterdir())
    assert kept[0] == by_hand.name
    assert len(kept) == 15
    assert (kept[1], kept[-1]) == ("labflow-2026-12-11.sqlite3", "labflow-2026-12-24.sqlite3")


def test_restore_brings_the_copy_back_and_keeps_what_was_there(live: Path, now: datetime) -> None:
    write(live, 1)
    copy = backup(now)
    write(live, 2)

    kept = restore(file=copy, now=now)

    assert values(live) == [(1, 1)]
    assert values(kept) == [(1, 1), (2, 2)]
    assert values(copy) == [(1, 1)]


@pytest.mark.parametrize("content", [b"", b"not a database at all" * 100])
def test_restore_refuses_what_is_no_lab(
    live: Path, now: datetime, tmp_path: Path, content: bytes
) -> None:
    write(live, 1)
    other = tmp_path / "other.sqlite3"
    other.write_bytes(content)

    with pytest.raises(BackupRefused, match=r"other\.sqlite3 is"):
        restore(file=other, now=now)

    assert values(live) == [(1, 1)]


def test_restore_refuses_a_damaged_copy(live: Path, now: datetime) -> None:
    with contextlib.closing(sqlite3.connect(live)) as db:
        db.executemany("INSERT INTO pair VALUES (?, ?)", ((n, n) for n in range(20_000)))
        db.commit()
    copy = backup(now)
    raw = bytearray(copy.read_bytes())
    raw[20_000:28_000] = b"\xff" * 8_000
    copy.write_bytes(raw)

    with pytest.raises(BackupRefused):
        restore(file=copy, now=now)


def test_backup_refuses_postgresql(
    settings: Settings, now: datetime, monkeypatch: pytest.MonkeyPatch
) -> None:
    entry = {"ENGINE": "django.db.backends.postgresql", "NAME": "lab"}
    monkeypatch.setitem(settings.DATABASES, "default", entry)

    with pytest.raises(BackupRefused, match="pg_dump"):
        backup(now)
    assert nightly(now) is None
