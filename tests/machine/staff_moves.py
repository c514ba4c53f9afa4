"""The moves of the manager for people: roles, skills, shifts, absences, sign-ins."""

from __future__ import annotations

from datetime import timedelta

from cases.models import Absence, Invitation, Person
from cases.services import accounts, people
from cases.services.record import VERBS
from cases.services.secrets import fingerprint
from tests.machine.driver import Driver
from tests.machine.registry import move

NEW_NAMES = ("Ada", "Bo", "Mara")


def _anybody(m: Driver) -> int:
    """Return somebody: mostly one who came in this run, so that the work goes on."""
    known = {person.pk for person in m.shop.people.values()}
    came = list(Person.objects.exclude(pk__in=known).order_by("pk"))
    if came and m.pick.random() < 0.7:
        return int(m.one(came).pk)
    return int(m.shop.people[m.pick.choice(["pavo", "mara", "teo", "noor"])].pk)


@move(1)
def add_person(m: Driver) -> None:
    """Somebody comes to work here; a name that is taken is refused."""
    m.send(
        people.add_person,
        m.who("pavo"),
        name=m.words(m.pick.choice(NEW_NAMES)),
        roles=m.pick.choice([["technician"], ["manager"], ["desk", "technician"]]),
        is_student=m.pick.random() < 0.2,
    )


@move(1)
def change_person(m: Driver) -> None:
    """Change roles; the last manager stays one."""
    person = Person.objects.get(pk=_anybody(m))
    roles = [role for role in people.LAB_ROLES if getattr(person, f"is_{role}")]
    if person.is_manager or m.pick.random() < 0.3:
        roles = m.pick.choice([["technician"], [*roles, "manager"], []])
    m.send(
        people.change_person,
        m.who("pavo"),
        person=person.pk,
        name=m.words(person.name),
        roles=roles,
        is_student=person.is_student,
    )


@move(1)
def leave_or_come_back(m: Driver) -> None:
    """Somebody leaves, or comes back; nobody leaves or comes twice."""
    person = Person.objects.get(pk=_anybody(m))
    if person.name in {"Mara", "Noor"} and m.pick.random() < 0.8:
        return
    verb = people.deactivate if person.active else people.activate
    if m.pick.random() < 0.15:
        verb = people.activate if person.active else people.deactivate
    m.send(verb, m.who("pavo"), person=person.pk)


@move(1)
def set_skills(m: Driver) -> None:
    """Set what somebody can do."""
    m.send(
        people.set_skills,
        m.who("pavo"),
        person=_anybody(m),
        skills=[
            {"skill": key, "speed": m.pick.choice(["1", "0.8", "9"]), "countersign": True}
            for key in m.pick.choice([["wax"], ["wax", "nonsense"], []])
        ],
    )


@move(1)
def set_shifts(m: Driver) -> None:
    """Set when somebody works; a shift that runs backwards is refused."""
    ends = m.pick.choice(["17:00", "16:00", "07:00"])
    shifts = [[day, "08:00", ends] for day in range(5)]
    m.send(people.set_shifts, m.who("pavo"), person=_anybody(m), shifts=shifts)


@move(1)
def set_overtime(m: Driver) -> None:
    """Say how long somebody may stay; nobody stays until midnight."""
    minutes = m.pick.choice([None, 0, 45, 400])
    m.send(people.set_overtime, m.who("pavo"), person=_anybody(m), minutes=minutes)


@move(2)
def absence(m: Driver) -> None:
    """Somebody is away, or not after all."""
    row = m.one(list(Absence.objects.order_by("pk")))
    if m.pick.random() < 0.4:
        m.send(people.remove_absence, m.who("pavo"), absence=row.pk if row else 0)
        return
    first = m.now.date() + timedelta(days=m.pick.choice([0, 3]))
    last = first + timedelta(days=m.pick.choice([0, 2, -1]))
    m.send(
        people.add_absence,
        m.who("pavo"),
        person=_anybody(m),
        first_on=first.isoformat(),
        last_on=last.isoformat(),
    )


@move(1)
def give_pin(m: Driver) -> None:
    """Give somebody a PIN; who is no technician gets none."""
    pin_hash = f"pin${m.pick.random()}"
    m.send(VERBS["person.pin"], m.who("pavo"), person=_anybody(m), pin_hash=pin_hash)


@move(2)
def invite_or_accept(m: Driver) -> None:
    """Invite somebody, or accept an invitation: fresh, used, or by a name that is taken."""
    row = m.one(list(Invitation.objects.order_by("pk")))
    if row is None or m.pick.random() < 0.5:
        digest = f"{m.pick.getrandbits(256):064x}"
        person = m.pick.choice([_anybody(m)] * 9 + [0])
        m.send(
            VERBS["person.invite"], m.who("pavo"), person=person, email="", digest=digest
        )  # fmt: skip
        return
    m.pass_time(m.pick.choice([1, 1, 1, 8 * 24 * 60]))
    m.send(
        VERBS["invitation.accept"],
        None,
        digest=row.token_hash,
        username=m.pick.choice([f"user-{row.person_id}", "pavo", "not this"]),
        password_hash="hidden",
        email="",
    )


@move(1)
def choose_numbering(m: Driver) -> None:
    """Somebody reads teeth in another numbering; one that there is not is refused."""
    who = m.pick.choice(["mara", "noor", "lind", None])
    system = m.pick.choice(["fdi", "universal", "palmer", "runes"])
    m.send(people.choose_numbering, who, system=system)


@move(2)
def own_account(m: Driver) -> None:
    """Sign in, or set one's own password; nobody can do so without a name."""
    who = m.pick.choice(["pavo", "noor", "lind", None])
    kind = m.pick.random()
    if kind < 0.6:
        m.send(m.pick.choice([accounts.signed_in, accounts.password_set]), who)
        return
    user = Person.objects.get(pk=m.shop.people[who or "pavo"].pk).user
    m.send(
        VERBS["account.password-change"],
        who or "pavo",
        right=m.pick.random() < 0.7,
        against=fingerprint(user.password) if user else "",
        password_hash=f"hidden${m.pick.random()}",
    )
