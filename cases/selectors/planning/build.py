"""The whole lab at one instant as a problem for the planner; a fixed count of queries."""

from __future__ import annotations

import re
from collections import Counter, defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.utils.formats import date_format
from django.utils.translation import gettext as _

from cases.domain.calendar import LabCalendar, is_far, say_day_from
from cases.domain.labour import Span, attended
from cases.domain.planning import problem as plan
from cases.models import (
    Bath,
    Case,
    Lab,
    Person,
    Plan,
    PlanPin,
    PlanStage,
    Practice,
    Skill,
    Station,
    WorkSpan,
)
from cases.selectors.hours import lab_calendar
from cases.selectors.planning.clock import Clock
from cases.selectors.planning.people import (
    DAYS_AHEAD,
    EVERYBODY,
    people,
    person_key,
    sign_skill,
)
from cases.selectors.planning.places import (
    ROUTE_PROGRAM,
    SHARED_WORDS,
    Baths,
    bath_key,
    baths,
    held_now,
    station_key,
    stations,
    thing_counts,
    thing_key,
)
from cases.selectors.planning.rows import Open, StageRow, open_cases
from cases.selectors.planning.work import (
    ENDED,
    NO_PROMISE,
    Around,
    CaseReader,
    case_key,
    stage_key,
    stage_pk,
)

BATCH_LIMIT = 6
"""How many cases are done together at most. Judgement."""
QUOTED = re.compile("“([^”]+)”")
STAGE = re.compile(r"s-?\d+")
MOMENT = re.compile(r"\bminute (\d+)\b")
"""How the planner names a point in time (``flaws.moment``)."""
KEEP = timedelta(days=2)
"""How long moving people against the last plan counts."""


@dataclass(frozen=True)
class Built:
    """A problem, its clock, what its names mean for people, and what its cases were read with.

    ``rows`` are the stages of the open cases by their primary key; ``handed`` says of each stage
    that was handed to a person to whom, by the planner's keys.
    """

    problem: plan.Problem
    clock: Clock
    calendar: LabCalendar
    names: dict[str, str]
    around: Around
    rows: dict[int, StageRow]
    handed: dict[str, str]

    def said(self, sentence: str) -> str:
        """Return a sentence of the planner with what people call things in its names' places, and
        days where it says minutes."""
        named = QUOTED.sub(lambda found: f"“{self.name(found[1])}”", sentence)
        return MOMENT.sub(lambda found: self.day(int(found[1])), named)

    def day(self, minute: int) -> str:
        """Return the day of a minute as people in the lab say it."""
        return say_day_from(self.calendar.local_day(self.clock.instant(minute)), self.today)

    @property
    def today(self) -> date:
        """The day of the lab on which it was read."""
        return self.calendar.local_day(self.clock.origin)

    def moment(self, minute: int) -> str:
        """Return a minute with its day, as people in the lab say it."""
        at = self.clock.instant(minute).astimezone(self.calendar.zone)
        return date_format(at, "D j M Y, H:i" if is_far(at.date(), self.today) else "D j M, H:i")

    def named(self, sentence: str) -> str:
        """Return a sentence of the check, which says the planner's bare names, with people's.

        A name that is a word of its own, as “wax”, stays: it is read as it stands.
        """
        keys = sorted((key for key in self.names if not key.isalpha()), key=len, reverse=True)
        bare = "|".join([*map(re.escape, keys), STAGE.pattern])
        return re.sub(
            rf"(?<![\w-])(?:{bare})(?![\w-])", lambda found: self.name(found[0]), sentence
        )

    def name(self, key: str) -> str:
        """Return what people call something of the problem."""
        if key not in self.names:
            # Of thousands of stages few are ever named.
            self.names[key] = self._stage_name(key) if STAGE.fullmatch(key) else key
        return self.names[key] or key

    def _stage_name(self, key: str) -> str:
        row = self.rows.get(stage_pk(key))
        if row is None:
            return key
        return _("%(number)s, %(stage)s") % {
            "number": self.names[case_key(row.case_id)],
            "stage": _(row.name),
        }


