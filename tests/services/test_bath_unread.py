"""Raw records that nobody read go after a month; what a row names stays for ever."""

from __future__ import annotations

import io
import os
from datetime import timedelta
from pathlib import Path

import pytest
from django.conf import LazySettings

from cases.services.bath_raw import FOLDER, raw_of, take_in_file, take_in_typed
from cases.services.bath_record import keep_bath_record
from cases.services.bath_unread import drop_unread
from tests.bath_records import iso_csv, make_load, typed
from tests.factories import NOW, make_shop

pytestmark = pytest.mark.django_db


@pytest.fixture
def folder(settings: LazySettings, tmp_path: Path) -> Path:
    settings.MEDIA_ROOT = tmp_path
    return tmp_path / FOLDER


def age(folder: Path, sha256: str, days: float) -> None:
    [path] = folder.glob(f"??/{sha256}.*")
    then = (NOW - timedelta(days=days)).timestamp()
    os.utime(path, (then, then))


def test_what_nobody_read_goes_after_a_month(folder: Path) -> None:
    shop = make_shop()
    make_load(shop)
    kept = take_in_file(io.BytesIO(iso_csv()))
    keep_bath_record(
        shop.envelope("mara", now=NOW), load=7, sha256=kept, probe_at="bath", probe="A",
        choice={"form": "iso", "columns": [0], "column": 1, "unit": "C"},
    )  # fmt: skip
    left = take_in_file(io.BytesIO(b"time,C\n2026-12-08 22:30,23\n2026-12-08 22:40,40\n"))
    young = take_in_typed(typed())
    for sha256, days in ((kept, 400), (left, 31), (young, 29)):
        age(folder, sha256, days)

    assert drop_unread(NOW) == 1

    assert raw_of(left) is None
    assert raw_of(young) is not None
    assert raw_of(kept) is not None
    assert drop_unread(NOW) == 0


def test_what_is_sent_again_is_young_again(folder: Path) -> None:
    make_shop()
    first = take_in_typed(typed())
    age(folder, first, 40)

    assert take_in_typed(typed()) == first

    assert drop_unread(NOW) == 0


def test_a_lab_without_records_has_nothing_to_sweep(folder: Path) -> None:
    assert drop_unread(NOW) == 0
