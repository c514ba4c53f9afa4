"""Which cases a person may see. Every object for a page comes through here; else it is a 404."""

from __future__ import annotations

from django.db.models import QuerySet

from cases.domain.casenumber import parse
from cases.domain.rights import capabilities
from cases.models import Case, Person, Practice, PracticeMember


def own_practices(person: Person) -> QuerySet[Practice]:
    """Return the practices whose cases a dentist or a receptionist may see."""
    return Practice.objects.filter(members__person=person)


def visible_cases(person: Person, *, door: str) -> QuerySet[Case]:
    """Return the cases that ``person`` may see at ``door``: all, the own practices', or none."""
    held = capabilities(person.roles, door=door)
    if "see-cases" in held:
        return Case.objects.all()
    if "see-own-practice" in held:
        mine = PracticeMember.objects.filter(person=person).values("practice")
        return Case.objects.filter(practice__in=mine)
    return Case.objects.none()


def find_case(person: Person, number: str, *, door: str) -> Case | None:
    """Return the case with this number, when the person may see it.

    Raises
    ------
    ValueError
        When the number is mistyped (wrong check character, not a number); the sentence says so.
    """
    return visible_cases(person, door=door).filter(number=str(parse(number))).first()
