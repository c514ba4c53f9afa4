"""The moves of the dough: mixed, mixed anew, closed, and what cannot be."""

from __future__ import annotations

from typing import Any

from cases.models import CaseStage, Resin, Timer
from cases.services import alarms, dough, stage
from cases.services.record import Recorder
from tests.factories import rows
from tests.machine.bench_moves import photograph
from tests.machine.driver import Driver
from tests.machine.registry import BENCH, move


def _resin() -> int:
    """Return a resin in use, made when there is none yet."""
    found = Resin.objects.filter(active=True).order_by("pk").first()
    if found is not None:
        return found.pk

    def make(record: Recorder) -> dict[str, Any]:
        return {
            "row": record.create(
                Resin, name="Machine resin", source="leaflet", dough_from=8.0, dough_until=15.0
            )
        }

    made: Resin = rows(make)["row"]
    return made.pk


@move(1)
def mix(m: Driver) -> None:
    """Mix at some packing, or where nothing is packed; close it now and then."""
    packing = list(CaseStage.objects.filter(key="pack", state__in=["running", "paused"]))
    row = m.one(packing) or m.stage("running")
    if row is None:
        return
    body: dict[str, Any] = {"stage": row.pk, "version": m.version(row)}
    room = m.pick.choice([None, 21.0, 24.5, 99.0])
    known = _resin()
    m.check_house(None)
    resin = m.pick.choice([None, known])
    m.send(dough.note_mix, m.who(*BENCH), **body, room_c=room, resin=resin)
    if m.pick.random() < 0.7:
        m.pass_time(m.pick.choice([2, 10, 20]))
        m.send(dough.note_closed, m.who(*BENCH), **body)


def dough_is_packed(m: Driver) -> None:
    """A bowl gets too stiff and is mixed anew, rings, and is closed, once."""
    resin = _resin()
    row = CaseStage.objects.get(key="pack")
    m.now = max(m.now, row.ready_at or m.now)
    photo = None
    while photo is None:
        photo = photograph(m, row, "mara")
    m.send(stage.start_stage, "mara", stage=row.pk, version=row.version, photo=photo)
    row.refresh_from_db()
    known = {"stage": row.pk, "version": row.version}
    m.send(dough.note_closed, "mara", **known)
    for room in (75.0, 24.0, 24.0):
        m.send(dough.note_mix, "mara", **known, resin=resin, room_c=room)
        m.pass_time(13)
        for timer in Timer.objects.filter(state="pending", due_at__lte=m.now).order_by("pk"):
            m.send(alarms.fire_timer, None, door="clock", timer=timer.pk)
    for _ in range(2):
        m.send(dough.note_closed, "mara", **known)
