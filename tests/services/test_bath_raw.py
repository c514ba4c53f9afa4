"""A raw record is there whole or not at all, however its writing ended."""

from __future__ import annotations

import io
import os
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from django.utils import timezone

from cases.services.bath_raw import drop_parts, raw_of, take_in_file
from tests.bath_records import iso_csv


def files(root: str) -> list[Path]:
    return sorted(path for path in Path(root).rglob("*") if path.is_file())


def test_writing_that_breaks_off_leaves_nothing(
    settings: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(_path: Path, data: bytes) -> int:
        Path.open(_path, "wb").close()
        raise OSError(28, "No space left on device")

    with monkeypatch.context() as patched:
        patched.setattr(Path, "write_bytes", full)
        with pytest.raises(OSError, match="No space"):
            take_in_file(io.BytesIO(iso_csv()))
    left = files(settings.MEDIA_ROOT)

    sha256 = take_in_file(io.BytesIO(iso_csv()))

    assert left == []
    raw = raw_of(sha256)
    assert raw is not None
    assert raw.data == iso_csv()


def test_what_a_killed_writer_left_is_no_record_and_goes_after_an_hour(settings: Any) -> None:
    sha256 = take_in_file(io.BytesIO(iso_csv()))
    (whole,) = files(settings.MEDIA_ROOT)
    half = whole.with_name(f"{'0' * 64}.5f.part")
    half.write_bytes(iso_csv()[:100])
    now = timezone.now()

    early = drop_parts(now)
    os.utime(half, (now.timestamp() - 3700,) * 2)
    late = drop_parts(now + timedelta(minutes=1))

    assert raw_of("0" * 64) is None
    assert (early, late) == (0, 1)
    assert files(settings.MEDIA_ROOT) == [whole]
    assert raw_of(sha256) is not None
