"""Instants as somebody entered them."""

from __future__ import annotations

from datetime import UTC, datetime

from django.utils.dateparse import parse_datetime
from django.utils.timezone import is_naive, make_aware
from django.utils.translation import gettext as _

from cases.services.record import Refusal


def instant(text: str, field: str) -> datetime:
    """Return an instant that somebody entered, in the lab's time where no zone is said.

    Raises
    ------
    Refusal
        ``no-time``, beside ``field``.
    """
    try:
        found = parse_datetime(text.strip())
        if found is not None:
            # In UTC, for minutes are added to it, and the wall may lose or gain an hour meanwhile.
            return (make_aware(found) if is_naive(found) else found).astimezone(UTC)
    except (ValueError, OverflowError):
        pass  # No such day or hour, or beyond the first or last one that can be told.
    raise Refusal("no-time", _("Enter a day and a time."), field=field)
