"""Attended minutes: what a person's hands gave to each piece of work.

Clock times are kept raw, from start or resume to pause or finish. Somebody who has several
stages in hand at once gives each an equal share of the time (a bench rule, common practice, no
published source), and a correction by a person stands in place of what was measured.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import pairwise

SECONDS_A_MINUTE = 60.0


@dataclass(frozen=True)
class Span:
    """Hands of one person on one piece of work.

    ``key`` names the span, ``person`` whose hands they were. ``began`` and ``ended`` are aware
    instants; ``ended`` is None while it goes on. ``corrected`` are the minutes that a person
    set in place of the measured ones.
    """

    key: int
    person: int
    began: datetime
    ended: datetime | None = None
    corrected: float | None = None


@dataclass(frozen=True)
class Attended:
    """What a span counts: ``minutes`` of it, ``clock_minutes`` from its begin to its end,
    ``shared_with`` the most other spans at once, ``corrected`` whether a person set them."""

    minutes: float
    clock_minutes: float
    shared_with: int = 0
    corrected: bool = False


def _end(span: Span, now: datetime) -> datetime:
    """The end of a span that counts: now while it goes on, never before its begin."""
    return max(span.began, span.ended if span.ended is not None else now)


def _of_one_person(spans: Sequence[Span], now: datetime) -> dict[int, tuple[float, int]]:
    """Walk the instants at which something begins or ends; share each stretch equally.

    Returns
    -------
    dict
        Seconds and the most others at once, by span key.
    """
    ends = {span.key: _end(span, now) for span in spans}
    instants = sorted({span.began for span in spans} | set(ends.values()))
    seconds: dict[int, float] = defaultdict(float)
    others: dict[int, int] = defaultdict(int)
    for begin, end in pairwise(instants):
        open_now = [one.key for one in spans if one.began <= begin and ends[one.key] >= end]
        for key in open_now:
            seconds[key] += (end - begin).total_seconds() / len(open_now)
            others[key] = max(others[key], len(open_now) - 1)
    return {span.key: (seconds[span.key], others[span.key]) for span in spans}


def attended(spans: Iterable[Span], now: datetime) -> dict[int, Attended]:
    """Return what each span counts, by its key.

    Parameters
    ----------
    spans
        All spans of the persons concerned that touch the time in question: one that is left
        out takes no share. Spans of different persons never share.
    now
        Aware instant up to which open spans count.

    Raises
    ------
    ValueError
        Two spans have the same key.
    """
    by_person: dict[int, list[Span]] = defaultdict(list)
    found: dict[int, Attended] = {}
    known: set[int] = set()
    for span in spans:
        if span.key in known:
            raise ValueError(f"The span {span.key} was given twice.")
        known.add(span.key)
        by_person[span.person].append(span)
    for own in by_person.values():
        shares = _of_one_person(own, now)
        for span in own:
            seconds, others = shares[span.key]
            clock = (_end(span, now) - span.began).total_seconds() / SECONDS_A_MINUTE
            corrected = span.corrected is not None
            minutes = span.corrected if span.corrected is not None else seconds / SECONDS_A_MINUTE
            found[span.key] = Attended(minutes, clock, others, corrected)
    return found


def total(minutes: Mapping[int, Attended], keys: Iterable[int]) -> float:
    """Return the minutes of the spans ``keys`` together."""
    return sum(minutes[key].minutes for key in keys)
