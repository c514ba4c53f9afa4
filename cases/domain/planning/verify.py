"""Check a plan against its problem, and say in words what it breaks.

Written apart: nothing of the planner is used here but ``problem``. The planner goes by its small
functions too, so an error in one of them is not seen here.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections import defaultdict
from collections.abc import Iterable, Iterator

from cases.domain.planning.problem import (
    Case,
    Person,
    Plan,
    Planned,
    Problem,
    Span,
    Stage,
    may_sign,
    minutes_of_hands,
    somebody_else,
    van_after,
)
from cases.domain.words import gettext as _


class _Checked:
    """A plan beside its problem, with everything looked up by name."""

    def __init__(self, problem: Problem, plan: Plan) -> None:
        self.problem, self.plan = problem, plan
        self.stages = {stage.key: stage for stage in problem.stages}
        self.cases = {case.key: case for case in problem.cases}
        self.persons = {person.key: person for person in problem.persons}
        self.at = {one.stage: one for one in plan.planned if one.stage in self.stages}
        self.hours = {one.key: one.working for one in problem.persons}
        self.groups: dict[str, list[Planned]] = defaultdict(list)
        for one in self.at.values():
            if one.together:
                self.groups[one.together].append(one)
        self.programs = {program.key: program for program in problem.programs}
        self.release = {case.key: case.release for case in problem.cases}
        self.gone_on_from = {
            after.stage for stage in problem.stages for after in stage.after if stage.key in self.at
        }
        """What something that has a place comes after."""
        self.own: dict[str, list[str]] = defaultdict(list)
        for stage in problem.stages:
            self.own[stage.case].append(stage.key)

    def known(self) -> Iterator[tuple[Stage, Planned]]:
        """Return each stage that has a place, with it."""
        return ((self.stages[key], one) for key, one in self.at.items())


def _crowded(planned: Iterable[Span], running: Iterable[Span], count: int) -> bool:
    """Tell whether a plan puts something where ``count`` are taken already.

    What runs may be more than that: it is so, and no plan has put it there. It begins before
    the plan does, so a plan overcrowds a place first where something of its own begins.
    """
    own = sorted(span for span in planned if span[1] > span[0])
    taken = own + [span for span in running if span[1] > span[0]]
    starts = {start for start, _end in own}
    steps = sorted([(start, 1) for start, _end in taken] + [(end, -1) for _start, end in taken])
    now, at = 0, 0
    for at, (instant, step) in enumerate(steps):
        now += step
        last = at + 1 == len(steps) or steps[at + 1][0] > instant
        if last and instant in starts and now > count:
            return True
    return False


def _near(hours: tuple[Span, ...], one: Planned) -> tuple[Span, ...]:
    """Return the spans of somebody's hours, which are in order, that a stage touches."""
    start, end = min(one.start, one.end), max(one.start, one.end)
    first = bisect_left(hours, start, key=lambda span: span[1])
    return hours[first : bisect_right(hours, end, key=lambda span: span[0])]


def _worked(hours: tuple[Span, ...], start: int, end: int) -> int:
    return sum(max(0, min(end, b) - max(start, a)) for a, b in hours)


