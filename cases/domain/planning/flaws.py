"""What in a problem cannot be planned at all, said in words with the way out.

A flaw takes its case out of the plan; the rest of the lab is planned.
"""

from __future__ import annotations

from collections import defaultdict

from cases.domain.planning.problem import Problem, Stage
from cases.domain.words import gettext as _


def check_shape(problem: Problem) -> None:
    """Refuse what nobody can mean: names twice or unknown, spans and counts that cannot be.

    Raises
    ------
    ValueError
        With a sentence that names what is wrong.
    """
    for kind in ("cases", "stages", "persons", "stations", "things", "programs", "baths"):
        seen: set[str] = set()
        for one in getattr(problem, kind):
            if one.key in seen:
                raise ValueError(f"{one.key!r} stands twice among the {kind}.")
            seen.add(one.key)
    stages = {stage.key for stage in problem.stages}
    cases = {case.key for case in problem.cases}
    stations = {station.key for station in problem.stations} | {""}
    things = {thing.key for thing in problem.things}
    for stage in problem.stages:
        unknown = (
            stage.case not in cases
            or stage.station not in stations
            or any(after.stage not in stages for after in stage.after)
        )
        if unknown:
            raise ValueError(f"The stage {stage.key!r} names a case, station or stage not given.")
        hands = stage.kind == "attended"
        if stage.minutes < (1 if hands else 0) or not 0 <= stage.setup <= stage.minutes:
            raise ValueError(f"The minutes of the stage {stage.key!r} cannot be.")
    for held in problem.held:
        if held.thing not in things or not {held.first or held.last, held.last} <= stages:
            raise ValueError(f"A holding of {held.thing!r} names a thing or stage not given.")
    for person in problem.persons:
        if any(start >= end for start, end in person.hours + person.overtime):
            raise ValueError(f"The hours of {person.key!r} run backwards.")
    counts = [one.count for one in problem.stations] + [one.count for one in problem.things]
    if any(count < 1 for count in counts):
        raise ValueError("A station or thing needs a count of at least one.")


def _in_circles(problem: Problem) -> set[str]:
    """Return the stages on a circle, or after one."""
    left = {stage.key: len(stage.after) for stage in problem.stages}
    followers: dict[str, list[str]] = defaultdict(list)
    for stage in problem.stages:
        for after in stage.after:
            followers[after.stage].append(stage.key)
    free = [key for key, count in left.items() if count == 0]
    while free:
        key = free.pop()
        del left[key]
        for follower in followers[key]:
            left[follower] -= 1
            if left[follower] == 0:
                free.append(follower)
    return set(left)


def _hands(problem: Problem, stage: Stage, skilled: dict[str, int]) -> str:
    longest = skilled.get(stage.skill)
    if longest is None:
        return _(
            "Nobody who may do “%(skill)s” works in the time planned: give someone the skill, or "
            "extend the calendar."
        ) % {"skill": stage.skill}
    if not stage.pausable and stage.kind == "attended" and longest < stage.minutes:
        return _(
            "%(minutes)s minutes without a break are needed, and nobody who may do “%(skill)s” "
            "works so long in one piece: lengthen a shift, or allow a pause."
        ) % {"minutes": stage.minutes, "skill": stage.skill}
    return ""


def _bath(problem: Problem, stage: Stage) -> str:
    if not any(stage.program in bath.programs and bath.places > 0 for bath in problem.baths) or (
        stage.program not in {program.key for program in problem.programs}
    ):
        return _(
            "No bath can run the program “%(program)s”: choose another program, or give a bath "
            "places for it."
        ) % {"program": stage.program}
    return ""


def find(problem: Problem) -> dict[str, str]:
    """Return a sentence for each stage that cannot have a place, by its key."""
    longest: dict[str, int] = {}
    for person in problem.persons:
        spans = [end - start for start, end in problem.working(person)]
        for skill, pace in person.skills if spans else ():
            longest[skill] = max(longest.get(skill, 0), int(max(spans) / pace))
    circles = _in_circles(problem)
    needs_hands = {program.key for program in problem.programs if program.hands}
    found: dict[str, str] = {}
    for stage in problem.stages:
        if stage.running is not None:
            continue
        words = ""
        if stage.key in circles:
            words = _("Its stages wait for each other in a circle: correct the route.")
        elif stage.kind == "load":
            words = _bath(problem, stage)
            if not words and stage.program in needs_hands:
                words = _hands(problem, stage, longest)
        elif stage.kind == "attended":
            words = _hands(problem, stage, longest)
        if words:
            found[stage.key] = words
    return found
