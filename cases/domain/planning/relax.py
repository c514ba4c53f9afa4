"""Giving up what cannot be kept, so that a case has a place all the same.

A stage should begin by a moment (``Stage.latest``), within a time after another
(``After.most``), or at the start that somebody pinned. Where no plan keeps that, the work is
still to be done: the limit of that case is dropped and said, never the case. What was not in the
way is kept: the steps are tried one by one, the longest waits last.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Literal

from cases.domain.planning.problem import Pin, Problem, Stage

Limit = Literal["moment", "start", "wait"]
Limits = frozenset[Limit]

STEPS: tuple[Limits, ...] = (
    frozenset({"moment"}),
    frozenset({"start"}),
    frozenset({"moment", "start"}),
    frozenset({"moment", "start", "wait"}),
)
"""What is dropped of a case without a place, step by step."""


def limits(stage: Stage) -> Limits:
    """Return which limits a stage has that could be dropped."""
    if stage.running is not None:
        return frozenset()
    found: set[Limit] = set()
    if stage.latest is not None:
        found.add("moment")
    if stage.pin is not None and stage.pin.start is not None:
        found.add("start")
    if any(after.most is not None for after in stage.after):
        found.add("wait")
    return frozenset(found)


def limits_of_cases(problem: Problem) -> dict[str, Limits]:
    """Return which limits each case has, by its key."""
    found: dict[str, Limits] = {}
    for stage in problem.stages:
        found[stage.case] = found.get(stage.case, frozenset()) | limits(stage)
    return found


def relaxed(problem: Problem, dropped: Mapping[str, Limits]) -> Problem:
    """Return the problem without some limits of some cases, by the keys of the cases."""
    stages = tuple(
        _without(stage, dropped[stage.case]) if stage.case in dropped else stage
        for stage in problem.stages
    )
    return replace(problem, stages=stages)


def _without(stage: Stage, dropped: Limits) -> Stage:
    has = limits(stage) & dropped
    if "moment" in has:
        stage = replace(stage, latest=None)
    if "start" in has and stage.pin is not None:
        # Of a load the bath goes with its minute: without that it was meant for nothing.
        person = stage.pin.person
        stage = replace(stage, pin=Pin(person) if person else None)
    if "wait" in has:
        stage = replace(stage, after=tuple(replace(one, most=None) for one in stage.after))
    return stage
