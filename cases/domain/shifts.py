"""When somebody has gone home and left a stage running.

Wall times are in the laboratory's zone; instants are aware, those that come out are in UTC.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import UTC, datetime, time, timedelta
from zoneinfo import ZoneInfo

Spans = Iterable[tuple[time, time]]

GRACE = timedelta(minutes=15)
"""How long after the end of a shift a running stage is believed. Judgement."""


def _instants(spans: Spans, day: datetime, zone: ZoneInfo) -> list[tuple[datetime, datetime]]:
    return sorted(
        (
            datetime.combine(day.date(), begins, tzinfo=zone).astimezone(UTC),
            datetime.combine(day.date(), ends, tzinfo=zone).astimezone(UTC),
        )
        for begins, ends in spans
    )


def left_at(
    began: datetime, now: datetime, *, zone: ZoneInfo, shifts: Spans, opening: Spans
) -> datetime | None:
    """Return when the hands on a stage must have gone home, or None while they may be there.

    Parameters
    ----------
    began
        When the hands took the stage up.
    now
        The instant to judge at.
    shifts, opening
        The person's shifts and the laboratory's hours on the day of ``began``; none when the
        person is away or the laboratory closed.

    Returns
    -------
    datetime or None
        The end of the shift after which the person did not come back within ``GRACE``; for
        work begun after the last shift the closing time, and after that midnight.
    """
    day = began.astimezone(zone)
    mine = _instants(shifts, day, zone)
    for index, (_begins, ends) in enumerate(mine):
        back = mine[index + 1][0] if index + 1 < len(mine) else None
        if ends > began and (back is None or back - ends > GRACE):
            return ends if now - ends > GRACE else None
    for _begins, ends in _instants(opening, day, zone):
        if ends > began:
            last = max(end for _, end in _instants(opening, day, zone))
            return last if now - last > GRACE else None
    midnight = datetime.combine(day.date() + timedelta(days=1), time(0), tzinfo=zone)
    end = midnight.astimezone(UTC)
    return end if now - end > GRACE else None
