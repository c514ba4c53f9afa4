"""Raw records of baths that nobody read are swept: sent, looked at perhaps, and never kept."""

from __future__ import annotations

from datetime import datetime, timedelta
from pathlib import Path
from typing import Final

from django.conf import settings

from cases.models import BathRecord, LagRun, LoadTrace
from cases.services.bath_raw import FOLDER

UNREAD_FOR: Final = timedelta(days=30)
"""How long a record may lie unread: a person may come back to it after a holiday. Judgement."""
AT_ONCE: Final = 500
_NAMED: Final = (
    (BathRecord, "sha256"),
    (LoadTrace, "sha256"),
    (LagRun, "sha256"),
    (LagRun, "flask_sha256"),
)
"""Where a row may name a raw record by its hash."""


def drop_unread(now: datetime) -> int:
    """Delete raw records that no row names and nobody sent for a month; return how many."""
    old = [
        path
        for path in (Path(settings.MEDIA_ROOT) / FOLDER).glob("??/*")
        if now.timestamp() - path.stat().st_mtime > UNREAD_FOR.total_seconds()
    ]
    gone = 0
    for begin in range(0, len(old), AT_ONCE):
        some = {path.name.partition(".")[0] for path in old[begin : begin + AT_ONCE]}
        named = {
            sha256
            for model, column in _NAMED
            for sha256 in model.objects.filter(**{f"{column}__in": some}).values_list(
                column, flat=True
            )
        }
        for path in old[begin : begin + AT_ONCE]:
            if path.name.partition(".")[0] not in named:
                path.unlink(missing_ok=True)
                gone += 1
    return gone
