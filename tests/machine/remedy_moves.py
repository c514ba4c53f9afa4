"""What the clock reckons for a load whose estimate warns."""

from __future__ import annotations

from typing import Any

from cases.domain.cure.program import Hold, Program, as_json
from cases.models import Bath, CureProgram, Load
from cases.services import load, remedies
from cases.services.record import Recorder
from tests.factories import NOW, rows
from tests.machine.driver import Driver
from tests.machine.load_moves import a_program

FAST = Program("Fast", (Hold(100.0, 60.0, ramp_minutes=30.0, boil=True),), "leaflet")
REMEDY = {
    "kind": "ramp", "celsius": 100.0, "was": 30.0, "now": 60.0, "more_minutes": 30.0,
    "risk": "low", "live_c": [92.0, 95.0], "setting_minute": [30.0, 50.0], "helps": True,
    "refused": "",
}  # fmt: skip


def _fast() -> CureProgram:
    """Return a version of the lab's program that heats fast."""
    usual = a_program()

    def make(record: Recorder) -> dict[str, Any]:
        return {
            "row": record.create(
                CureProgram, resin=usual.resin, name="Fast", version=1, document=as_json(FAST),
                saved_at=NOW,
            )
        }  # fmt: skip

    made: CureProgram = rows(make)["row"]
    return made


def remedies_are_reckoned(m: Driver) -> None:
    """An estimate warns; what would lower the risk is kept once, for that estimate only."""
    program, case, bath = _fast(), m.case(), Bath.objects.order_by("pk").first()
    if case is None or bath is None:
        raise AssertionError("the lab has no bath or no case")
    m.send(load.make_load, "mara", bath=bath.pk, program=program.pk)
    number = Load.objects.get().number
    for verb, body in (
        (load.add_flask, {"label": case.number, "thickest_mm": 12.0}),
        (load.estimate, {}),
    ):
        version = Load.objects.get().version
        m.send(verb, "mara", load=number, version=version, **body)
    at = Load.objects.get().sound["at"]
    for door, when in (("web", at), ("clock", "long ago"), ("clock", at), ("clock", at)):
        who = "mara" if door == "web" else None
        m.send(remedies.keep_remedies, who, door=door, load=number, at=when, found=[REMEDY])
