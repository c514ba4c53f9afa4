"""In which ways hands may do a piece of work, break for break."""

from __future__ import annotations

from bisect import bisect_right

from cases.domain.planning.shop import Shop

Option = tuple[int, int, int, int]
"""Person, first and last start, and how long it then is from start to end."""


def options(
    shop: Shop, person: int, minutes: int, pausable: bool, first: int, last: int
) -> list[Option]:
    """Return the ways in which a person may do some minutes, begun in [first, last]."""
    hours = shop.hours[person]
    found: list[Option] = []
    for gap in range(max(0, bisect_right(hours.starts, first) - 1), len(hours.starts)):
        begins, ends = hours.starts[gap], hours.ends[gap]
        if begins > last:
            break
        breaks = 0
        for at in range(gap, len(hours.starts)):
            if at > gap:
                breaks += hours.starts[at] - hours.ends[at - 1]
            worked = hours.worked[at] - hours.worked_before[gap]
            # Begun at s, the hands have worked `worked - (s - begins)` at the end of gap `at`.
            latest = min(begins + worked - minutes, ends - 1, last)
            before = worked - (hours.ends[at] - hours.starts[at])
            soonest = max(begins, first)
            if at > gap:
                soonest = max(soonest, begins + before - minutes + 1)
            if soonest <= latest:
                found.append((person, soonest, latest, minutes + breaks))
            if not pausable or begins + worked - minutes >= ends - 1:
                break
    return found
