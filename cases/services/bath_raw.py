"""Raw records of baths: stored unchanged under their hash, before anybody reads them.

They are for the lab only and have no address of a practice. Bytes that no record names are
harmless: a person may come back and read them later.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from pathlib import Path
from typing import IO, Final, Literal

from django.conf import settings
from django.utils.translation import gettext as _

from cases.domain.cure.trace import recognise
from cases.services.bath_table import rows_of
from cases.services.record import Refusal

How = Literal["file", "typed"]

# Beside the pictures, but none of their two-letter folders: those are swept of what no case names.
FOLDER: Final = "bath"
_SUFFIX: Final[dict[How, str]] = {"file": ".bin", "typed": ".typed"}
MOST_TYPED: Final = 100_000


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
        partial = target.with_suffix(".part")
        partial.write_bytes(data)
        partial.replace(target)
    return sha256


def _readable(data: bytes, how: How) -> None:
    try:
        recognise(rows_of(data, typed=how == "typed"))
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


def raw_of(sha256: str) -> Raw | None:
    """Return the bytes under a hash, or None where nobody sent such a record."""
    for how in _SUFFIX:
        path = _path(sha256, how)
        if path.is_file():
            return Raw(path.read_bytes(), how)
    return None
