"""Hands as the planner reads them: who may do what, how quickly, and when they are there."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta

from cases.domain.calendar import Interval, LabCalendar
from cases.domain.planning import problem as plan
from cases.models import Absence, Lab, Person, PersonSkill, Shift
from cases.selectors.planning.clock import Clock

DAYS_AHEAD = 90
"""How far calendars are laid out. Judgement: the backlog of a lab that still takes cases."""
EVERYBODY = "no skill"
"""The skill of stages that ask for none. With its space it is the key of no skill of a lab."""
SIGN = "sign"


def sign_skill(skill: str) -> str:
    """Return the planner's name for signing a student's work of a skill."""
    return f"{SIGN} {skill}"


def person_key(pk: int) -> str:
    """Return the planner's name of a person; with its space it is the key of no skill."""
    return f"hand {pk}"


def person_pk(key: str) -> int | None:
    """Return the primary key behind the planner's name of a person, None for nobody."""
    return int(key.removeprefix("hand ")) if key else None


def _paces(
    person: Person, skills: Sequence[PersonSkill], known: Iterable[str]
) -> tuple[tuple[str, float], ...]:
    """Return what a person may do and at what pace; a manager may sign whatever is ``known``, and
    that alone where he works at no bench."""
    found = {EVERYBODY: 1.0} if person.is_technician or skills else {}
    signs = set(known) if person.is_manager else set()
    for row in skills:
        found[row.skill.key] = 1 / float(row.speed)
        if row.may_countersign:
            signs.add(row.skill.key)
    if not person.is_student:
        found |= {sign_skill(skill): 1.0 for skill in signs}
    return tuple(sorted(found.items()))


def _own_calendar(
    lab: LabCalendar, shifts: Sequence[Shift], absences: Sequence[Absence], days: Sequence[date]
) -> LabCalendar:
    """Return the calendar of one person; without shifts of their own, the lab's hours hold."""
    away = {day for day in days if any(one.first_on <= day <= one.last_on for one in absences)}
    calendar = replace(lab, closed_days=lab.closed_days | away)
    if not shifts:
        return calendar
    week: list[list[tuple[time, time]]] = [[] for _ in range(7)]
    for shift in sorted(shifts, key=lambda one: one.begins):
        day = week[shift.weekday]
        if day and shift.begins < day[-1][1]:
            day[-1] = (day[-1][0], max(day[-1][1], shift.ends))
        else:
            day.append((shift.begins, shift.ends))
    return replace(calendar, week=tuple(tuple(day) for day in week))


def _spans(intervals: Iterable[Interval], clock: Clock) -> list[plan.Span]:
    found = []
    for begins, ends in intervals:
        start, end = max(0, clock.not_before(begins)), clock.until(ends)
        if start < end:
            found.append((start, end))
    return found


def _calendars(lab: LabCalendar, days: Sequence[date]) -> dict[int, LabCalendar]:
    """Return the calendar of everybody who has shifts or absences of their own (two queries)."""
    shifts: dict[int, list[Shift]] = defaultdict(list)
    for shift in Shift.objects.filter(person__active=True):
        shifts[shift.person_id].append(shift)
    absences: dict[int, list[Absence]] = defaultdict(list)
    last, first = days[-1], days[0]
    for absence in Absence.objects.filter(
        person__active=True, last_on__gte=first, first_on__lte=last
    ):
        absences[absence.person_id].append(absence)
    return {
        person: _own_calendar(lab, shifts[person], absences[person], days)
        for person in {*shifts, *absences}
    }


def hours_on(
    lab: LabCalendar, days: Sequence[date], people: Iterable[Person]
) -> dict[tuple[int, date], list[Interval]]:
    """Return when people work on some days, by person and day (two queries)."""
    own = _calendars(lab, days)
    return {
        (one.pk, day): list(own.get(one.pk, lab).open_intervals(day))
        for one in people
        for day in days
    }


@dataclass(frozen=True)
class Overtime:
    """How long after a shift somebody may stay, and whether that is planned or only named."""

    minutes: int
    planned: bool


def overtime_of(person: Person, lab: Lab | None) -> Overtime:
    """Return the overtime of a person: their own where it is said, else the lab's.

    Of whom it is said that they do not stay nothing is named either.
    """
    if person.overtime_minutes is not None:
        return Overtime(person.overtime_minutes, planned=person.overtime_minutes > 0)
    return Overtime(lab.plan_overtime_minutes if lab else 0, bool(lab and lab.plan_overtime))


def people(lab: LabCalendar, clock: Clock, now: datetime) -> tuple[plan.Person, ...]:
    """Return who works at a bench or signs for it, with skills and hours (five queries)."""
    row = Lab.objects.first()
    today = lab.local_day(now)
    days = [today + timedelta(days=ahead) for ahead in range(DAYS_AHEAD)]
    skills: dict[int, list[PersonSkill]] = defaultdict(list)
    for skill in PersonSkill.objects.select_related("skill").filter(person__active=True):
        skills[skill.person_id].append(skill)
    known = {row.skill.key for rows in skills.values() for row in rows} | {EVERYBODY}
    calendars = _calendars(lab, days)
    found = []
    for person in Person.objects.filter(active=True).order_by("pk"):
        own = skills[person.pk]
        works, signs = bool(own) or person.is_technician, person.is_manager
        if not works and (person.is_student or not signs):
            continue
        calendar = calendars.get(person.pk, lab)
        hours: list[plan.Span] = []
        more: list[plan.Span] = []
        stays = overtime_of(person, row)
        longer = timedelta(minutes=stays.minutes)
        for day in days:
            intervals = calendar.open_intervals(day)
            hours += _spans(intervals, clock)
            if intervals and longer:
                last = intervals[-1][1]
                more += _spans([(last, last + longer)], clock)
        found.append(
            plan.Person(
                person_key(person.pk),
                _paces(person, own, known),
                tuple(hours),
                tuple(more),
                stays=stays.planned,
                student=person.is_student,
                may_sign=not person.is_student
                and (person.is_manager or any(one.may_countersign for one in own)),
                bench=works,
            )
        )
    return tuple(found)
