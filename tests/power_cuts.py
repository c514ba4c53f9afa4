"""A load in its bath, and a power cut that was decided upon, for the pages about them."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

from cases.domain.cure.program import LONG, as_json
from cases.models import Bath, Case, CureProgram, Load, LoadFlask, Resin
from cases.services.cut import decide_cut
from cases.services.numbering import next_in
from cases.services.record import Recorder
from tests.factories import Shop, rows


def of_a_cut(shop: Shop, early: Case, late: Case, now: datetime) -> dict[str, Any]:
    """Put two cases into baths of their own; the power was away while only one was in."""
    began = now - timedelta(hours=9)

    def make(record: Recorder) -> dict[str, Any]:
        # Out of use since, so that the lab's one resin in use stays the one of the other loads.
        resin = record.create(
            Resin, name="Resin of the night", source="leaflet", resumable=True, active=False
        )
        program = record.create(
            CureProgram, resin=resin, name="Overnight", version=1, document=as_json(LONG),
            saved_at=began,
        )  # fmt: skip
        return {
            "first": _load(shop, record, program, early, "Bath 2", began),
            "second": _load(shop, record, program, late, "Bath 3", now - timedelta(hours=5)),
        }

    made = rows(make, now)
    decided = decide_cut(
        shop.envelope("oren", now=now), words="The bath stood in its own heat.",
        off_at=(began + timedelta(minutes=40)).isoformat(),
        on_at=(began + timedelta(minutes=60)).isoformat(),
        loads=[{"load": made["first"].number, "version": 1, "stage": 0, "decision": "longer",
                "minutes": 460, "found_c": 70.0}],
    )  # fmt: skip
    return {
        "longer load": made["first"].number,
        "night load": made["second"].number,
        "cut": decided.result["cut"],
    }


def _load(
    shop: Shop, record: Recorder, program: CureProgram, case: Case, bath: str, began: datetime
) -> Load:
    ends = began + timedelta(minutes=LONG.bath_minutes)
    load = record.create(
        Load, number=next_in("load"), bath=record.create(Bath, name=bath, capacity=6),
        program=program, state="running", made_at=began, made_by=shop.people["mara"],
        placed_at=began, placed_by=shop.people["mara"], starts_at=began, ends_at=ends,
        open_from=ends + timedelta(minutes=LONG.cooling_minutes),
    )  # fmt: skip
    record.create(
        LoadFlask, load=load, case=case, stage=case.stages.get(key="cure"), attempt=1,
        flask="7", thickest_mm=4.0, added_at=began,
    )  # fmt: skip
    return load
