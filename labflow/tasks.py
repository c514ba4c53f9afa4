"""What the clock does for the installation itself, beside the lab's own sweep."""

from __future__ import annotations

from typing import Any

from celery import shared_task
from django.utils import timezone

from labflow.backup import nightly


@shared_task(name="labflow.tasks.nightly_copy")
def nightly_copy(**kwargs: Any) -> str:
    """Copy the SQLite file once a day; a full disk here must not hold up an alarm."""
    file = nightly(timezone.now())
    return file.name if file else ""
