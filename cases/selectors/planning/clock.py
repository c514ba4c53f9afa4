"""Minutes of a plan and instants of the lab, both ways."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from math import ceil, floor

MINUTE = timedelta(minutes=1)


@dataclass(frozen=True)
class Clock:
    """Whole minutes after ``origin``; a plan of the lab begins at minute 0."""

    origin: datetime

    @classmethod
    def at(cls, now: datetime) -> Clock:
        """Return the clock of a plan that is made now: its minute 0 is the minute that runs."""
        return cls(now.replace(second=0, microsecond=0))

    def not_before(self, instant: datetime) -> int:
        """Return the first whole minute that is not before an instant."""
        return ceil((instant - self.origin) / MINUTE)

    def until(self, instant: datetime) -> int:
        """Return the last whole minute that is not after an instant."""
        return floor((instant - self.origin) / MINUTE)

    def instant(self, minute: int) -> datetime:
        """Return the instant of a minute."""
        return self.origin + minute * MINUTE
