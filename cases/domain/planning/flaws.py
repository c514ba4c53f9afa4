"""What in a problem cannot be planned at all, said in words with the way out.

A flaw takes its case out of the plan; the rest of the lab is planned.
"""

from __future__ import annotations

from collections import defaultdict

from cases.domain.planning.problem import Person, Problem, Stage, may_sign, somebody_else
from cases.domain.words import N_
from cases.domain.words import gettext as _

_UNSIGNED = N_(
    "“%(stage)s” is a student’s work, and nobody may countersign it: give somebody the right, or "
    "the work to somebody else."
)


def moment(minute: int) -> str:
    """Name a minute in a sentence; whoever knows the calendar puts the day in its place."""
    return f"minute {minute}"


def too_late(stage: Stage, begins: int, until: int) -> str:
    """Return a sentence where a stage may begin when nobody's hours are laid out any more.

    Parameters
    ----------
    begins, until
        The first minute at which it may, and the last at which somebody who may do it works.
    """
    if begins < until:
        return ""
    return _(
        "“%(stage)s” may begin on %(since)s at the earliest, and who may do it is planned "
        "until %(until)s: say an earlier end of what it waits for, or leave it; it is planned "
        "when that day is nearer."
    ) % {"stage": stage.key, "since": moment(begins), "until": moment(until)}


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
            or (stage.other_than and stage.other_than not in stages)
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


class _Hands:
    """Who has a skill, and how long and until when he works."""

    def __init__(self, problem: Problem) -> None:
        self.persons = {one.key: one for one in problem.persons}
        self.works = {one.key: one.working for one in problem.persons}
        self.skilled = {skill for one in problem.persons for skill, _pace in one.skills}
        self.longest: dict[str, int] = {}
        self.until: dict[str, int] = {}
        self.horizon = problem.horizon
        for person in problem.persons:
            spans = self.works[person.key]
            for skill, pace in person.skills if spans else ():
                piece = int(max(end - start for start, end in spans) / pace)
                self.longest[skill] = max(self.longest.get(skill, 0), piece)
                self.until[skill] = max(self.until.get(skill, 0), spans[-1][1])

    def flaw(self, stage: Stage, begins: int) -> str:
        """Return a sentence where no hands can do a stage that may begin at a minute."""
        return (
            self._skill(stage)
            or self._given(stage, begins)
            or too_late(stage, begins, self.until.get(stage.skill, 0))
            or self._unsigned(stage)
        )

    def _skill(self, stage: Stage) -> str:
        """Return a sentence where nobody has the skill, the days or the length of a shift."""
        if stage.skill not in self.skilled:
            return _("Nobody may do “%(skill)s”: give someone the skill.") % {"skill": stage.skill}
        longest = self.longest.get(stage.skill)
        if longest is None:
            return _(
                "Nobody who may do “%(skill)s” works before %(until)s: give someone the skill, or "
                "extend the calendar."
            ) % {"skill": stage.skill, "until": moment(self.horizon)}
        if not stage.pausable and stage.kind == "attended" and longest < stage.minutes:
            return _(
                "%(minutes)s minutes without a break are needed, and nobody who may do "
                "“%(skill)s” works so long in one piece: lengthen a shift, or allow a pause."
            ) % {"minutes": stage.minutes, "skill": stage.skill}
        return ""

    def _given(self, stage: Stage, begins: int) -> str:
        """Return a sentence where who is to do it cannot."""
        if stage.pin is None or not stage.pin.person:
            return ""
        words = ""
        person = self.persons.get(stage.pin.person)
        if person is None or stage.skill not in dict(person.skills):
            words = _(
                "“%(stage)s” is given to “%(person)s”, who may not do it or works at no bench: "
                "give it to somebody else."
            )
        elif not any(end > begins for _start, end in self.works[person.key]):
            words = _(
                "“%(stage)s” is given to “%(person)s”, who does not work from %(since)s until "
                "%(until)s: give it to somebody else."
            )
        return words % {
            "stage": stage.key,
            "person": stage.pin.person,
            "since": moment(begins),
            "until": moment(self.horizon),
        }

    def _unsigned(self, stage: Stage) -> str:
        """Return a sentence where only students can do it, and nobody may sign their work."""
        if not stage.sign:
            return ""
        pinned = stage.pin.person if stage.pin is not None else ""
        for key, person in self.persons.items():
            if stage.skill not in dict(person.skills) or not self.works[key]:
                continue
            if (not pinned or pinned == key) and (not person.student or self.signs(stage, person)):
                return ""
        return _(_UNSIGNED) % {"stage": stage.key}

    def signs(self, stage: Stage, doer: Person, end: int = 0) -> bool:
        """Return whether somebody can countersign after ``end`` what a student did."""
        return any(
            until - max(since, end) >= stage.sign
            for key, one in self.persons.items()
            if key != doer.key and may_sign(one, stage)
            for since, until in self.works[key]
        )

    def unsigned(self, stage: Stage) -> str:
        """Return a sentence where a student does a stage now, and nobody may sign it."""
        run = stage.running
        doer = self.persons.get(run.person) if run is not None else None
        if run is None or doer is None or not (stage.sign and doer.student):
            return ""
        if self.signs(stage, doer, run.end):
            return ""
        return _(_UNSIGNED) % {"stage": stage.key}


