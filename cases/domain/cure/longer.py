"""A load held longer than its program says: which stage, until when, and where it cannot be."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from math import isfinite
from typing import Final

from cases.domain.cure.program import Hold, Program
from cases.domain.cure.verdict import NO_EXTENSION_FROM_C
from cases.domain.words import gettext as _

MOST_MORE_MINUTES: Final = 24 * 60
"""More than this is a slip of the key: the longest cycle taught is a night. Judgement."""


def prolonged(program: Program, more: Mapping[int, float]) -> Program:
    """Return a program as a load runs it, with the minutes that were added to its stages.

    Parameters
    ----------
    more
        Minutes by the number of the stage, from 0.
    """
    stages = (
        replace(stage, minutes=stage.minutes + more.get(n, 0.0))
        for n, stage in enumerate(program.stages)
    )
    return replace(program, stages=tuple(stages))


def end_minute(program: Program, stage: int) -> float:
    """Return the minute after the heating began at which a stage, counted from 0, is over."""
    return sum(one.ramp_minutes + one.minutes for one in program.stages[: stage + 1])


def stage_at(program: Program, minute: float) -> int:
    """Return the number, from 0, of the stage that runs at ``minute``; the last once all are over.

    The way up to a stage belongs to it.
    """
    for n in range(len(program.stages)):
        if minute < end_minute(program, n):
            return n
    return len(program.stages) - 1


def why_not_longer(stage: Hold, number: int, *, resumable: bool) -> str:
    """Say why a stage cannot be held longer; empty where it can.

    Parameters
    ----------
    number
        Of the stage, from 1.
    resumable
        Whether the maker of the resin allows a cycle to be resumed.
    """
    if not resumable:
        return _(
            "The maker of this resin does not say that a cycle may be resumed, so nothing is "
            "added to it. Ask the maker, or decide otherwise."
        )
    if stage.boil or stage.celsius >= NO_EXTENSION_FROM_C:
        return _(
            "Stage %(number)d is a boil: what it lacks is not made up by minutes. Follow the "
            "maker's instructions."
        ) % {"number": number}
    return ""


def wrong_minutes(minutes: float) -> str:
    """Say what is wrong with minutes that somebody entered; empty where nothing is."""
    if isfinite(minutes) and 1 <= minutes <= MOST_MORE_MINUTES:
        return ""
    return _("Enter 1 to %(most)d minutes.") % {"most": MOST_MORE_MINUTES}
