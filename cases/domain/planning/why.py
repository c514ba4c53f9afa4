"""What each stage of a plan waits for until it starts, and what makes a case late.

Read from the plan and its problem alone, whoever made the plan. The time from when nothing but
its last predecessor was missing until its start is cut into *waits*, without gaps, each with
what it was for. Going back from what ended at the end of a wait to what that waited for itself
gives the chain of reasons of a case, back to now.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from itertools import accumulate, islice
from typing import Literal

from cases.domain.planning.problem import Case, Plan, Planned, Problem, Stage, van_after

WaitKind = Literal[
    "stage", "answer", "sign", "setting", "release", "hold", "rest", "practice", "supplier",
    "laboratory", "repairer", "hands", "hours", "station",
    "thing", "load", "together", "bath", "pin", "follow", "order", "pair", "van",
]  # fmt: skip
_Use = tuple[int, int, str]
"""From when until when something is taken, and by which stage."""


@dataclass(frozen=True)
class Wait:
    """A piece of waiting, [``start``, ``end``) in minutes of the problem.

    Attributes
    ----------
    kind
        stage: its predecessor goes on; answer: a practice or another house is to answer; sign:
        countersign; setting: setting or cooling; release: the case is not here yet; hold: it may
        not begin yet; rest: what set or cooled already when the plan was made; practice,
        supplier, laboratory, repairer: who has to act first; hands: the hands that do it do
        another stage; hours: those hands do not work, or not long enough in one piece; station,
        thing: all are taken; load: another piece of its load is not ready; together: another
        piece of its batch is not; bath: the bath runs another load; pin: a manager's choice;
        follow: what must follow it at once would not fit; order: something else was put first;
        pair: the case that leaves with it; van: the next van.
    other
        The stage that is in the way, or whose end it waits for; empty if there is none.
    by
        The person, station, thing, bath or case that it is about; empty if there is none.
    """

    kind: WaitKind
    start: int
    end: int
    other: str = ""
    by: str = ""

    @property
    def minutes(self) -> int:
        """How long it takes, in minutes of the clock."""
        return self.end - self.start


@dataclass(frozen=True)
class Link:
    """A step back on a chain of reasons: a stage (or, first of all, the case) and its wait."""

    of: str
    wait: Wait


@dataclass(frozen=True)
class Step:
    """A stage on the path of a case, and what it waited for after the one before it."""

    stage: str
    waits: tuple[Wait, ...]


class _Uses:
    """The uses of a station or thing, the last to end first."""

    def __init__(self, uses: Iterable[_Use]) -> None:
        self.last_first = sorted(sorted(uses), key=lambda use: -use[1])
        self.starts = sorted(use[0] for use in self.last_first)
        self.ends = sorted(use[1] for use in self.last_first)

    def last_of_full(self, start: int, end: int, count: int) -> _Use | None:
        """Return what gives one back, last in a time, when so many are taken."""
        first = bisect_left(self.last_first, -end, key=lambda use: -use[1])
        for use in islice(self.last_first, first, None):
            if use[1] <= start:
                break
            taken = bisect_left(self.starts, use[1]) - bisect_left(self.ends, use[1])
            if use[0] < end and taken >= count:
                return use
        return None


class Reasons:
    """A plan beside its problem, asked why.

    Raises
    ------
    KeyError
        From its methods, for a stage without a place or a case that does not leave.
    """

    def __init__(self, problem: Problem, plan: Plan) -> None:
        self.problem = problem
        self.stages = {stage.key: stage for stage in problem.stages}
        self.cases = {case.key: case for case in problem.cases}
        self.at = {one.stage: one for one in plan.planned if one.stage in self.stages}
        self.leaves = {one.case: one for one in plan.leaves}
        self.hours = {one.key: one.working for one in problem.persons}
        self.paces = {one.key: dict(one.skills) for one in problem.persons}
        self.programs = {one.key: one for one in problem.programs}
        self.counts = {("station", one.key): one.count for one in problem.stations}
        self.counts |= {("thing", one.key): one.count for one in problem.things}
        self.own: dict[str, list[str]] = defaultdict(list)
        self.groups: dict[str, list[str]] = defaultdict(list)
        self.followed = {a.stage for one in problem.stages for a in one.after if a.most is not None}
        self.told: dict[str, tuple[Wait, ...]] = {}
        self._take()

    def _take(self) -> None:
        """Note who and what is taken when."""
        busy: dict[str, set[_Use]] = defaultdict(set)
        used: dict[tuple[str, str], set[_Use]] = defaultdict(set)
        bath: dict[str, set[_Use]] = defaultdict(set)
        shown: dict[str, str] = {}
        for one in self.at.values():
            stage = self.stages[one.stage]
            self.own[stage.case].append(one.stage)
            if one.together:
                self.groups[one.together].append(one.stage)
            # What is done together is one use, and goes by the name of its first stage.
            name = shown.setdefault(one.together, one.stage) if one.together else one.stage
            if stage.kind == "attended" and one.person:
                busy[one.person].add((one.start, one.end, name))
            if stage.kind == "load":
                bath[one.bath].add((one.start, one.end, name))
                hands = self.programs[stage.program].hands if stage.program in self.programs else 0
                if one.person and hands and stage.running is None:
                    busy[one.person].add((one.start, one.start + hands, name))
            if one.signer:
                busy[one.signer].add((one.signed_from, one.signed_until, one.stage))
            if stage.station:
                used["station", stage.station].add((one.start, one.end, name))
        self.things: dict[str, list[str]] = defaultdict(list)
        for held in self.problem.held:
            first, last = self.at.get(held.first), self.at.get(held.last)
            if held.first and first is None:
                continue
            until = last.end + held.rest if last else self.problem.horizon
            used["thing", held.thing].add((first.start if first else 0, until, held.last))
            if held.first:
                self.things[held.first].append(held.thing)
        self.busy = {key: sorted(spans) for key, spans in busy.items()}
        # By when each use and all before it are over: two may run at once.
        self.over = {
            key: list(accumulate((use[1] for use in uses), max)) for key, uses in self.busy.items()
        }
        self.used = {key: _Uses(spans) for key, spans in used.items()}
        self.bath = {key: sorted(spans) for key, spans in bath.items()}

    # ── one stage ────────────────────────────────────────────────────────────
    def of(self, stage: str) -> tuple[Wait, ...]:
        """Return what a stage waits for, in order of time; nothing for what is running."""
        if stage not in self.told:
            self.told[stage] = self._of(stage)
        return self.told[stage]

    def _of(self, stage: str) -> tuple[Wait, ...]:
        one, asked = self.at[stage], self.stages[stage]
        if asked.running is not None:
            return ()
        waits, ready = self._until_ready(asked)
        if ready < one.start:
            waits += self._at_the_door(asked, one, ready)
        return tuple(wait for wait in waits if wait.end > wait.start)

    def _ends(self, stage: Stage) -> list[tuple[int, int, int, str]]:
        """Return for each predecessor when all of it is over, its signature, its end, its key."""
        found = []
        for after in stage.after:
            one = self.at.get(after.stage)
            if one is not None:
                signed = max(one.end, one.signed_until if one.signer else 0)
                found.append((max(one.end + after.least, signed), signed, one.end, one.stage))
        return sorted(found)

    def ready(self, stage: str) -> int:
        """Return the minute from which a stage might have begun, had all been free for it."""
        return self._until_ready(self.stages[stage])[1]

    def _until_ready(self, stage: Stage) -> tuple[list[Wait], int]:
        waits: list[Wait] = []
        ends = self._ends(stage)
        now = max(0, ends[-2][0]) if len(ends) > 1 else 0
        if ends:
            over, signed, end, key = ends[-1]
            kind: WaitKind = "answer" if self.stages[key].kind == "external" else "stage"
            if end > now:
                waits.append(Wait(kind, now, end, key, self.at[key].person))
            # From its end on the whole wait is shown, whatever else was over by then.
            if signed > max(0, end):
                waits.append(Wait("sign", max(0, end), signed, key, self.at[key].signer))
            if over > max(0, signed):
                waits.append(Wait("setting", max(0, signed), over, key))
            now = max(now, over)
        release = self.cases[stage.case].release
        if release > now:
            waits.append(Wait("release", now, release, by=stage.case))
            now = release
        if stage.not_before > now:
            waits.append(Wait(stage.until or "hold", now, stage.not_before))
            now = stage.not_before
        return waits, now

    def _at_the_door(self, stage: Stage, one: Planned, ready: int) -> list[Wait]:
        """Cut the time in which a stage is ready, and does not begin, into waits."""
        waits: list[Wait] = []
        mates = [key for key in self.groups[one.together] if key != stage.key]
        if mates:
            last = max(mates, key=lambda key: (self.ready(key), key))
            until = min(self.ready(last), one.start)
            if until > ready:
                ends = self._ends(self.stages[last])
                kind: WaitKind = "load" if stage.kind == "load" else "together"
                waits.append(Wait(kind, ready, until, ends[-1][3] if ends else "", last))
                ready = until
        if stage.kind == "load":
            for start, end, key in self.bath.get(one.bath, ()):
                if start < one.start and end > ready:
                    waits += self._hands(stage, one, ready, max(ready, start))
                    waits.append(
                        Wait("bath", max(ready, start), min(end, one.start), key, one.bath)
                    )
                    ready = min(end, one.start)
        return waits + self._hands(stage, one, ready, one.start)

    def _needed(self, stage: Stage, one: Planned) -> int:
        if stage.kind == "load":
            return self.programs[stage.program].hands if stage.program in self.programs else 0
        return int(stage.minutes * self.paces.get(one.person, {}).get(stage.skill, 1.0))

    def _hands(self, stage: Stage, one: Planned, start: int, end: int) -> list[Wait]:
        """Cut [start, end) by what the hands that do the stage do meanwhile."""
        if end <= start:
            return []
        if one.person not in self.hours:
            return self._free(stage, one, start, end)
        busy, over = self.busy.get(one.person, []), self.over.get(one.person, [])
        first, last = bisect_right(over, start), bisect_left(busy, end, key=lambda use: use[0])
        taken = [use for use in busy[first:last] if use[1] > start]
        waits: list[Wait] = []
        now = start
        for begun, ended, key in [*taken, (end, end, "")]:
            if begun > now:
                waits += self._gap(stage, one, now, begun, key)
                now = begun
            if key and ended > now:
                waits.append(Wait("hands", now, min(ended, end), key, one.person))
                now = min(ended, end)
        return waits

    def _gap(self, stage: Stage, one: Planned, start: int, end: int, then: str) -> list[Wait]:
        """Cut time in which the hands do nothing by whether they work."""
        waits: list[Wait] = []
        hours = self.hours[one.person]
        first = bisect_right(hours, start, key=lambda span: span[1])
        last = bisect_left(hours, end, key=lambda span: span[0])
        spans = [(max(a, start), min(b, end)) for a, b in hours[first:last]]
        worked = sum(b - a for a, b in spans)
        needed = self._needed(stage, one)
        now = start
        for a, b in [*spans, (end, end)]:
            if a > now:
                waits.append(Wait("hours", now, a, by=one.person))
            if b > a:
                if then and worked < needed:
                    waits.append(Wait("hands", a, b, then, one.person))
                elif not stage.pausable and b - a < needed:
                    waits.append(Wait("hours", a, b, by=one.person))
                else:
                    waits += self._free(stage, one, a, b)
            now = b
        return waits

    def _free(self, stage: Stage, one: Planned, start: int, end: int) -> list[Wait]:
        """Say why a stage does not begin though hands are free."""
        places: list[tuple[WaitKind, str]] = [("thing", key) for key in self.things[stage.key]]
        if stage.station:
            places.append(("station", stage.station))
        for kind, key in places:
            use = self._last_of_full(kind, key, start, end)
            if use is not None:
                wait = Wait(kind, start, use[1], use[2], key)
                return [wait, *(self._free(stage, one, use[1], end) if use[1] < end else [])]
        if stage.pin is not None:
            return [Wait("pin", start, end, by=stage.pin.person)]
        return [Wait("follow" if stage.key in self.followed else "order", start, end)]

    def _last_of_full(self, kind: str, key: str, start: int, end: int) -> _Use | None:
        """Return what gives back, last in a time, a station or thing of which all are taken."""
        uses = self.used.get((kind, key))
        return None if uses is None else uses.last_of_full(start, end, self.counts[kind, key])

    # ── one case ─────────────────────────────────────────────────────────────
    def chain(self, case: str) -> tuple[Link, ...]:
        """Return the reasons for when a case leaves, from the van back to now.

        Each link names a stage and the last wait before it that something ended with; the next
        link is about what that was. The last link has no other stage: a release, a hold, hours
        or the plan's own order, or its stage runs already and has no wait: then the chain ends
        with the link that names it.
        """
        links: list[Link] = []
        last = self._last(case)
        leaving = self.van(case)
        if leaving is not None:
            links.append(leaving)
            last = leaving.wait.other
        seen: set[str] = set()
        while last and last not in seen:
            seen.add(last)
            waits = self.of(last)
            named = [wait for wait in waits if wait.other] or list(waits)
            if not named:
                break
            links.append(Link(last, named[-1]))
            last = named[-1].other
        return tuple(links)

    def _last(self, case: str) -> str:
        return max(self.own[case], key=lambda key: (self.at[key].end, key))

    def van(self, case: str) -> Link | None:
        """Return what a case waits for when all of it is done, None when it leaves at once."""
        last, leaves = self._last(case), self.leaves[case]
        if leaves.at <= self.at[last].end:
            return None
        return Link(case, self._until_van(self.cases[case], last, leaves.at))

    def _until_van(self, case: Case, last: str, at: int) -> Wait:
        done = self.at[last].end
        van = van_after(case, done)
        if van is None or at > van:
            for pair in self.problem.pairs:
                if case.key in pair:
                    other = pair[0] if pair[1] == case.key else pair[1]
                    slow = max(self.own[other], key=lambda key: (self.at[key].end, key))
                    return Wait("pair", done, at, slow, other)
        return Wait("van", done, at, last)

    def path(self, case: str) -> tuple[Step, ...]:
        """Return the stages that a case's leaving hangs on, in order, with what each waited for.

        From the end of one to the start of the next every minute belongs to a wait.
        """
        steps: list[Step] = []
        last = self._last(case) if self.own[case] else ""
        while last:
            waits = tuple(one for one in self.of(last) if one.kind not in ("stage", "answer"))
            steps.append(Step(last, waits))
            ends = self._ends(self.stages[last])
            last = ends[-1][3] if ends else ""
        return tuple(reversed(steps))

    def late(self) -> list[str]:
        """Return the cases that arrive late, the most weight of lateness first."""
        found = [one for one in self.leaves.values() if one.late > 0]
        found.sort(key=lambda one: (-one.late * self.cases[one.case].weight, one.case))
        return [one.case for one in found]


def lost(path: tuple[Step, ...]) -> dict[WaitKind, int]:
    """Return the minutes on the path of a case by what they were waited for, the most first."""
    sums: dict[WaitKind, int] = defaultdict(int)
    for step in path:
        for wait in step.waits:
            sums[wait.kind] += wait.minutes
    return dict(sorted(sums.items(), key=lambda pair: (-pair[1], pair[0])))