def _bath(problem: Problem, stage: Stage) -> str:
    pinned = stage.pin.bath if stage.pin is not None else ""
    if pinned and not any(
        bath.key == pinned and stage.program in bath.programs and bath.places > 0
        for bath in problem.baths
    ):
        return _(
            "“%(stage)s” is pinned to the bath “%(bath)s”, which cannot run its program "
            "“%(program)s” or is out of use: lift the pin, or choose another bath."
        ) % {"stage": stage.key, "bath": pinned, "program": stage.program}
    if not any(stage.program in bath.programs and bath.places > 0 for bath in problem.baths) or (
        stage.program not in {program.key for program in problem.programs}
    ):
        return _(
            "No bath can run the program “%(program)s”: choose another program, or give a bath "
            "places for it."
        ) % {"program": stage.program}
    return ""


class _Eyes:
    """Pins that give a second pair of eyes to who did the work."""

    def __init__(self, problem: Problem) -> None:
        self.stages = {stage.key: stage for stage in problem.stages}
        self.persons = problem.persons
        self.longest = {
            one.key: max((end - start for start, end in one.working), default=0)
            for one in problem.persons
        }

    def flaw(self, stage: Stage) -> str:
        """Return a sentence where a stage is pinned to who did, or must do, what it looks at."""
        pinned = stage.pin.person if stage.pin is not None else ""
        if not pinned or not set(somebody_else(stage, self.persons, self.longest)) - {pinned}:
            return ""
        if pinned != stage.not_by and pinned != self._only_one(stage.other_than):
            return ""
        return _(
            "“%(stage)s” is a second pair of eyes, and is pinned to who does what it looks at: "
            "lift one of the two pins, or choose somebody else."
        ) % {"stage": stage.key}

    def _only_one(self, key: str) -> str:
        looked_at = self.stages.get(key)
        if looked_at is None:
            return ""
        if looked_at.running is not None:
            return looked_at.running.person
        if looked_at.pin is not None and looked_at.pin.person:
            return looked_at.pin.person
        able = [one.key for one in self.persons if looked_at.skill in dict(one.skills)]
        return able[0] if len(able) == 1 else ""


def find(problem: Problem) -> dict[str, str]:
    """Return a sentence for each stage that cannot have a place, by its key."""
    circles, hands, eyes = _in_circles(problem), _Hands(problem), _Eyes(problem)
    release = {case.key: case.release for case in problem.cases}
    unsigned = {stage.key: hands.unsigned(stage) for stage in problem.stages}
    needs_hands = {program.key for program in problem.programs if program.hands}
    found: dict[str, str] = {}
    for stage in problem.stages:
        if stage.running is not None:
            continue
        begins = max(stage.not_before, release[stage.case])
        words = ""
        if stage.key in circles:
            words = _("Its stages wait for each other in a circle: correct the route.")
        elif stage.kind == "load":
            words = _bath(problem, stage)
            if not words and stage.program in needs_hands:
                words = hands.flaw(stage, begins)
        elif stage.kind == "attended":
            words = hands.flaw(stage, begins) or eyes.flaw(stage)
        for after in stage.after:
            words = words or unsigned[after.stage]
        if words:
            found[stage.key] = words
    return found
