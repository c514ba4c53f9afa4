"""What would save a late case: changes near its reasons, each tried by planning anew.

Candidates come from where the plan says that the case loses time; what is told of each is what
the planner made of it, for the case and for all others. Nothing is guessed.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Collection, Iterator
from dataclasses import dataclass

from cases.domain.planning.dispatch import Stop, best_of, go_on, play, try_rules
from cases.domain.planning.mend import mended
from cases.domain.planning.problem import Plan, Problem, Span
from cases.domain.planning.rules import Rule, latest_start
from cases.domain.planning.score import to_plan
from cases.domain.planning.shop import Shop
from cases.domain.planning.whatif import (
    Helper,
    Lighter,
    Overtime,
    Skilled,
    Unpinned,
    Whatif,
    When,
    minute,
    say,
)
from cases.domain.planning.why import Reasons, Wait
from cases.domain.planning.why_words import Name, same, span
from cases.domain.words import gettext as _
from cases.domain.words import ngettext

DAY = 24 * 60
AT_MOST = 12
"""How many changes are tried. Judgement: each is a plan of the whole lab."""
A_CASE = 6
"""How many are proposed for one case, the likeliest first. Judgement."""
STAYS = 6 * 60
"""Minutes after the end of a day until which somebody may stay to load a bath. Judgement."""
EVENINGS = 3
"""How many times of overtime of one person are proposed for a stage. Judgement."""
DEEP = 30
"""How many links of a chain of reasons are looked at for a case with weight. Judgement."""

Planner = Callable[[Problem], Plan]


@dataclass(frozen=True)
class Effect:
    """What a change does to a case: how many minutes it is late without it, and with it."""

    case: str
    was: int
    now: int


@dataclass(frozen=True)
class Remedy:
    """A change that was tried, and what the planner made of it.

    Attributes
    ----------
    effects
        The cases whose lateness differs, the most saved first.
    lateness
        Weighted minutes late of the whole plan with the change, ``before`` without it. For
        ``Lighter`` each with the weights that hold then.
    """

    change: Whatif
    effects: tuple[Effect, ...]
    lateness: float
    before: float

    def saved(self, case: str) -> int:
        """Return by how many minutes a case is less late; negative if it is later."""
        return next((one.was - one.now for one in self.effects if one.case == case), 0)

    @property
    def harmed(self) -> tuple[Effect, ...]:
        """The cases that it makes late, or later."""
        return tuple(one for one in self.effects if one.now > one.was)


def replan(problem: Problem) -> Plan:
    """Return the best of the last plan mended, nobody pinned by it, and of the dispatcher's.

    The dispatcher's rules let loads wait for more; one rule more is asked, by which they leave
    with what is there: else nobody who stays in the evening would ever help.
    """
    shop = Shop(problem)
    found = [mended(shop, problem.last, 0)] if problem.last else []
    found += try_rules(shop)
    if any(stage.kind == "load" for stage in shop.stages):
        found.append(play(shop, Rule("loads at once", latest_start(shop), patience=0)))
    return to_plan(shop, best_of(found).floor)


def remedies(
    problem: Problem,
    cases: Collection[str] | None = None,
    *,
    planner: Planner = replan,
    base: Plan | None = None,
    at_most: int = AT_MOST,
    stop: Stop = go_on,
) -> tuple[Remedy, ...]:
    """Return the changes that would make some late cases less late.

    Parameters
    ----------
    cases
        Those to be saved; all late ones if None, the most weight of lateness first.
    planner
        Makes a plan of a problem; the same for the lab as it is and as it would be. It must
        give the same plan for the same problem.
    base
        The plan of the lab as it is, where people know it: what they are told is against that.
    at_most
        How many changes are tried.
    stop
        Says that no further change is tried.

    Returns
    -------
    What saves most weight of lateness of the asked cases first; nothing that saves none of them.
    """
    base = base or planner(problem)
    reasons = Reasons(problem, base)
    late = [case for case in reasons.late() if cases is None or case in cases]
    found: list[Remedy] = []
    for change in _first(_proposals(reasons, late), at_most):
        if stop():
            break
        remedy = tried(problem, base, change, planner)
        if any(remedy.saved(case) > 0 for case in late):
            found.append(remedy)
    weight = {case.key: case.weight for case in problem.cases}

    def worth(remedy: Remedy) -> tuple[float, float]:
        saved = sum(weight[case] * max(0, remedy.saved(case)) for case in late)
        return -saved, sum(weight[one.case] * (one.now - one.was) for one in remedy.harmed)

    return tuple(sorted(found, key=worth))


def tried(problem: Problem, base: Plan, change: Whatif, planner: Planner = replan) -> Remedy:
    """Return what the planner makes of a change, against a plan of the lab as it is."""
    plan = planner(change.apply(problem))
    was = {one.case: one.late for one in base.leaves}
    effects = [
        Effect(one.case, was[one.case], one.late)
        for one in plan.leaves
        if one.late != was.get(one.case, one.late)
    ]
    effects.sort(key=lambda one: (one.now - one.was, one.case))
    return Remedy(change, tuple(effects), plan.lateness, base.lateness)


def _first(proposals: Iterator[Whatif], count: int) -> list[Whatif]:
    """Return the first different ones."""
    found: dict[Whatif, None] = {}
    for change in proposals:
        if len(found) >= count:
            break
        found[change] = None
    return list(found)


def _proposals(reasons: Reasons, late: list[str]) -> Iterator[Whatif]:
    """Yield changes for each case in turn, the likeliest of each first."""
    own = [iter(_first(_for_case(reasons, case), A_CASE)) for case in late]
    while own:
        left = []
        for changes in own:
            change = next(changes, None)
            if change is not None:
                yield change
                left.append(changes)
        own = left


def _for_case(reasons: Reasons, case: str) -> Iterator[Whatif]:
    """Yield changes for one case: of each kind the likeliest first, then the next ones."""
    waits = [(step.stage, wait) for step in reasons.path(case) for wait in step.waits]
    waits.sort(key=lambda pair: (-pair[1].minutes, pair[1].start))
    kinds = [
        iter(kind)
        for kind in (
            list(_lighter(reasons, case)),
            list(_overtime(reasons, case)),
            list(_evening(reasons, case)),
            list(_unpinned(reasons, case, waits)),
            list(_helpers(reasons, waits)),
            list(_skilled(reasons, waits)),
        )
    ]
    while kinds:
        left = []
        for kind in kinds:
            change = next(kind, None)
            if change is not None:
                yield change
                left.append(kind)
        kinds = left


Waits = list[tuple[str, Wait]]


def _overtime(reasons: Reasons, case: str) -> Iterator[Whatif]:
    """Yield the overtime of those who do the case's stages and do not stay anyway, the last before
    each ends first.

    The stages first that lose most time: before they begin, or lying over breaks and nights.
    """
    more = {one.key: one.overtime for one in reasons.problem.persons if not one.stays}
    found: list[tuple[int, int, str]] = []
    for step in reasons.path(case):
        one, stage = reasons.at[step.stage], reasons.stages[step.stage]
        if stage.kind == "attended" and stage.running is None:
            waited = sum(wait.minutes for wait in step.waits if wait.kind in ("hands", "hours"))
            found.append((-waited - (one.end - one.start - stage.minutes), one.end, one.person))
    for _lost, end, person in sorted(found):
        spans = [span for span in more.get(person, ()) if 0 <= span[0] < end]
        for start, until in spans[: -1 - EVENINGS : -1]:
            yield Overtime(person, start, until)


def _evening(reasons: Reasons, case: str) -> Iterator[Whatif]:
    """Yield who might stay to load a bath on the evening on which a piece was ready for it."""
    for step in reasons.path(case):
        stage, one = reasons.stages[step.stage], reasons.at[step.stage]
        if stage.kind != "load" or stage.running is not None:
            continue
        program = reasons.programs[stage.program]
        ready = max(0, reasons.ready(stage.key))
        free = [
            max(
                [
                    ready,
                    *(end for start, end, _ in reasons.bath.get(bath.key, ()) if start <= ready),
                ]
            )
            for bath in reasons.problem.baths
            if stage.program in bath.programs and bath.places > 0
        ]
        at = min(free, default=one.start)
        if at + program.minutes >= one.end:
            continue
        for person in reasons.problem.persons:
            if stage.skill not in dict(person.skills):
                continue
            gone = max((end for _, end in reasons.hours[person.key] if end <= at), default=-DAY)
            if at - gone <= STAYS:
                yield Overtime(person.key, gone, at + max(program.hands, 1) + 1, loads=True)


def _helpers(reasons: Reasons, waits: Waits) -> Iterator[Whatif]:
    """Yield one more person for the day of a wait, in the hours of those who have the skill."""
    for key, wait in waits:
        stage = reasons.stages[key]
        if wait.kind in ("hands", "hours") and stage.skill:
            hours = _hours_of_day(reasons, stage.skill, wait.start // DAY)
            if hours:
                yield Helper(stage.skill, hours)


def _hours_of_day(reasons: Reasons, skill: str, day: int) -> tuple[Span, ...]:
    days = [
        tuple(one for one in reasons.hours[person.key] if one[0] // DAY == day)
        for person in reasons.problem.persons
        if skill in dict(person.skills)
    ]
    return max(days, key=lambda spans: sum(b - a for a, b in spans), default=())


def _skilled(reasons: Reasons, waits: Waits) -> Iterator[Whatif]:
    """Yield who does not have the skill of a wait and is least busy until its end."""
    for key, wait in waits:
        skill = reasons.stages[key].skill
        if wait.kind != "hands" or not skill:
            continue
        free: dict[str, int] = defaultdict(int)
        for person in reasons.problem.persons:
            if skill in dict(person.skills) or person.student or not person.bench:
                continue
            free[person.key] = sum(
                max(0, min(b, wait.end) - a) for a, b in reasons.hours[person.key] if a >= 0
            ) - sum(
                min(b, wait.end) - a for a, b, _ in reasons.busy.get(person.key, ()) if a < wait.end
            )
        for person_key in sorted(free, key=lambda one: (-free[one], one))[:2]:
            yield Skilled(person_key, skill)


def _lighter(reasons: Reasons, case: str) -> Iterator[Whatif]:
    """Yield the cases in the way that count more because they are a rush."""
    stages = [wait.other for step in reasons.path(case) for wait in step.waits if wait.other]
    stages += [link.of for link in reasons.chain(case)[:DEEP] if link.of in reasons.stages]
    for key in dict.fromkeys(stages):
        other = reasons.cases[reasons.stages[key].case]
        if other.key != case and other.weight > other.unrushed:
            yield Lighter(other.key)


def _unpinned(reasons: Reasons, case: str, waits: Waits) -> Iterator[Whatif]:
    """Yield the pins on the case's own path and on what is in its way."""
    stages = [key for key, _wait in waits] + [wait.other for _key, wait in waits if wait.other]
    stages += [link.of for link in reasons.chain(case)[:DEEP] if link.of in reasons.stages]
    for key in dict.fromkeys(stages):
        if reasons.stages[key].pin is not None:
            yield Unpinned(key)


def say_remedy(remedy: Remedy, case: str, name: Name = same, when: When = minute) -> str:
    """Return a remedy for a case as a sentence, with what it costs others."""
    own = next((one for one in remedy.effects if one.case == case), None)
    if own is None:
        result = _("%(case)s is as late as now") % {"case": name(case)}
    elif own.now == 0:
        result = _("%(case)s is in time") % {"case": name(case)}
    else:
        result = _("%(case)s is %(late)s late instead of %(was)s") % {
            "case": name(case),
            "late": span(own.now),
            "was": span(own.was),
        }
    harmed = len(remedy.harmed)
    others = (
        ngettext("%(count)s other case is later", "%(count)s other cases are later", harmed)
        % {"count": harmed}
        if harmed
        else _("no other case is later")
    )
    return _("With %(change)s, %(result)s, and %(others)s.") % {
        "change": say(remedy.change, name, when),
        "result": result,
        "others": others,
    }