def _everything_once(c: _Checked) -> Iterator[str]:
    seen: set[str] = set()
    unplanned = {key for key, words in c.plan.unplanned if words}
    for one in c.plan.planned:
        if one.stage not in c.stages:
            yield _("%(stage)s is planned and not in the problem.") % {"stage": one.stage}
            continue
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
        if one.start < max(stage.not_before, c.release.get(stage.case, 0)):
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
            if pin.bath and one.bath != pin.bath:
                yield _("%(stage)s is pinned to %(bath)s.") % {
                    "stage": stage.key,
                    "bath": pin.bath,
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
        if stage.kind != "attended":
            continue
        person = c.persons.get(one.person)
        if stage.running is not None:
            if person is not None and stage.key in c.gone_on_from:
                yield from _signed(c, stage, one, person)
            continue
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
        hours = _near(c.hours[person.key], one)
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
    if signer is None or signer.key == person.key or not may_sign(signer, stage):
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


def _second_eyes(c: _Checked) -> Iterator[str]:
    longest = {key: max((b - a for a, b in hours), default=0) for key, hours in c.hours.items()}
    for stage, one in c.known():
        if stage.kind != "attended" or stage.running is not None or not one.person:
            continue
        looked_at = c.at.get(stage.other_than)
        did = {stage.not_by, looked_at.person if looked_at else ""}
        if one.person not in did:
            continue
        if set(somebody_else(stage, c.problem.persons, longest)) - {one.person}:
            yield _("%(stage)s looks at what %(person)s did, and somebody else can.") % {
                "stage": stage.key,
                "person": one.person,
            }


def _clock(c: _Checked) -> Iterator[str]:
    for stage, one in c.known():
        waits = stage.running is None and stage.kind in ("unattended", "external")
        if waits and one.end - one.start != stage.minutes:
            yield _("%(stage)s does not last as long as it must.") % {"stage": stage.key}


_Use = tuple[bool, str, int, int]
"""Whether it runs already, what it is, from when until when; what is one use stands once."""


def _too_many(uses: Iterable[_Use], count: int) -> bool:
    found = dict.fromkeys(uses)
    return _crowded(
        [(start, end) for runs, _key, start, end in found if not runs],
        [(start, end) for runs, _key, start, end in found if runs],
        count,
    )


def _one_pair_of_hands(c: _Checked) -> Iterator[str]:
    busy: dict[str, list[_Use]] = defaultdict(list)
    for stage, one in c.known():
        runs = stage.running is not None
        if stage.kind == "attended" and one.person:
            busy[one.person].append((runs, one.together or stage.key, one.start, one.end))
        if stage.kind == "load" and one.person and not runs:
            until = one.start + c.programs[stage.program].hands
            busy[one.person].append((False, one.together, one.start, until))
        if one.signer:
            signed = _("%(stage)s signed") % {"stage": stage.key}
            busy[one.signer].append((False, signed, one.signed_from, one.signed_until))
    for person, uses in busy.items():
        if _too_many(uses, 1):
            yield _("%(person)s would do two things at once.") % {"person": person}


def _stations(c: _Checked) -> Iterator[str]:
    used: dict[str, list[_Use]] = defaultdict(list)
    for stage, one in c.known():
        if stage.station:
            runs = stage.running is not None
            used[stage.station].append((runs, one.together or stage.key, one.start, one.end))
    for station in c.problem.stations:
        if _too_many(used[station.key], station.count):
            yield _("There are only %(count)s of the station %(station)s.") % {
                "count": station.count,
                "station": station.key,
            }


def _things(c: _Checked) -> Iterator[str]:
    used: dict[str, list[Span]] = defaultdict(list)
    kept: dict[str, list[Span]] = defaultdict(list)
    for held in c.problem.held:
        first, last = c.at.get(held.first), c.at.get(held.last)
        if held.first and first is None:
            continue
        start = first.start if first else min(0, last.start if last else 0)
        runs = not held.first or c.stages[held.first].running is not None
        span = (start, last.end + held.rest if last else c.problem.horizon * 2)
        (kept if runs else used)[held.thing].append(span)
    for thing in c.problem.things:
        if _crowded(used[thing.key], kept[thing.key], thing.count):
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
    loads: dict[str, dict[_Use, int]] = defaultdict(lambda: defaultdict(int))
    for stage, one in c.known():
        if stage.kind != "load":
            continue
        bath = baths.get(one.bath)
        if bath is None and stage.running is not None:
            continue  # it is in a bath that is out of use by now: so it is
        if bath is None or (stage.running is None and stage.program not in bath.programs):
            yield _("%(stage)s has no bath that runs %(program)s.") % {
                "stage": stage.key,
                "program": stage.program,
            }
            continue
        runs = stage.running is not None
        loads[bath.key][(runs, "" if runs else one.together, one.start, one.end)] += 1
        if runs:
            continue
        if not one.together:
            # Without a name, two loads at one time would count as one.
            yield _("%(stage)s is in a bath and in no load that has a name.") % {"stage": stage.key}
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
        if _too_many(found, 1):
            yield _("The bath %(key)s would run two loads at once.") % {"key": key}
        planned = [count for (runs, *_at), count in found.items() if not runs]
        if max(planned, default=0) > baths[key].places:
            yield _("The bath %(key)s has only %(places)s places.") % {
                "key": key,
                "places": baths[key].places,
            }


def _pinned_loads(c: _Checked) -> Iterator[str]:
    """Look whether nothing is in a pinned load but what is pinned to its bath and minute."""
    for name, group in c.groups.items():
        stages = [c.stages[one.stage] for one in group]
        pins = {stage.pin for stage in stages if stage.kind == "load" and stage.running is None}
        meant = {(pin.bath, pin.start) if pin and pin.bath else None for pin in pins}
        if len(meant) > 1:
            yield _("The load %(name)s is pinned, and others are in it.") % {"name": name}


def _staying(c: _Checked) -> set[str]:
    """Return what cannot leave: not all planned, no van known after it, or its other half stays."""
    staying = set()
    for case in c.problem.cases:
        own = c.own[case.key]
        done = [c.at[key].end for key in own if key in c.at]
        if not own or len(done) < len(own) or van_after(case, max(done)) is None:
            staying.add(case.key)
    for pair in c.problem.pairs:
        if staying & set(pair):
            staying.update(pair)
    return staying


def _first_van_of_both(first: Case, second: Case, done: int) -> int | None:
    """Return the first van that takes both halves of a pair, None where no van is known to.

    A half for which no vans are known leaves whenever the other does.
    """
    both = set(first.vans or second.vans) & set(second.vans or first.vans)
    if not (first.vans or second.vans):
        return done
    return min((van for van in both if van >= done), default=None)


def _leaving(c: _Checked) -> Iterator[str]:
    stated = {one.case: one for one in c.plan.leaves}
    weighted = 0.0
    paired = {key for pair in c.problem.pairs for key in pair}
    staying = _staying(c)
    for case in c.problem.cases:
        if case.key in staying:
            if case.key in stated:
                yield _(
                    "%(case)s cannot leave: not all of it is planned, no van is known after it, "
                    "or what it leaves with stays."
                ) % {"case": case.key}
            continue
        done = [c.at[key].end for key in c.own[case.key]]
        if case.key not in stated:
            yield _("It is not said when %(case)s leaves.") % {"case": case.key}
            continue
        one = stated[case.key]
        if one.at < max(done) or (case.vans and one.at not in case.vans):
            yield _("%(case)s leaves before it is done, or without a van.") % {"case": case.key}
        if one.late != max(0, one.at - case.due):
            yield _("The lateness of %(case)s is wrong.") % {"case": case.key}
        if case.key not in paired and one.at != van_after(case, max(done)):
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
        elif first in stated and first not in staying:
            last = max(c.at[key].end for half in (first, second) for key in c.own[half])
            van = _first_van_of_both(c.cases[first], c.cases[second], last)
            if van is not None and stated[first].at > van:
                yield _("%(first)s and %(second)s do not leave with the first van of both.") % {
                    "first": first,
                    "second": second,
                }
    if abs(weighted - c.plan.lateness) > 1e-6 * max(1.0, weighted):
        yield _("The weighted lateness is not what the cases sum up to.")


def _sums(c: _Checked) -> Iterator[str]:
    """Look at what the plan says of itself besides its lateness."""
    release = {case.key: case.release for case in c.problem.cases}
    flow = sum(one.at - release[one.case] for one in c.plan.leaves if one.case in release)
    if flow != c.plan.flow:
        yield _("The minutes from release to leaving are not what the cases sum up to.")
    last = {
        one.stage: one.person
        for one in c.problem.last
        if one.person in c.persons and one.start < c.problem.keep_until
    }
    moved = sum(
        key in c.stages and (key not in c.at or c.at[key].person != person)
        for key, person in last.items()
    )
    if moved != c.plan.moves:
        yield _("It is not as many stages that another person does as the plan says.")


_CHECKS = (
    _everything_once, _order, _fixed, _hands, _second_eyes, _clock, _one_pair_of_hands,
    _stations, _things, _batches, _loads, _pinned_loads, _leaving, _sums,
)  # fmt: skip


def verify(problem: Problem, plan: Plan) -> list[str]:
    """Return what a plan breaks, one sentence each; nothing when it may be shown."""
    checked = _Checked(problem, plan)
    return [words for check in _CHECKS for words in check(checked)]
