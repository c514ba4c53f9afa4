"""Who works here: reads for the name tiles, the people pages and the hand-on of work."""

from __future__ import annotations

from datetime import date

from django.db.models import Count, Prefetch, Q, QuerySet

from cases.models import Absence, CaseStage, Person, PersonSkill, WorkSpan

IN_THE_LAB = Q(is_desk=True) | Q(is_technician=True) | Q(is_manager=True)


def lab_people() -> QuerySet[Person]:
    """Return everybody who works or worked in the laboratory, not at a practice."""
    return Person.objects.filter(IN_THE_LAB)


def people_list(day: date) -> QuerySet[Person]:
    """Return the people of the lab with skills, user, and ``away`` (absences on ``day``)."""
    skills = PersonSkill.objects.select_related("skill")
    today = Absence.objects.filter(first_on__lte=day, last_on__gte=day)
    return (
        lab_people()
        .select_related("user")
        .prefetch_related(
            Prefetch("skills", queryset=skills),
            Prefetch("absences", queryset=today, to_attr="away"),
        )
        .order_by("-active", "name", "pk")
    )


def bench_people(day: date) -> QuerySet[Person]:
    """Return the technicians for the name tiles, with ``running`` stages and ``away`` today."""
    today = Absence.objects.filter(first_on__lte=day, last_on__gte=day)
    return (
        Person.objects.filter(active=True, is_technician=True)
        .annotate(running=Count("spans", filter=Q(spans__ended_at__isnull=True)))
        .prefetch_related(Prefetch("absences", queryset=today, to_attr="away"))
    )


def running_spans(person: Person) -> QuerySet[WorkSpan]:
    """Return what runs in a person's name, with stage and case."""
    return (
        WorkSpan.objects.filter(person=person, ended_at__isnull=True)
        .select_related("run__stage__case__design")
        .order_by("began_at")
    )


def work_on_the_list(person: Person) -> int:
    """Return how many stages of open cases stand on a person's list."""
    return CaseStage.objects.filter(
        assignee=person,
        state__in=["planned", "paused", "running"],
        case__state__in=["open", "packed"],
    ).count()


def technicians() -> QuerySet[Person]:
    """Return the technicians that work can be given to."""
    return Person.objects.filter(active=True, is_technician=True)


def skill_holders() -> dict[str, list[str]]:
    """Return, for each skill key, the names of the active people who have it."""
    holders: dict[str, list[str]] = {}
    held = PersonSkill.objects.filter(person__active=True, person__is_technician=True)
    for key, name in held.values_list("skill__key", "person__name").order_by("person__name"):
        holders.setdefault(key, []).append(name)
    return holders
