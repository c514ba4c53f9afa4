"""Check a plan against its problem, and say in words what it breaks.

Written apart: nothing of the planner is used here but the words of the problem.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator

from cases.domain.planning.problem import (
    Person,
    Plan,
    Planned,
    Problem,
    Span,
    Stage,
    minutes_of_hands,
    van_after,
)
from cases.domain.words import gettext as _


class _Checked:
    """A plan beside its problem, with everything looked up by name."""

    def __init__(self, problem: Problem, plan: Plan) -> None:
        self.problem, self.plan = problem, plan
        self.stages = {stage.key: stage for stage in problem.stages}
        self.persons = {person.key: person for person in problem.persons}
        self.at = {one.stage: one for one in plan.planned if one.stage in self.stages}
        self.hours = {one.key: problem.working(one) for one in problem.persons}
        self.groups: dict[str, list[Planned]] = defaultdict(list)
        for one in self.at.values():
            if one.together:
                self.groups[one.together].append(one)
        self.programs = {program.key: program for program in problem.programs}

    def known(self) -> Iterator[tuple[Stage, Planned]]:
        """Return each stage that has a place, with it."""
        return ((self.stages[key], one) for key, one in self.at.items())


def _peak(spans: Iterable[Span]) -> int:
    """Return how many of some spans there are at once, at most."""
    steps = sorted(step for start, end in spans if end > start for step in ((start, 1), (end, -1)))
    now = most = 0
    for _instant, step in steps:
        now += step
        most = max(most, now)
    return most


def _worked(hours: tuple[Span, ...], start: int, end: int) -> int:
    return sum(max(0, min(end, b) - max(start, a)) for a, b in hours)


def _everything_once(c: _Checked) -> Iterator[str]:
    seen: set[str] = set()
    unplanned = {key for key, _ in c.plan.unplanned}
    for one in c.plan.planned:
        if one.stage not in c.stages:
            yield _("%(stage)s is planned and not in the problem.") % {"stage": one.stage}
        if one.stage in seen:
            yield _("%(stage)s is planned twice.") % {"stage": one.stage}
        seen.add(one.stage)
        if one.end < one.start or (one.start < 0 and c.stages[one.stage].running is None):
            yield _("%(stage)s ends before it starts, or starts in the past.") % {
                "stage": one.stage
            }
    for key in c.stages:
        if (key in seen) == (key in unplanned):
            yield _("%(key)s must either have a place or a reason why not.") % {"key": key}


def _order(c: _Checked) -> Iterator[str]:
    for stage, one in c.known():
        if stage.running is not None:
            continue
        for after in stage.after:
            before = c.at.get(after.stage)
            if before is None:
                yield _("%(stage)s is planned though %(stage2)s is not.") % {
                    "stage": stage.key,
                    "stage2": after.stage,
                }
                continue
            if one.start < before.end + after.least:
                yield _("%(stage)s starts too soon after %(stage2)s.") % {
                    "stage": stage.key,
                    "stage2": after.stage,
                }
            if after.most is not None and one.start > before.end + after.most:
                yield _("%(stage)s starts too late after %(stage2)s.") % {
                    "stage": stage.key,
                    "stage2": after.stage,
                }
            if before.signer and one.start < before.signed_until:
                yield _("%(stage)s starts before %(stage2)s is countersigned.") % {
                    "stage": stage.key,
                    "stage2": after.stage,
                }
        release = next(case.release for case in c.problem.cases if case.key == stage.case)
        if one.start < max(stage.not_before, release):
            yield _("%(stage)s starts before it may.") % {"stage": stage.key}
        if stage.latest is not None and one.start > stage.latest:
            yield _("%(stage)s starts after the last moment for it.") % {"stage": stage.key}


def _fixed(c: _Checked) -> Iterator[str]:
    for stage, one in c.known():
        if (run := stage.running) is not None:
            if (one.start, one.end, one.person, one.bath) != (
                run.start, run.end, run.person, run.bath,
            ):  # fmt: skip
                yield _("%(stage)s is running and was changed.") % {"stage": stage.key}
        elif (pin := stage.pin) is not None:
            if pin.person and one.person != pin.person:
                yield _("%(stage)s is pinned to %(person)s.") % {
                    "stage": stage.key,
                    "person": pin.person,
                }
            if pin.start is not None and one.start != pin.start:
                yield _("%(stage)s is pinned to minute %(start)s.") % {
                    "stage": stage.key,
                    "start": pin.start,
                }


def _needed(c: _Checked, stage: Stage, one: Planned, pace: float) -> int:
    """Return the minutes of hands that a stage takes, with those it is done together with."""
    group = [c.stages[other.stage] for other in c.groups[one.together]] if one.together else []
    if len(group) < 2:
        return minutes_of_hands(stage.minutes, pace)
    shared = max(member.setup for member in group)
    own = sum(member.minutes - member.setup for member in group)
    return minutes_of_hands(shared + own, pace)


def _pace(person: Person, skill: str) -> float | None:
    return next((pace for own, pace in person.skills if own == skill), None)


def _hands(c: _Checked) -> Iterator[str]:
    for stage, one in c.known():
        if stage.kind != "attended" or stage.running is not None:
            continue
        person = c.persons.get(one.person)
        if person is None:
            yield _("%(stage)s needs hands, and %(person_or__nobody)s is not known.") % {
                "stage": stage.key,
                "person_or__nobody": one.person or "nobody",
            }
            continue
        pace = _pace(person, stage.skill)
        if pace is None:
            yield _("%(person)s may not do %(skill)s, which %(stage)s needs.") % {
                "person": person.key,
                "skill": stage.skill,
                "stage": stage.key,
            }
            continue
        hours = c.hours[person.key]
        if _worked(hours, one.start, one.end) != _needed(c, stage, one, pace):
            yield _("%(stage)s has not the minutes of hands that it needs.") % {"stage": stage.key}
        inside = any(a <= one.start < b for a, b in hours) and any(
            a < one.end <= b for a, b in hours
        )
        if not inside:
            yield _("%(stage)s starts or ends when %(person)s does not work.") % {
                "stage": stage.key,
                "person": person.key,
            }
        if not stage.pausable and not any(a <= one.start and one.end <= b for a, b in hours):
            yield _("%(stage)s may not be paused, and is.") % {"stage": stage.key}
        yield from _signed(c, stage, one, person)


def _signed(c: _Checked, stage: Stage, one: Planned, person: Person) -> Iterator[str]:
    if not (stage.sign and person.student):
        return
    signer = c.persons.get(one.signer)
    if signer is None or signer.key == person.key or not signer.may_sign:
        yield _("%(stage)s is a student's work and has nobody who may countersign it.") % {
            "stage": stage.key
        }
    elif (
        one.signed_from < one.end
        or one.signed_until - one.signed_from != stage.sign
        or not any(a <= one.signed_from and one.signed_until <= b for a, b in c.hours[signer.key])
    ):
        yield _("The countersign of %(stage)s has no time in which %(signer)s works.") % {
            "stage": stage.key,
            "signer": signer.key,
        }


def _clock(c: _Checked) -> Iterator[str]:
    for stage, one in c.known():
        waits = stage.running is None and stage.kind in ("unattended", "external")
        if waits and one.end - one.start != stage.minutes:
            yield _("%(stage)s does not last as long as it must.") % {"stage": stage.key}


def _one_pair_of_hands(c: _Checked) -> Iterator[str]:
    busy: dict[str, dict[tuple[str, int, int], None]] = defaultdict(dict)
    for stage, one in c.known():
        if stage.kind == "attended" and one.person:
            busy[one.person][(one.together or stage.key, one.start, one.end)] = None
        if stage.kind == "load" and one.person and stage.running is None:
            until = one.start + c.programs[stage.program].hands
            busy[one.person][(one.together, one.start, until)] = None
        if one.signer:
            busy[one.signer][
                (_("%(stage)s signed") % {"stage": stage.key}, one.signed_from, one.signed_until)
            ] = None
    for person, spans in busy.items():
        if _peak((start, end) for _key, start, end in spans) > 1:
            yield _("%(person)s would do two things at once.") % {"person": person}


def _stations(c: _Checked) -> Iterator[str]:
    used: dict[str, dict[tuple[str, int, int], None]] = defaultdict(dict)
    for stage, one in c.known():
        if stage.station:
            used[stage.station][(one.together or stage.key, one.start, one.end)] = None
    for station in c.problem.stations:
        if _peak((start, end) for _key, start, end in used[station.key]) > station.count:
            yield _("There are only %(count)s of the station %(station)s.") % {
                "count": station.count,
                "station": station.key,
            }


def _things(c: _Checked) -> Iterator[str]:
    used: dict[str, list[Span]] = defaultdict(list)
    for held in c.problem.held:
        first, last = c.at.get(held.first), c.at.get(held.last)
        if held.first and first is None:
            continue
        start = first.start if first else min(0, last.start if last else 0)
        used[held.thing].append((start, last.end + held.rest if last else c.problem.horizon * 2))
    for thing in c.problem.things:
        if _peak(used[thing.key]) > thing.count:
            yield _("There are only %(count)s of the thing %(thing)s.") % {
                "count": thing.count,
                "thing": thing.key,
            }


def _batches(c: _Checked) -> Iterator[str]:
    limits = dict(c.problem.batch_limits)
    for name, group in c.groups.items():
        stages = [c.stages[one.stage] for one in group]
        if len({(one.start, one.end, one.person, one.bath) for one in group}) > 1:
            yield _("What is done together in %(name)s does not start and end together.") % {
                "name": name
            }
        if stages[0].kind == "load":
            if len({stage.program for stage in stages}) > 1:
                yield _("The load %(name)s would run two programs.") % {"name": name}
        elif len(group) > 1:
            batch = stages[0].batch
            if not batch or len({(s.batch, s.skill, s.station) for s in stages}) > 1:
                yield _("What is in %(name)s cannot be done together.") % {"name": name}
            elif len(group) > limits.get(batch, len(group)):
                yield _("Too many are done together in %(name)s.") % {"name": name}


def _loads(c: _Checked) -> Iterator[str]:
    baths = {bath.key: bath for bath in c.problem.baths}
    loads: dict[str, dict[tuple[str, int, int], int]] = defaultdict(lambda: defaultdict(int))
    for stage, one in c.known():
        if stage.kind != "load":
            continue
        bath = baths.get(one.bath)
        if bath is None or stage.program not in bath.programs:
            yield _("%(stage)s has no bath that runs %(program)s.") % {
                "stage": stage.key,
                "program": stage.program,
            }
            continue
        together = "running" if stage.running is not None else one.together
        loads[bath.key][(together, one.start, one.end)] += 1
        if stage.running is not None:
            continue
        program = c.programs[stage.program]
        if one.end - one.start != program.minutes:
            yield _("%(stage)s is not in the bath as long as %(program)s runs.") % {
                "stage": stage.key,
                "program": stage.program,
            }
        person = c.persons.get(one.person)
        if program.hands and (
            person is None
            or _pace(person, stage.skill) is None
            or not any(
                a <= one.start and one.start + program.hands <= b for a, b in c.hours[person.key]
            )
        ):
            yield _("Nobody is there who may load %(stage)s.") % {"stage": stage.key}
    for key, found in loads.items():
        if _peak((start, end) for _key, start, end in found) > 1:
            yield _("The bath %(key)s would run two loads at once.") % {"key": key}
        if max(found.values(), default=0) > baths[key].places:
            yield _("The bath %(key)s has only %(places)s places.") % {
                "key": key,
                "places": baths[key].places,
            }


def _leaving(c: _Checked) -> Iterator[str]:
    stated = {one.case: one for one in c.plan.leaves}
    weighted = 0.0
    for case in c.problem.cases:
        own = [stage.key for stage in c.problem.stages if stage.case == case.key]
        done = [c.at[key].end for key in own if key in c.at]
        if not own or len(done) < len(own):
            if case.key in stated:
                yield _("%(case)s cannot leave: not all of it is planned.") % {"case": case.key}
            continue
        if case.key not in stated:
            yield _("It is not said when %(case)s leaves.") % {"case": case.key}
            continue
        one = stated[case.key]
        if one.at < max(done) or (case.vans and one.at not in case.vans):
            yield _("%(case)s leaves before it is done, or without a van.") % {"case": case.key}
        if one.late != max(0, one.at + case.transit - case.due):
            yield _("The lateness of %(case)s is wrong.") % {"case": case.key}
        paired = any(case.key in pair for pair in c.problem.pairs)
        if not paired and one.at != van_after(case, max(done)):
            yield _("%(case)s does not leave with the first van.") % {"case": case.key}
        weighted += case.weight * one.late
    for first, second in c.problem.pairs:
        if (first in stated) != (second in stated) or (
            first in stated and stated[first].at != stated[second].at
        ):
            yield _("%(first)s and %(second)s must leave together.") % {
                "first": first,
                "second": second,
            }
    if abs(weighted - c.plan.lateness) > 1e-6 * max(1.0, weighted):
        yield _("The weighted lateness is not what the cases sum up to.")


_CHECKS = (
    _everything_once, _order, _fixed, _hands, _clock, _one_pair_of_hands, _stations, _things,
    _batches, _loads, _leaving,
)  # fmt: skip


def verify(problem: Problem, plan: Plan) -> list[str]:
    """Return what a plan breaks, one sentence each; nothing when it may be shown."""
    checked = _Checked(problem, plan)
    return [words for check in _CHECKS for words in check(checked)]
