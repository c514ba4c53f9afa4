"""The moves of the office for those who order: practices, dentists, receptions."""

from __future__ import annotations

from cases.models import Dentist, Practice, PracticeMember
from cases.services import practices
from tests.machine.driver import Driver
from tests.machine.registry import move


def _other(m: Driver) -> Practice:
    """Return a practice: mostly none of those that have cases here."""
    rows = list(Practice.objects.order_by("pk"))
    free = [row for row in rows if row.pk != m.shop.practice.pk]
    chosen: Practice = m.one(free if m.pick.random() < 0.85 else rows)
    return chosen


@move(1)
def add_practice(m: Driver) -> None:
    """A new practice orders; a name that is taken is refused."""
    name = m.pick.choice(["Harbour", "Upper Town", "Green Hill"])
    m.send(practices.add_practice, m.who("noor"), name=m.words(name), phone="12345")


@move(1)
def change_practice(m: Driver) -> None:
    """Change how long the van takes."""
    row = _other(m)
    m.send(
        practices.change_practice,
        m.who("pavo"),
        practice=row.pk,
        name=m.words(row.name),
        code=row.code,
        transit_days=m.pick.choice([1, 2, 31]),
    )


@move(2)
def close_or_open(m: Driver) -> None:
    """Take a practice off the lists or put it on them; not while it has cases here."""
    row = _other(m)
    verb = practices.close_practice if row.active else practices.open_practice
    if m.pick.random() < 0.1:
        verb = practices.open_practice if row.active else practices.close_practice
    m.send(verb, m.who("pavo"), practice=row.pk)


@move(1)
def add_dentist(m: Driver) -> None:
    """A new dentist prescribes."""
    m.send(
        practices.add_dentist,
        m.who("noor"),
        name=m.words(m.pick.choice(["Dr Mo", "Dr Vega"])),
        practices=m.pick.choice([[_other(m).pk], []]),
    )


@move(1)
def change_dentist(m: Driver) -> None:
    """A dentist moves, stops, or gets another number."""
    row = m.one(list(Dentist.objects.order_by("pk")))
    places = [m.shop.practice.pk, _other(m).pk]
    m.send(
        practices.change_dentist,
        m.who("pavo"),
        dentist=row.pk,
        name=m.words(row.name),
        practices=places if row.pk == m.shop.dentist.pk else places[1:],
        active=row.pk == m.shop.dentist.pk or m.pick.random() < 0.8,
    )


@move(1)
def dentist_sign_in(m: Driver) -> None:
    """Let a dentist sign in; once is enough."""
    rows = list(Dentist.objects.order_by("pk"))
    without = [row for row in rows if row.person_id is None]
    chosen = m.one(without if without and m.pick.random() < 0.8 else rows)
    m.send(practices.give_dentist_sign_in, m.who("pavo"), dentist=chosen.pk)


@move(2)
def reception(m: Driver) -> None:
    """Somebody comes to a reception, or goes."""
    if m.pick.random() < 0.5:
        name = m.words(m.pick.choice(["Kim", "Sam"]))
        m.send(practices.add_reception, m.who("pavo"), practice=_other(m).pk, name=name)
        return
    rows = PracticeMember.objects.filter(person__is_reception=True)
    member = m.one(list(rows.exclude(person=m.shop.people["remy"]).order_by("pk")))
    m.send(
        practices.remove_reception,
        m.who("pavo"),
        practice=member.practice_id if member else m.shop.practice.pk,
        person=member.person_id if member else m.shop.people["noor"].pk,
    )
