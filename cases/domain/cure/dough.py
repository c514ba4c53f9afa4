"""The dough of one bowl: when it may be packed, and when it has to be closed.

The minutes are those of the resin's maker, counted from the beginning of the mix, in a room as
warm as the maker says. Nothing here says how much a warmer room shortens them: only the maker
knows. Where the maker's minutes are not known there is no window, and the label decides.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Final, Literal

from cases.domain.words import gettext as _

State = Literal["unknown", "mixing", "open", "closing", "passed", "closed"]
Missed = Literal["", "early", "late"]

# How long before the window closes the bench is called. Judgement: enough for one more closing.
WARN_BEFORE: Final = timedelta(minutes=3)
# A room that differs by more than this from the maker's wants a word. Judgement.
NEAR_K: Final = 2.0
# Nobody works in a colder or hotter room. Judgement: beyond it somebody has mistaken a unit.
COLDEST_ROOM_C: Final = 5.0
HOTTEST_ROOM_C: Final = 45.0
# Longer ago nobody remembers it to the minute, and most dough is past. Judgement.
LONGEST_AGO_MIN: Final = 60.0


@dataclass(frozen=True, slots=True)
class Window:
    """From when to when a dough may be packed.

    Attributes
    ----------
    opens_at, closes_at
        None where the maker's minutes are not known.
    closed_at
        When the flask was closed for the last time; None while it is not.
    """

    mixed_at: datetime
    opens_at: datetime | None = None
    closes_at: datetime | None = None
    closed_at: datetime | None = None

    def state(self, now: datetime) -> State:
        """Return where the dough is at an instant."""
        if self.closed_at is not None:
            return "closed"
        if self.closes_at is not None and now >= self.closes_at:
            return "passed"
        if self.opens_at is not None and now < self.opens_at:
            return "mixing"
        if self.closes_at is None:
            return "unknown"
        return "closing" if now >= self.closes_at - WARN_BEFORE else "open"

    @property
    def instants(self) -> dict[str, datetime]:
        """When somebody has to be told of it, by the kind of the timer; none once closed."""
        if self.closed_at is not None:
            return {}
        found = {}
        if self.opens_at is not None and self.opens_at > self.mixed_at:
            found["dough"] = self.opens_at
        if self.closes_at is not None:
            found["dough-soon"] = self.closes_at - WARN_BEFORE
            found["dough-over"] = self.closes_at
        return found

    @property
    def missed(self) -> Missed:
        """On which side of the maker's minutes the flask was closed; empty within them."""
        if self.closed_at is None:
            return ""
        if self.opens_at is not None and self.closed_at < self.opens_at:
            return "early"
        return "late" if self.closes_at is not None and self.closed_at > self.closes_at else ""

    def minutes_to_closing(self) -> float | None:
        """Return the minutes from the mix to the last closing, as a check asks for them."""
        if self.closed_at is None:
            return None
        return round((self.closed_at - self.mixed_at).total_seconds() / 60, 1)


def window(mixed_at: datetime, dough_from: float | None, dough_until: float | None) -> Window:
    """Return the window of a dough.

    Parameters
    ----------
    dough_from, dough_until
        Minutes from the beginning of the mix, as the maker says them; None where not known.
    """

    def at(minutes: float | None) -> datetime | None:
        return None if minutes is None else mixed_at + timedelta(minutes=minutes)

    return Window(mixed_at, at(dough_from), at(dough_until))


def room_words(room_c: float | None, makers_c: float | None) -> str:
    """Say what the warmth of the room does to the maker's minutes; empty where it does nothing.

    Parameters
    ----------
    room_c, makers_c
        The room as somebody read it, and the one for which the maker's minutes hold; None where
        nobody says.
    """
    if room_c is None:
        return ""
    told = {"room": f"{room_c:g}", "maker": f"{makers_c:g}" if makers_c is not None else ""}
    if makers_c is None:
        return (
            _(
                "The room is at %(room)s °C. The maker's times hold for one room temperature, and "
                "nobody entered which: look at the dough."
            )
            % told
        )
    if room_c > makers_c + NEAR_K:
        return (
            _(
                "The room is at %(room)s °C; the maker's times hold for %(maker)s °C. In the "
                "warmer room the dough is ready earlier and stiff earlier than the clock says."
            )
            % told
        )
    if room_c < makers_c - NEAR_K:
        return (
            _(
                "The room is at %(room)s °C; the maker's times hold for %(maker)s °C. In the "
                "colder room the dough is ready later than the clock says: look before you pack."
            )
            % told
        )
    return ""