def _worked(now: datetime) -> dict[int, float]:
    """Return the minutes of hands that running and paused stages have had in this attempt.

    Who has several in hand gives each its share.
    """
    rows = WorkSpan.objects.filter(
        run__ended_at__isnull=True, run__stage__state__in=("running", "paused")
    ).order_by("pk")
    stage_of, spans = {}, []
    for row in rows.values_list("pk", "person_id", "began_at", "ended_at", "run__stage_id"):
        stage_of[row[0]] = row[4]
        spans.append(Span(*row[:4]))
    found: dict[int, float] = defaultdict(float)
    for key, counted in attended(spans, now).items():
        found[stage_of[key]] += counted.minutes
    return found


def vans(practice: Practice, calendar: LabCalendar, clock: Clock, today: date) -> tuple[int, ...]:
    """Return the minutes at which boxes leave for a practice."""
    found = []
    for ahead in range(DAYS_AHEAD):
        day = today + timedelta(days=ahead)
        if day.weekday() in practice.ship_weekdays and not calendar.is_closed(day):
            found.append(clock.until(calendar.at(day, practice.cut_off)))
    return tuple(one for one in found if one >= 0)


def weight_of(case: Case, lab: Lab | None, *, rush: bool = True) -> float:
    """Return how many times a minute of lateness of this case counts; without ``rush`` as if it
    were none."""
    weight = 1.0
    if lab is not None and case.rush and rush:
        weight = max(weight, lab.rush_weight)
    if lab is not None and case.remake_of_id is not None:
        weight = max(weight, lab.remake_weight)
    return weight


def _cases(
    found: Iterable[Open], calendar: LabCalendar, clock: Clock, now: datetime
) -> list[plan.Case]:
    lab, today = Lab.objects.first(), calendar.local_day(now)
    by_practice: dict[int, tuple[int, ...]] = {}
    cases = []
    for one in found:
        practice = one.case.practice
        if practice.pk not in by_practice:
            by_practice[practice.pk] = vans(practice, calendar, clock, today)
        due = one.case.leaves_at or now + NO_PROMISE
        cases.append(
            plan.Case(
                case_key(one.case.pk),
                clock.until(due),
                weight_of(one.case, lab),
                vans=by_practice[practice.pk],
                unrushed=weight_of(one.case, lab, rush=False),
            )
        )
    return cases


def _last(clock: Clock, keys: set[str]) -> tuple[plan.Planned, ...]:
    """Return the last published plan of the stages that are still to do."""
    newest = Plan.objects.first()
    if newest is None:
        return ()
    rows = PlanStage.objects.filter(plan=newest).order_by("pk")
    return tuple(
        plan.Planned(
            stage_key(stage),
            clock.until(begins),
            clock.until(ends),
            person_key(person) if person else "",
            bath_key(bath) if bath else "",
            together,
            person_key(signer) if signer else "",
            clock.until(signed) if signed else 0,
        )
        for stage, begins, ends, person, bath, together, signer, signed in rows.values_list(
            "stage_id", "begins_at", "ends_at", "person_id", "bath_id", "together", "signer_id",
            "signed_from",
        )
        if stage_key(stage) in keys
    )  # fmt: skip


def _load_hands(found: Iterable[Open]) -> tuple[int, int]:
    """Return the minutes of hands that loading takes, and how long the route lets a cure last."""
    hands, minutes = 4, 9 * 60
    for one in found:
        cure = {row.key: row for row in one.stages if row.kind == "load"}
        for edge in one.edges:
            if edge.before in cure and cure[edge.before].state not in ENDED:
                return max(1, round(cure[edge.before].minutes)), max(1, round(edge.min_wait))
    return hands, minutes


