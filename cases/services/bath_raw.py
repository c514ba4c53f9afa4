"""Raw records of baths: stored unchanged under their hash, before anybody reads them.

They are for the lab only and have no address of a practice. Bytes that no record names are
harmless: a person may come back and read them later.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import IO, Final, Literal
from uuid import uuid4

from django.conf import settings
from django.utils.translation import gettext as _

from cases.domain.cure.trace import recognise
from cases.services.bath_table import rows_of
from cases.services.record import Refusal

How = Literal["file", "typed", "feed"]

# Beside the pictures, but none of their two-letter folders: those are swept of what no case names.
FOLDER: Final = "bath"
_SUFFIX: Final[dict[How, str]] = {"file": ".bin", "typed": ".typed", "feed": ".feed"}
MOST_TYPED: Final = 100_000
PART: Final = ".part"
PART_FOR: Final = timedelta(hours=1)


@dataclass(frozen=True)
class Raw:
    """The bytes of a record as they came in."""

    data: bytes
    how: How


def _path(sha256: str, how: How) -> Path:
    return Path(settings.MEDIA_ROOT) / FOLDER / sha256[:2] / f"{sha256}{_SUFFIX[how]}"


def _keep(data: bytes, how: How) -> str:
    sha256 = hashlib.sha256(data).hexdigest()
    target = _path(sha256, how)
    if not target.exists():
        target.parent.mkdir(parents=True, exist_ok=True)
        # Each writer has a file of its own: two who send the same record never write into one.
        partial = target.with_name(f"{sha256}.{uuid4().hex}{PART}")
        try:
            partial.write_bytes(data)
            partial.replace(target)
        finally:
            partial.unlink(missing_ok=True)
    target.touch()  # sent again, it is young again for the sweep of what nobody reads
    return sha256


def drop_parts(now: datetime) -> int:
    """Delete what writers that were killed left behind; return how many files."""
    gone = 0
    for path in (Path(settings.MEDIA_ROOT) / FOLDER).glob(f"??/*{PART}"):
        if now.timestamp() - path.stat().st_mtime > PART_FOR.total_seconds():
            path.unlink(missing_ok=True)
            gone += 1
    return gone


def _readable(data: bytes, how: How) -> None:
    try:
        recognise(rows_of(data, typed=how == "typed"), typed=how == "typed")
    except ValueError as error:
        raise Refusal("no-record", str(error), field=how) from error


def take_in_file(upload: IO[bytes]) -> str:
    """Keep a logger's file unchanged; return its hash.

    Raises
    ------
    Refusal
        ``too-large``; ``no-record`` for what is no table of readings. Nothing is stored then.
    """
    limit = settings.UPLOAD_MAX_BYTES
    data = upload.read(limit + 1)
    if len(data) > limit:
        raise Refusal(
            "too-large",
            _("The file is larger than %(most)d MB. Export the hours of this cure only.")
            % {"most": limit // (1024 * 1024)},
            field="file",
        )
    _readable(data, "file")
    return _keep(data, "file")


def take_in_typed(text: str) -> str:
    """Keep typed readings as they were typed; return their hash.

    Raises
    ------
    Refusal
        ``no-record``, naming the line that is no reading. Nothing is stored then.
    """
    if len(text) > MOST_TYPED:
        raise Refusal("no-record", _("That is too much to type. Send it as a file."), field="typed")
    data = text.encode()
    _readable(data, "typed")
    return _keep(data, "typed")


def take_in_trace(told: Iterable[tuple[datetime, float]]) -> str:
    """Keep live temperatures of a bath as a raw record; return its hash."""
    lines = [f"{at.astimezone(UTC):%Y-%m-%dT%H:%M:%SZ},{celsius:.2f}" for at, celsius in told]
    return _keep("\n".join(["at,bath (°C)", *lines, ""]).encode(), "feed")


def raw_of(sha256: str) -> Raw | None:
    """Return the bytes under a hash, or None where nobody sent such a record."""
    for how in _SUFFIX:
        path = _path(sha256, how)
        if path.is_file():
            return Raw(path.read_bytes(), how)
    return None
