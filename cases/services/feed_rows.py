"""Rows that were sent to a bath's feed, as samples: JSON or CSV, all of them or none."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterable
from datetime import UTC, datetime
from typing import Any, Final
from zoneinfo import ZoneInfo

from django.utils.translation import gettext as _

from cases.domain.cure.feed import Sample, check, on_the_wall
from cases.domain.cure.heat_columns import number

MOST_BYTES: Final = 256 * 1024
MOST_ROWS: Final = 5000
_EPOCH: Final = datetime(1970, 1, 1, tzinfo=UTC)


def rows_sent(
    data: bytes, kind: str, wall: ZoneInfo, now: datetime, last: datetime | None
) -> tuple[Sample, ...]:
    """Return what was sent, in the order of time.

    Parameters
    ----------
    kind
        ``json`` (a list of objects with ``at`` and ``celsius``) or ``csv`` (the same as two
        columns, with or without a heading).
    wall, last
        Zone of an instant that names none, and the last reading so far.

    Raises
    ------
    ValueError
        One row is wrong. The sentence names it.
    """
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise ValueError(_("The body is not UTF-8.")) from None
    pairs = _json(text) if kind == "json" else _csv(text)
    found: list[Sample] = []
    for n, (at, celsius) in enumerate(pairs, start=1):
        if n > MOST_ROWS:
            raise ValueError(_("Send %(most)d rows at most at a time.") % {"most": MOST_ROWS})
        try:
            before = found[-1].at if found else last
            sample = Sample(_instant(at, wall, before), _celsius(celsius))
            check(sample, now)
        except (ValueError, OverflowError) as error:
            raise ValueError(_("Row %(n)d: %(why)s") % {"n": n, "why": error}) from None
        found.append(sample)
    if not found:
        raise ValueError(_("There is no row in the body."))
    return tuple(sorted(found, key=lambda sample: sample.at))


def _json(text: str) -> Iterable[tuple[Any, Any]]:
    try:
        rows = json.loads(text)
    except (ValueError, RecursionError):
        raise ValueError(_("The body is no JSON.")) from None
    if not isinstance(rows, list) or not all(isinstance(row, dict) for row in rows):
        raise ValueError(_('Send a list of objects: [{"at": "…", "celsius": 74.1}].'))
    return ((row.get("at"), row.get("celsius")) for row in rows)


def _csv(text: str) -> Iterable[tuple[Any, Any]]:
    mark = ";" if ";" in text.partition("\n")[0] else ","
    try:
        rows = [row for row in csv.reader(io.StringIO(text, newline=""), delimiter=mark) if row]
    except csv.Error:
        raise ValueError(_("The body is no CSV.")) from None
    if rows and [cell.strip().lower() for cell in rows[0]] == ["at", "celsius"]:
        rows = rows[1:]
    return ((row[0], row[1]) if len(row) == 2 else (None, None) for row in rows)


def _instant(at: Any, wall: ZoneInfo, last: datetime | None) -> datetime:
    text = str(at).strip() if isinstance(at, str | int | float) else ""
    try:
        seconds = float(text)
    except ValueError:
        try:
            found = datetime.fromisoformat(text)
        except ValueError:
            raise ValueError(_("“at” is an instant like 2026-12-09T22:00:00Z.")) from None
        if found.tzinfo is not None:
            return found.astimezone(UTC)
        return on_the_wall((found.replace(tzinfo=UTC) - _EPOCH).total_seconds(), wall, last)
    if not 1e9 <= seconds <= 4e9:
        raise ValueError(_("“at” as a number is seconds since 1970."))
    return datetime.fromtimestamp(seconds, UTC)


def _celsius(value: Any) -> float:
    if isinstance(value, bool) or not isinstance(value, str | int | float):
        raise ValueError(_("“celsius” is a number like 74.1."))
    found = number(f"{value}")
    if found is None:
        raise ValueError(_("“celsius” is a number like 74.1."))
    return found
