"""What happens in a lab, put into its problem."""

from __future__ import annotations

from dataclasses import replace
from random import Random

from cases.domain.planning.dispatch import dispatch
from cases.domain.planning.problem import Case, Pin, Planned, Problem, Running, Span, Stage


def changed(problem: Problem, stage: str, **facts: object) -> Problem:
    """Return the problem with facts of one stage changed."""
    return replace(
        problem,
        stages=tuple(replace(one, **facts) if one.key == stage else one for one in problem.stages),
    )


def without(spans: tuple[Span, ...], start: int, end: int) -> tuple[Span, ...]:
    pieces = ((a, min(b, start)) for a, b in spans), ((max(a, end), b) for a, b in spans)
    return tuple(sorted((a, b) for piece in pieces for a, b in piece if a < b))


def away(problem: Problem, person: str, start: int, end: int) -> Problem:
    """Return the problem with a person away in [start, end)."""
    return replace(
        problem,
        persons=tuple(
            replace(one, hours=without(one.hours, start, end)) if one.key == person else one
            for one in problem.persons
        ),
    )


def overrun(problem: Problem, planned: Planned, by: int) -> Problem:
    """Return the problem with a stage running that ends later than planned."""
    run = Running(planned.start, planned.end + by, planned.person)
    return changed(problem, planned.stage, running=run)


def arrived(problem: Problem, key: str, like: str, due: int) -> Problem:
    """Return the problem with a new case that has the route of another."""
    stages = tuple(
        replace(
            one,
            key=f"{key} {one.key}",
            case=key,
            running=None,
            after=tuple(replace(after, stage=f"{key} {after.stage}") for after in one.after),
        )
        for one in problem.stages
        if one.case == like
    )
    own = {one.key for one in problem.stages if one.case == like}
    held = tuple(
        replace(one, first=f"{key} {one.first}", last=f"{key} {one.last}")
        for one in problem.held
        if one.last in own and one.thing == "flask"
    )
    case = Case(key, due, 2.0)
    return replace(
        problem,
        cases=(*problem.cases, case),
        stages=problem.stages + stages,
        held=problem.held + held,
    )


def done(problem: Problem, *stages: str) -> Problem:
    """Return the problem without stages that are done; what they held is held until its last."""
    gone = set(stages)
    return replace(
        problem,
        stages=tuple(
            replace(one, after=tuple(after for after in one.after if after.stage not in gone))
            for one in problem.stages
            if one.key not in gone
        ),
        held=tuple(
            replace(one, first="" if one.first in gone else one.first)
            for one in problem.held
            if one.last not in gone
        ),
    )


def stage_of(problem: Problem, key: str) -> Stage:
    return next(one for one in problem.stages if one.key == key)


def shaken(problem: Problem, chance: Random) -> Problem:
    """Return a lab in which some of everything happened: running, pinned, short of things."""
    planned = list(dispatch(problem).planned)
    for one in chance.sample(planned, min(4, len(planned))):
        stage = next(stage for stage in problem.stages if stage.key == one.stage)
        if not stage.after or chance.random() < 0.3:
            run = Running(min(0, one.start), max(1, one.end - one.start), one.person, one.bath)
            problem = changed(problem, one.stage, running=run, after=())
        else:
            start = one.start if chance.random() < 0.6 else None
            shift = chance.choice((0, 0, 15, -30))
            pin = Pin(one.person, start if start is None else max(0, start + shift))
            problem = changed(problem, one.stage, pin=pin)
    stages = tuple(
        replace(one, sign=chance.choice((one.sign, 0, 7))) if one.kind == "attended" else one
        for one in problem.stages
    )
    persons = tuple(
        replace(one, student=chance.random() < 0.3, may_sign=chance.random() < 0.6)
        for one in problem.persons
    )
    things = tuple(
        replace(one, count=max(1, one.count - chance.choice((0, 0, 1, 3))))
        for one in problem.things
    )
    stations = tuple(
        replace(one, count=max(1, one.count - chance.choice((0, 1)))) for one in problem.stations
    )
    return replace(problem, stages=stages, persons=persons, things=things, stations=stations)
