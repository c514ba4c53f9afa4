"""The open cases as the planner reads them: what is left of each, and what it waits for.

What nobody can know is assumed and named here: how long a practice keeps a try-in or an answer,
and by when a case leaves that was promised for no day.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, time, timedelta
from math import ceil, floor
from typing import Any, cast

from cases.domain.calendar import LabCalendar, NeverOpen
from cases.domain.planning import problem as plan
from cases.domain.promise import NOT_BEFORE_LEAVING
from cases.models import Hold, PlanPin
from cases.selectors.planning.clock import Clock
from cases.selectors.planning.people import EVERYBODY, person_key, sign_skill
from cases.selectors.planning.places import Baths, bath_key, station_key, thing_key
from cases.selectors.planning.rows import EdgeRow, Open, StageRow

ENDED = frozenset({"done", "skipped"})
SENT = "send"
"""The stage that is the van itself: a case leaves with the van after its last stage before."""
AT_PRACTICE = timedelta(days=3)
"""How long a practice keeps what is sent to it. Assumed."""
ANSWER = timedelta(days=2)
"""How long a practice takes to answer. Assumed, where nobody said when."""
NO_PROMISE = timedelta(days=28)
"""By when a case without a promised day is wanted. Assumed."""
SIGN_MINUTES = 5
"""Of hands for signing a student's work. Judgement."""
AT_LEAST = 5
"""Minutes that a stage still takes that has had all of its own. Judgement."""
DAY = 24 * 60


def stage_key(pk: int) -> str:
    """Return the planner's name of a stage."""
    return f"s{pk}"


def stage_pk(key: str) -> int:
    """Return the primary key behind the planner's name of a stage."""
    return int(key[1:])


def case_key(pk: int) -> str:
    """Return the planner's name of a case."""
    return f"k{pk}"


def case_pk(key: str) -> int:
    """Return the primary key behind the planner's name of a case."""
    return int(key[1:])


@dataclass(frozen=True)
class Around:
    """What the stages of every case are read with."""

    clock: Clock
    now: datetime
    calendar: LabCalendar
    baths: Baths
    skills: dict[str, dict[str, float]]
    """Of each person the paces by skill."""
    hours: dict[str, tuple[plan.Span, ...]]
    """Of each person when he works."""
    stations: frozenset[str]
    worked: dict[int, float]
    """Minutes of hands that a stage has had in this attempt, by its primary key."""
    pins: dict[int, PlanPin]


def ends_in_hours(hours: tuple[plan.Span, ...], minutes: int) -> int:
    """Return when work that is in hand ends: over breaks and nights, if it does not end before.

    Who is at it outside his hours is taken to go on until it is done.
    """
    if not any(start <= 0 < end for start, end in hours):
        return minutes
    left = minutes
    for start, end in hours:
        begins = max(0, start)
        if end > begins and left <= end - begins:
            return begins + left
        left -= max(0, end - begins)
    return minutes


def hold_ends(hold: Hold, around: Around) -> datetime:
    """Return when a hold is expected to end: on the day that was said, else by assumption."""
    calendar, today = around.calendar, around.calendar.local_day(around.now)
    day = hold.expected_on or calendar.local_day(hold.opened_at + ANSWER)
    if day <= today:
        day = today + timedelta(days=1)
    try:
        return calendar.next_open(calendar.at(day, time(0)))
    except NeverOpen:
        return calendar.at(day, time(0))


