"""An instant as a sentence tells it."""

from __future__ import annotations

from datetime import datetime

from django.utils import timezone
from django.utils.formats import date_format


def when(at: datetime) -> str:
    """Return day and time in the lab's zone: "Wed 9 Dec, 14:00"."""
    return date_format(timezone.localtime(at), "D j M, H:i")