def build(now: datetime, *, found: list[Open] | None = None) -> Built:
    """Return the lab at ``now`` as a problem.

    Parameters
    ----------
    found
        The open cases, where they are not those of the database as it stands.
    """
    clock, calendar = Clock.at(now), lab_calendar()
    found = open_cases() if found is None else found
    hands, minutes = _load_hands(found)
    in_baths = baths(clock, load_hands=hands, route_minutes=minutes)
    persons = people(calendar, clock, now)
    benches = stations()
    around = Around(
        clock=clock,
        now=now,
        calendar=calendar,
        baths=in_baths,
        skills={one.key: dict(one.skills) for one in persons},
        hours={one.key: one.working for one in persons},
        stations=frozenset(one.key for one in benches),
        worked=_worked(now),
        pins={row.stage_id: row for row in PlanPin.objects.filter(lifted_at__isnull=True)},
    )
    counts, taken = thing_counts(), held_now()
    stages: list[plan.Stage] = []
    held: list[plan.Held] = []
    casts: list[plan.Thing] = []
    with_work: list[Open] = []
    handed: dict[str, str] = {}
    for one in found:
        reader = CaseReader(one, around)
        own = reader.stages()
        if not own:
            continue
        with_work.append(one)
        stages += own
        handed |= reader.handed()
        until = {
            kind: [row.until_stage for row in taken.get((one.case.pk, kind), ())] for kind in counts
        }
        held += reader.held(counts, until)
        cast = reader.cast()
        held += cast
        if cast:
            casts.append(plan.Thing(cast[0].thing))
    keys = {stage.key for stage in stages}
    # A thing that is out of use by now may still be in the hands of a case.
    in_hand = Counter(one.thing for one in held if not one.first)
    counts = {kind: max(count, in_hand[thing_key(kind)]) for kind, count in counts.items()}
    problem = plan.Problem(
        cases=tuple(_cases(with_work, calendar, clock, now)),
        stages=tuple(stages),
        persons=persons,
        stations=benches,
        things=(
            *(plan.Thing(thing_key(kind), count) for kind, count in sorted(counts.items())),
            *casts,
        ),
        held=tuple(held),
        programs=in_baths.programs,
        baths=in_baths.baths,
        pairs=_pairs(with_work),
        batch_limits=tuple(
            (key, BATCH_LIMIT) for key in sorted({one.batch for one in stages if one.batch})
        ),
        last=_last(clock, keys),
        keep_until=round(KEEP.total_seconds() / 60),
        horizon=DAYS_AHEAD * 24 * 60,
    )
    rows = {row.pk: row for one in found for row in one.stages}
    return Built(problem, clock, calendar, _names(found, in_baths), around, rows, handed)


def _pairs(found: Iterable[Open]) -> tuple[tuple[str, str], ...]:
    here = {one.case.pk: one.case for one in found}
    return tuple(
        (case_key(case.pk), case_key(case.twin_id))
        for case in here.values()
        if case.twin_id in here and case.pk < (case.twin_id or 0)
    )


def _names(found: Iterable[Open], in_baths: Baths) -> dict[str, str]:
    """Return what people call all but the stages that a sentence of a plan may name (four
    queries)."""
    names = {EVERYBODY: _("work at the bench"), sign_skill(EVERYBODY): _("countersign")}
    for key, name in Skill.objects.values_list("key", "name"):
        names[key] = _(name)
        names[sign_skill(key)] = _("countersign %(skill)s") % {"skill": _(name)}
    names |= {thing_key(kind): _(words) for kind, words in SHARED_WORDS.items()}
    names |= {station_key(key): _(name) for key, name in Station.objects.values_list("key", "name")}
    names |= {person_key(pk): name for pk, name in Person.objects.values_list("pk", "name")}
    names |= {bath_key(pk): name for pk, name in Bath.objects.values_list("pk", "name")}
    for one in found:
        names[case_key(one.case.pk)] = one.case.number
        names[f"cast {one.case.pk}"] = _("the cast of %(number)s") % {"number": one.case.number}
    return names | in_baths.names | {ROUTE_PROGRAM: _("the cure of the route")}