class CaseReader:
    """Reads one case into stages of the planner."""

    def __init__(self, found: Open, around: Around) -> None:
        self.found, self.around, self.clock = found, around, around.clock
        rows = [row for row in found.stages if row.state != "dropped" and row.key != SENT]
        self.by_key = {row.key: row for row in rows}
        # What is in a bath is done for the bench, and runs for the planner.
        self.left = [row for row in rows if row.state not in ENDED or row.pk in around.baths.loads]
        self.open = {row.key for row in self.left}
        self.before: dict[str, list[EdgeRow]] = defaultdict(list)
        self.waits: dict[str, float] = defaultdict(float)
        self._reached: dict[str, set[str]] | None = None
        # No way back from what follows: a student's work is signed before.
        self.signed: set[str] = set()
        for edge in found.edges:
            if edge.before in self.by_key and edge.after in self.by_key:
                self.before[edge.after].append(edge)
                self.waits[edge.before] = max(self.waits[edge.before], edge.min_wait)
                if self.by_key[edge.after].spec.get("photo_before"):
                    self.signed.add(edge.before)

    def stages(self) -> list[plan.Stage]:
        """Return what is left of the case."""
        return [self._stage(row) for row in self.left]

    def handed(self) -> dict[str, str]:
        """Return who does each stage that was handed to somebody, whatever is pinned besides."""
        rows = [row for row in self.left if row.assignee_id]
        return {stage_key(row.pk): who for row in rows if (who := self.person_of(row, None))}

    # ── one stage ────────────────────────────────────────────────────────────
    def _stage(self, row: StageRow) -> plan.Stage:
        not_before, latest = self._window(row)
        until: plan.Until = "rest" if not_before > 0 else ""
        held = [one for one in self.found.holds if not one.stages or row.key in one.stages]
        if row.state in {"planned", "paused"} and row.pk not in self.around.baths.loads:
            for one in held:
                ends = self.clock.not_before(hold_ends(one, self.around))
                if ends > not_before:
                    not_before, until = ends, cast("plan.Until", one.waits_for)
            if row.spec.get("needs_cast") and (sets := self._cast_set()) > not_before:
                not_before, until = sets, "rest"
        common: dict[str, Any] = {
            "key": stage_key(row.pk),
            "case": case_key(row.case_id),
            "after": self._after(row),
            "not_before": max(0, not_before),
            "until": until,
            "latest": None if held else latest,
        }
        if row.pk in self.around.baths.loads:
            load = self.around.baths.loads[row.pk]
            common |= {"latest": None, "not_before": 0, "after": ()}
            return plan.Stage(
                kind="load", minutes=0, program=load.program, running=load.running, **common
            )
        if row.kind == "load":
            return plan.Stage(
                kind="load",
                minutes=0,
                skill=row.skill or EVERYBODY,
                program=self.around.baths.program_of(row.case_id, row.pk),
                pin=self._pin(row, hands=False),
                **common,
            )
        if row.state == "away":
            back = (row.started_at or self.around.now) + AT_PRACTICE
            common |= {"not_before": max(DAY, self.clock.not_before(back)), "until": "practice"}
            return plan.Stage(kind="external", minutes=0, **common)
        if row.kind == "external":
            common["latest"] = None
            return plan.Stage(kind="external", minutes=round(ANSWER.total_seconds() / 60), **common)
        if row.kind == "unattended":
            return plan.Stage(kind="unattended", minutes=ceil(row.minutes), **common)
        return self._attended(row, common)

    def _attended(self, row: StageRow, common: dict[str, Any]) -> plan.Stage:
        skill = row.skill or EVERYBODY
        station = station_key(row.station)
        station = station if station in self.around.stations else ""
        minutes = max(1, ceil(row.minutes))
        if row.state == "countersign":
            common["latest"] = None
            return plan.Stage(
                kind="attended", minutes=SIGN_MINUTES, skill=sign_skill(skill), **common
            )
        running = None
        if row.state in {"running", "paused"}:
            minutes = max(AT_LEAST, ceil(row.minutes - self.around.worked.get(row.pk, 0)))
        if row.state == "running":
            running = self._running(row, skill, minutes)
            common |= {"latest": None, "not_before": 0, "after": ()}
        other_than, not_by = self._second_eyes(row)
        formula = row.spec.get("minutes", {}).get("*", {})
        fresh = row.state == "planned" and bool(row.spec.get("batch"))
        return plan.Stage(
            kind="attended",
            minutes=minutes,
            skill=skill,
            station=station,
            pausable=row.spec.get("night") != "no",
            sign=SIGN_MINUTES if row.key in self.signed else 0,
            sign_skill=sign_skill(skill) if row.key in self.signed else "",
            batch=row.key if fresh else "",
            setup=min(minutes, floor(formula.get("fixed", 0))) if fresh else 0,
            running=running,
            pin=None if running else self._pin(row, hands=True),
            other_than=other_than,
            not_by=not_by,
            **common,
        )

    def _running(self, row: StageRow, skill: str, minutes: int) -> plan.Running:
        key = person_key(row.worker_id) if row.worker_id else ""
        paces = self.around.skills.get(key)
        if paces is None:
            key = ""
        pace = (paces or {}).get(skill, 1.0)
        start = min(0, self.clock.until(row.started_at or self.around.now))
        needed = plan.minutes_of_hands(minutes, pace)
        pausable = row.spec.get("night") != "no"
        end = ends_in_hours(self.around.hours.get(key, ()), needed) if pausable else needed
        return plan.Running(start, end, person=key)

    def _looked_at(self, row: StageRow) -> StageRow | None:
        """Return the stage before this one whose doer leaves this one to somebody else."""
        found = self.by_key.get(row.spec.get("other_than", ""))
        return found if found is not None and row.key in self._reach()[found.key] else None

    def _second_eyes(self, row: StageRow) -> tuple[str, str]:
        """Return the stage whose doer does not do this one, or who did it already."""
        found = self._looked_at(row)
        if found is None:
            return "", ""
        if found.state in {"planned", "paused", "running"}:
            return stage_key(found.pk), ""
        return "", person_key(found.worker_id) if found.worker_id else ""

    def _assigned(self, row: StageRow) -> int | None:
        """Return to whom a stage was handed; who got the whole case looks at none of his own."""
        found = self._looked_at(row)
        own = found is not None and row.assignee_id in {found.worker_id, found.assignee_id}
        return None if own else row.assignee_id

    def person_of(self, row: StageRow, chosen: int | None) -> str:
        """Return who does a stage for which a person was chosen, or nobody: then to whom it was
        handed. Who may not do it counts as nobody."""
        wanted = chosen or self._assigned(row)
        person = person_key(wanted) if wanted else ""
        return person if (row.skill or EVERYBODY) in self.around.skills.get(person, {}) else ""

    def _pin(self, row: StageRow, *, hands: bool) -> plan.Pin | None:
        pinned = self.around.pins.get(row.pk)
        if pinned and row.started_at and row.started_at > pinned.at:
            pinned = None
        person = self.person_of(row, pinned.person_id if pinned else None) if hands else ""
        start = self.clock.not_before(pinned.begins_at) if pinned and pinned.begins_at else None
        if start is not None and start < 0:
            start = None
        bath = ""
        if row.kind == "load" and start is not None and pinned and pinned.bath_id:
            bath = bath_key(pinned.bath_id)
        return plan.Pin(person, start, bath) if person or start is not None else None

    # ── what it comes after ──────────────────────────────────────────────────
    def _wait(self, edge: EdgeRow) -> int:
        before = self.by_key[edge.before]
        if edge.before in NOT_BEFORE_LEAVING or before.kind == "load":
            return 0
        away = AT_PRACTICE.total_seconds() / 60 if before.spec.get("at_practice") else 0
        if before.state == "away":
            away = 0
        return ceil(edge.min_wait + away)

    def _after(self, row: StageRow) -> tuple[plan.After, ...]:
        found: dict[str, plan.After] = {}
        for edge in self.before[row.key]:
            for one in self._open_before(edge):
                known = found.get(one.stage)
                if known is None or known.least < one.least:
                    found[one.stage] = one
        return tuple(found.values())

    def _open_before(self, edge: EdgeRow) -> Iterator[plan.After]:
        """Return the nearest open stages on an edge, behind closed ones too.

        A stage that was skipped early, or left standing, closes nothing: what comes after it
        still waits for the open stage before it.
        """
        before, least = self.by_key[edge.before], self._wait(edge)
        if before.key in self.open:
            most = None if edge.max_wait is None else max(least, floor(edge.max_wait))
            if before.kind == "load" or least >= DAY:
                most = None
            yield plan.After(stage_key(before.pk), least, most)
            return
        wait = 0 if before.state == "skipped" else least
        for earlier in self.before[before.key]:
            for one in self._open_before(earlier):
                yield plan.After(one.stage, one.least + wait)

    def _window(self, row: StageRow) -> tuple[int, int | None]:
        """Return from when and until when the stage may begin by what has ended already.

        A limit that is over, or that nobody can keep because the lab is closed until then, is
        no limit any more: the stage comes as soon as it can. It is not left to the planner to
        give up, who would give up the other last moments of the case with it, and whoever asks
        for a day would be told one without this case in the lab.
        """
        from_, until = self.clock.origin, row.latest_at
        for edge in self.before[row.key]:
            before = self.by_key[edge.before]
            if edge.before in self.open or before.ended_at is None or before.state != "done":
                continue
            wait = 0 if edge.before in NOT_BEFORE_LEAVING else edge.min_wait
            from_ = max(from_, before.ended_at + timedelta(minutes=wait))
            if edge.max_wait is not None:
                over = before.ended_at + timedelta(minutes=edge.max_wait)
                until = over if until is None else min(until, over)
        if until is not None:
            begins = max(from_, self.around.now)
            if not self.around.calendar.open_minutes_between(begins, until):
                until = None
        return self.clock.not_before(from_), None if until is None else self.clock.until(until)

    def _cast_set(self) -> int:
        """Return when plaster on the working cast has set, that is on it already."""
        found = 0
        for row in self.by_key.values():
            if row.state == "done" and row.ended_at and self._until(row, "cast") == "wait":
                over = row.ended_at + timedelta(minutes=self.waits[row.key])
                found = max(found, self.clock.not_before(over))
        return found

    # ── what it holds ────────────────────────────────────────────────────────
    def held(self, kinds: Iterable[str], taken: Mapping[str, Sequence[str]]) -> list[plan.Held]:
        """Return the shared things that the case holds or will hold.

        Parameters
        ----------
        taken
            What it holds already, by kind: the keys of the stages that free each.
        """
        found = []
        place = {row.key: at for at, row in enumerate(self.left)}
        for kind in kinds:
            inside = -1
            for until in taken.get(kind, ()):
                # What should have been freed and was not is held until the case is done.
                at = place.get(until, len(self.left) - 1)
                found.append(plan.Held(thing_key(kind), "", stage_key(self.left[at].pk)))
                inside = max(inside, at)
            for at, row in enumerate(self.left):
                until = self._until(row, kind)
                if at <= inside or not until:
                    continue
                last = row if until in {"finish", "wait"} else self.by_key.get(until, row)
                last = last if last.key in place else row
                rest = ceil(self.waits[row.key]) if until == "wait" else 0
                first = "" if self._runs(row) else stage_key(row.pk)
                found.append(plan.Held(thing_key(kind), first, stage_key(last.pk), rest))
                inside = max(at, place[last.key])
        return found

    def _runs(self, row: StageRow) -> bool:
        return row.state == "running" or row.pk in self.around.baths.loads

    def _until(self, row: StageRow, kind: str) -> str:
        for one in row.spec.get("holds", ()):
            if one["thing"] == kind:
                return str(one["until"])
        return ""

    def cast(self) -> list[plan.Held]:
        """Return the holdings of the one working cast, where two stages could want it at once."""
        wanting = [row for row in self.left if row.spec.get("needs_cast")]
        reach = self._reach()
        at_once = any(
            two.key not in reach[one.key] and one.key not in reach[two.key]
            for at, one in enumerate(wanting)
            for two in wanting[at + 1 :]
        )
        if not at_once:
            return []
        name = f"cast {self.found.case.pk}"
        return [
            plan.Held(
                name,
                "" if row.state == "running" else stage_key(row.pk),
                stage_key(row.pk),
                ceil(self.waits[row.key]) if self._until(row, "cast") == "wait" else 0,
            )
            for row in wanting
        ]

    def _reach(self) -> dict[str, set[str]]:
        """Return of each stage the stages that come after it."""
        if self._reached is not None:
            return self._reached
        following: dict[str, list[str]] = defaultdict(list)
        for after, edges in self.before.items():
            for edge in edges:
                following[edge.before].append(after)
        found: dict[str, set[str]] = {}

        def reach(key: str, trail: frozenset[str]) -> set[str]:
            if key not in found:
                own: set[str] = set()
                for after in following[key]:
                    if after not in trail:
                        own |= {after} | reach(after, trail | {after})
                found[key] = own
            return found[key]

        for key in self.by_key:
            reach(key, frozenset({key}))
        self._reached = found
        return found
