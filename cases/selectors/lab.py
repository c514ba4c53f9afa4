"""Reads for the settings pages, and what an empty laboratory still lacks."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from django.db.models import Count, F, Prefetch, Q, QuerySet

from cases.domain.route import RouteTemplate
from cases.models import (
    Bath,
    ClosedDay,
    Dentist,
    DentistAt,
    Invitation,
    Lab,
    Occupied,
    OpenHours,
    Person,
    Practice,
    PracticeMember,
    Resin,
    RouteVersion,
    Skill,
    Station,
    Tablet,
    Thing,
)
from cases.selectors.cure_limits import cure_limits
from cases.selectors.cure_settings import in_use
from cases.selectors.people import lab_people, skill_holders
from cases.selectors.rule_limits import lab_limits


@dataclass(frozen=True)
class Readiness:
    """What the laboratory has entered; ``skills_nobody_has`` are names of skills of the route."""

    people: int
    technicians: int
    without_pin: int
    skills_nobody_has: tuple[str, ...]
    open_days: int
    closed_days: int
    stations: int
    baths: int
    resins: int
    programs: int
    flasks: int
    articulators: int
    clamps: int
    practices: int
    dentists: int
    tablets: int
    route_version: int
    limits_changed: int
    cure_limits_changed: int
    plan_seconds: int
    plan_overtime: bool


def latest_route() -> RouteVersion | None:
    """Return the newest version of the route."""
    return RouteVersion.objects.order_by("-version").first()


def readiness(today: date) -> Readiness:
    """Return what has been entered and what is still missing."""
    latest = latest_route()
    holders = skill_holders()
    asked: list[str] = []
    if latest is not None:
        template = RouteTemplate.from_json(latest.document)
        asked = [s.skill for s in template.stages if s.skill and s.kind != "external"]
    names = dict(Skill.objects.values_list("key", "name"))
    lacking = tuple(names.get(key, key) for key in dict.fromkeys(asked) if key not in holders)
    things = dict(
        Thing.objects.filter(case=None)
        .exclude(state="gone")
        .values_list("kind")
        .annotate(n=Count("pk"))
        .values_list("kind", "n")
    )
    technicians = Person.objects.filter(active=True, is_technician=True)
    lab = Lab.objects.first()
    return Readiness(
        people=lab_people().filter(active=True).count(),
        technicians=technicians.count(),
        without_pin=technicians.filter(pin_hash="").count(),
        skills_nobody_has=lacking,
        open_days=OpenHours.objects.values("weekday").distinct().count(),
        closed_days=ClosedDay.objects.filter(day__gte=today).count(),
        stations=Station.objects.count(),
        baths=Bath.objects.filter(active=True).count(),
        resins=Resin.objects.filter(active=True).count(),
        programs=in_use().count(),
        flasks=things.get("flask", 0),
        articulators=things.get("articulator", 0),
        clamps=things.get("clamp", 0),
        practices=Practice.objects.filter(active=True).count(),
        dentists=Dentist.objects.filter(active=True).count(),
        tablets=Tablet.objects.filter(revoked_at=None).count(),
        route_version=latest.version if latest else 0,
        limits_changed=sum(len(limits) for limits in lab_limits().values()),
        cure_limits_changed=len(cure_limits()),
        plan_seconds=lab.plan_seconds if lab else 0,
        plan_overtime=bool(lab and lab.plan_overtime),
    )


def practice_list() -> QuerySet[Practice]:
    """Return the practices with ``open_cases`` and ``dentist_count``."""
    return Practice.objects.annotate(
        open_cases=Count("cases", filter=Q(cases__state__in=["open", "packed"]), distinct=True),
        dentist_count=Count("dentists", filter=Q(dentists__dentist__active=True), distinct=True),
    ).order_by("-active", "name", "pk")


def dentists_of(practice: Practice) -> QuerySet[Dentist]:
    """Return the dentists of a practice, with places and their sign-in."""
    places = DentistAt.objects.select_related("practice")
    return (
        Dentist.objects.filter(places__practice=practice)
        .select_related("person__user")
        .prefetch_related(Prefetch("places", queryset=places))
        .order_by("-active", "name", "pk")
    )


def reception_of(practice: Practice) -> QuerySet[PracticeMember]:
    """Return the reception people of a practice with their sign-in."""
    return (
        PracticeMember.objects.filter(practice=practice, person__is_reception=True)
        .select_related("person__user")
        .order_by("person__name", "pk")
    )


def shop_things() -> QuerySet[Thing]:
    """Return flasks, articulators and clamps in use, each with ``holder`` (case number)."""
    return (
        Thing.objects.filter(case=None)
        .exclude(state="gone")
        .prefetch_related(
            Prefetch(
                "occupations",
                queryset=Occupied.objects.filter(freed_at=None).select_related("case"),
                to_attr="now",
            )
        )
        .order_by("kind", "pk")
    )


def tablet_list() -> QuerySet[Tablet]:
    """Return the tablets with who enrolled them, those in use first."""
    return Tablet.objects.select_related("station", "enrolled_by").order_by(
        F("revoked_at").asc(nulls_first=True), "name"
    )


def open_invitation(person: Person) -> Invitation | None:
    """Return the newest invitation of a person that was not used yet."""
    return person.invitations.filter(used_at=None).order_by("-made_at", "-pk").first()
