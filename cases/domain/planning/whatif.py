"""Changes of a lab that a manager may make, as changes of its problem."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

from cases.domain.planning.problem import Person, Problem, Span
from cases.domain.planning.why_words import Name, same, span
from cases.domain.words import gettext as _

When = Callable[[int], str]
"""Gives the day of a minute of the problem as people say it."""


@dataclass(frozen=True)
class Overtime:
    """A person works in [``start``, ``end``) besides. ``loads`` if it is to load a bath."""

    person: str
    start: int
    end: int
    loads: bool = False

    def apply(self, problem: Problem) -> Problem:
        """Return the problem with the change."""
        return _with_person(
            problem,
            self.person,
            lambda one: replace(one, hours=tuple(sorted((*one.hours, (self.start, self.end))))),
        )

    def say(self, name: Name, when: When) -> str:
        """Return the change in words."""
        words = (
            _("%(person)s stays %(time)s longer on %(day)s to load a bath")
            if self.loads
            else _("%(time)s of overtime for %(person)s on %(day)s")
        )
        return words % {
            "person": name(self.person),
            "time": span(self.end - self.start),
            "day": when(self.start),
        }


@dataclass(frozen=True)
class Skilled:
    """A person may do something more, at some pace."""

    person: str
    skill: str
    pace: float = 1.0

    def apply(self, problem: Problem) -> Problem:
        """Return the problem with the change."""
        return _with_person(
            problem,
            self.person,
            lambda one: replace(one, skills=(*one.skills, (self.skill, self.pace))),
        )

    def say(self, name: Name, when: When) -> str:
        """Return the change in words."""
        return _("%(person)s does %(skill)s too") % {
            "person": name(self.person),
            "skill": name(self.skill),
        }


@dataclass(frozen=True)
class Helper:
    """Somebody more with one skill, in some hours of one day."""

    skill: str
    hours: tuple[Span, ...]
    key: str = "helper"

    def apply(self, problem: Problem) -> Problem:
        """Return the problem with the change."""
        helper = Person(self.key, ((self.skill, 1.0),), self.hours)
        return replace(problem, persons=(*problem.persons, helper))

    def say(self, name: Name, when: When) -> str:
        """Return the change in words."""
        return _("one more person for %(skill)s on %(day)s") % {
            "skill": name(self.skill),
            "day": when(self.hours[0][0]),
        }


@dataclass(frozen=True)
class Lighter:
    """A case is no rush any more: it counts as much as it would then."""

    case: str

    def apply(self, problem: Problem) -> Problem:
        """Return the problem with the change."""
        return replace(
            problem,
            cases=tuple(
                replace(one, weight=one.unrushed) if one.key == self.case else one
                for one in problem.cases
            ),
        )

    def say(self, name: Name, when: When) -> str:
        """Return the change in words."""
        return _("no rush for %(case)s") % {"case": name(self.case)}


@dataclass(frozen=True)
class Unpinned:
    """A pin is lifted."""

    stage: str

    def apply(self, problem: Problem) -> Problem:
        """Return the problem with the change."""
        return replace(
            problem,
            stages=tuple(
                replace(one, pin=None) if one.key == self.stage else one for one in problem.stages
            ),
        )

    def say(self, name: Name, when: When) -> str:
        """Return the change in words."""
        return _("“%(stage)s” is not pinned") % {"stage": name(self.stage)}


Whatif = Overtime | Skilled | Helper | Lighter | Unpinned


def _with_person(problem: Problem, key: str, change: Callable[[Person], Person]) -> Problem:
    return replace(
        problem,
        persons=tuple(change(one) if one.key == key else one for one in problem.persons),
    )


def minute(instant: int) -> str:
    """Name a minute by the count of whole days after the first, where no calendar is at hand."""
    return _("day %(number)s") % {"number": instant // (24 * 60) + 1}


def say(change: Whatif, name: Name = same, when: When = minute) -> str:
    """Return a change in words, as a part of a sentence."""
    return change.say(name, when)
