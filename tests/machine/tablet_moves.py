"""The moves of the shared tablets: enrol, open, change person, leave, put down."""

from __future__ import annotations

from datetime import timedelta

from cases.models import BenchSession, Station, Tablet, WorkSpan
from cases.services import labour, put_down, tablets
from cases.services.record import VERBS
from cases.services.secrets import fingerprint
from tests.machine.driver import Driver
from tests.machine.registry import BENCH, move


def _tablet(m: Driver) -> int | None:
    """Return a tablet in use; now and then one that is not, or none."""
    rows = list(Tablet.objects.order_by("pk"))
    live = [row for row in rows if row.revoked_at is None]
    row = m.one(live if live and m.pick.random() < 0.9 else rows)
    return row.pk if row and m.pick.random() < 0.95 else None


def _name_and_pin(m: Driver, who: str) -> dict[str, object]:
    person = type(m.shop.people[who]).objects.get(pk=m.shop.people[who].pk)
    return {
        "person": person.pk,
        "right": m.pick.random() < 0.75,
        "against": fingerprint(person.pin_hash),
    }


@move(1)
def enrol(m: Driver) -> None:
    """Enrol a tablet, or another one of the same name."""
    place = m.one(list(Station.objects.order_by("pk")))
    m.send(
        VERBS["tablet.enrol"],
        m.who("pavo"),
        name=m.words(m.pick.choice(["Bench 3", "Bench 4", "Bench 5"])),
        station=place.pk,
        digest=f"{m.pick.getrandbits(256):064x}",
    )


@move(1)
def revoke(m: Driver) -> None:
    """Take a tablet out of use, or one that is; now and then one that never was."""
    if m.pick.random() < 0.1:
        m.send(tablets.revoke, m.who("pavo"), tablet=0)
    if Tablet.objects.filter(revoked_at=None).count() > 1 or m.pick.random() < 0.1:
        row = m.one(list(Tablet.objects.order_by("pk")))
        m.send(tablets.revoke, m.who("pavo"), tablet=row.pk)


@move(2)
def open_or_identify(m: Driver) -> None:
    """Enter a PIN at a tablet, right or wrong."""
    body = _name_and_pin(m, m.who(*BENCH))
    tablet = _tablet(m)
    if m.pick.random() < 0.6:
        m.send(VERBS["bench.open"], None, door="bench", at_tablet=tablet, **body)
    else:
        who = m.who(*BENCH)
        m.send(VERBS["bench.identify"], who, door="bench", at_tablet=tablet, **body)


@move(1)
def lock(m: Driver) -> None:
    """Lock a tablet, by a tap or by itself."""
    m.pass_time(m.pick.choice([1, 9]))
    how = m.pick.choice(["change", "change", "idle", "slammed"])
    m.send(tablets.close_bench, None, door="bench", at_tablet=_tablet(m), how=how)


@move(1)
def nobody_touches(m: Driver) -> None:
    """A tablet locks by itself; now and then one that was just touched or is locked already."""
    m.pass_time(m.pick.choice([1, 9, 9, 30]))
    rows = list(BenchSession.objects.order_by("pk"))
    live = [row for row in rows if row.closed_at is None]
    row = m.one(live if live and m.pick.random() < 0.9 else rows)
    door = "clock" if m.pick.random() < 0.9 else "bench"
    m.send(tablets.lock_idle, None, door=door, session=row.pk if row else 0)


@move(4)
def after_a_lock(m: Driver) -> None:
    """Say what became of the work that a tablet put down: it went on, or ended some time."""
    asked = list(WorkSpan.objects.filter(to_check=True, ended_how="lock"))
    row = m.one(asked) if asked and m.pick.random() < 0.9 else WorkSpan.objects.first()
    if row is None:
        return
    names = {person.pk: name for name, person in m.shop.people.items()}
    who = m.who(names[row.person_id])
    m.pass_time(m.pick.choice([1, 20]))
    if m.pick.random() < 0.6:
        both = [one.pk for one in asked if one.person_id == row.person_id] or [row.pk]
        m.send(labour.went_on, who, spans=m.pick.choice([both, [row.pk]]))
        return
    until = (row.ended_at or m.now) + timedelta(minutes=m.pick.choice([-2, 0, 1, 15]))
    m.send(labour.stopped_at, who, span=row.pk, until=until.isoformat())


@move(2)
def leave(m: Driver) -> None:
    """End one's work; who is not of the bench cannot."""
    who = m.who("mara", "oren", "teo", "noor")
    m.send(tablets.leave_bench, who, door="bench", at_tablet=_tablet(m))


@move(2)
def forgotten(m: Driver) -> None:
    """The clock puts a stage down; now and then one that nobody has in hand."""
    running = list(WorkSpan.objects.filter(ended_at=None))
    row = m.one(running) if running and m.pick.random() < 0.9 else WorkSpan.objects.first()
    door = "clock" if m.pick.random() < 0.9 else "web"
    who = None if door == "clock" else "mara"
    m.send(put_down.put_down, who, door=door, span=row.pk if row else 0)


@move(1)
def own_pin(m: Driver) -> None:
    """Change one's own PIN."""
    who = m.who(*BENCH)
    body = _name_and_pin(m, who)
    del body["person"]
    m.send(VERBS["person.own-pin"], who, pin_hash=f"pin${m.pick.random()}", **body)
