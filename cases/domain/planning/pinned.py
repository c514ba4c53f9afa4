"""Loads that a manager pinned, as the planner plays them.

Whoever pins a load means its bath and its minute, and the pieces that go into it. The planner
places piece by piece, so it plays a problem in which that cannot go wrong: the bath is taken from
that minute on by a load that is frozen already, and the pieces have a program of their own that
only a bath beside runs, which stands for these hours of the real one. What comes out is said in
the names of the problem that was asked about, and the check knows nothing of all this.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, field, replace

from cases.domain.planning.problem import Bath, Problem, Program, Running, Span, Stage

Wanted = tuple[str, int | None, str]
"""Bath, minute (None: any) and program of a load that is pinned."""


@dataclass(frozen=True)
class Pinned:
    """The problem as it is played.

    Attributes
    ----------
    real
        The bath for which each bath beside stands.
    frozen
        The stages that keep a bath free and are none of a case.
    """

    problem: Problem
    real: dict[str, str] = field(default_factory=dict)
    frozen: frozenset[str] = frozenset()


def with_pinned_loads(problem: Problem) -> Pinned:
    """Return the problem with its pinned loads kept free; the same one where there is none.

    What is in the way already, a load in the bath or another that is pinned, is not put aside: then
    the pieces find no place at their minute, and the pin is given up like any other.
    """
    wanted = _wanted(problem)
    if not wanted:
        return Pinned(problem)
    programs = {one.key: one for one in problem.programs}
    taken = _taken(problem)
    more: dict[str, tuple[str, ...]] = defaultdict(tuple)
    own: dict[str, str] = {}
    new: list[Program] = []
    beside: list[Bath] = []
    frozen: list[Stage] = []
    real: dict[str, str] = {}
    places = {one.key: one.places for one in problem.baths}
    for (bath, start, program), members in wanted.items():
        # Minutes come in no other name, so these are nobody else's.
        name = f"{program} in {bath} from {start}"
        new.append(replace(programs[program], key=name))
        own |= {one.key: name for one in members}
        minutes = programs[program].minutes
        if start is None or any(a < start + minutes and b > start for a, b in taken[bath]):
            more[bath] += (name,)
            continue
        taken[bath].append((start, start + minutes))
        real[f"{bath} from {start}"] = bath
        beside.append(Bath(f"{bath} from {start}", places[bath], (name,)))
        frozen.append(
            Stage(
                f"{bath} kept from {start}", members[0].case, "load", 0, program=program,
                running=Running(start, start + minutes, bath=bath),
            )
        )  # fmt: skip
    played = replace(
        problem,
        stages=(
            *(
                replace(one, program=own[one.key]) if one.key in own else one
                for one in problem.stages
            ),
            *frozen,
        ),
        programs=(*problem.programs, *new),
        baths=(
            *(replace(one, programs=one.programs + more[one.key]) for one in problem.baths),
            *beside,
        ),
    )
    return Pinned(played, real, frozenset(one.key for one in frozen))


def _wanted(problem: Problem) -> dict[Wanted, list[Stage]]:
    """Return what is pinned of loads that can be: the bath runs the program."""
    runs = {one.key: one.programs for one in problem.baths if one.places > 0}
    known = {one.key for one in problem.programs}
    found: dict[Wanted, list[Stage]] = {}
    for stage in problem.stages:
        pin = stage.pin
        if stage.kind != "load" or stage.running is not None or pin is None or not pin.bath:
            continue
        if stage.program in runs.get(pin.bath, ()) and stage.program in known:
            found.setdefault((pin.bath, pin.start, stage.program), []).append(stage)
    return found


def _taken(problem: Problem) -> dict[str, list[Span]]:
    taken: dict[str, list[Span]] = defaultdict(list)
    for stage in problem.stages:
        if stage.kind == "load" and stage.running is not None:
            taken[stage.running.bath].append((stage.running.start, stage.running.end))
    return taken
