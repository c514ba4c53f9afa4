"""What would lower the risk of a load: reckoned by the clock, kept with the load's estimate.

A web request says only that it is wanted; the heat model runs for a second or two outside any
transaction, and what it found is kept if the load still has the estimate that it was asked about.
"""

from __future__ import annotations

import uuid
from datetime import datetime
from typing import Any

from django.utils.translation import gettext as _

from cases.domain.cure.heat_range import OutsideRange
from cases.domain.cure.overheating import USUAL, Filling, Limits
from cases.domain.cure.remedies import remedies
from cases.models import Load
from cases.selectors.cure_settings import program_here
from cases.services.load import lock_load
from cases.services.record import Envelope, Recorder, Refusal, verb

WANTED = "wanted"
AT_ONCE = 2
"""So many loads a turn: each takes a second or two. Judgement."""
SPACE = uuid.UUID("0b6a5e0e-8f0d-5f5b-9a55-6c0f4a1d7f39")
"""Namespace of the clock's submissions: one estimate gets its remedies once."""


@verb("load.remedies", may=None)
def keep_remedies(
    record: Recorder, *, load: int, at: str, found: list[dict[str, Any]]
) -> dict[str, Any]:
    """Keep what was reckoned for the estimate of a load that was made at ``at``; the clock only.

    Raises
    ------
    Refusal
        ``not-allowed``, or ``other-estimate`` when the load has another one by now, or none.
    """
    if record.envelope.door not in {"clock", "command"}:
        raise Refusal("not-allowed", _("Only the clock reckons remedies."))
    row = lock_load(load)
    if row.sound.get("at") != at or row.sound.get("remedies") != WANTED:
        raise Refusal("other-estimate", _("The load has another estimate by now, or none."))
    record.event("load.remedies", subject=f"load {row.number}")
    # The version stays: whoever has the page open decides on the same flasks and program.
    record.change(row, sound={**row.sound, "remedies": found})
    return {"load": row.number, "remedies": len(found)}


def reckon_wanted(now: datetime) -> int:
    """Reckon the remedies of loads that want them; return of how many."""
    wanted = Load.objects.filter(
        state__in=("gathering", "running"), sound__remedies=WANTED
    ).select_related("program")
    return sum(_reckon(row, now) for row in wanted.order_by("pk")[:AT_ONCE])


def _reckon(row: Load, now: datetime) -> bool:
    at, limits = row.sound["at"], Limits(**row.sound["limits"])
    filling = Filling(**row.sound["filling"]) if "filling" in row.sound else USUAL
    try:
        found = remedies(
            program_here(row.program)[0], row.sound["thicknesses"], limits=limits, filling=filling
        )
    except OutsideRange:
        found = ()
    name = f"remedies {row.number} {at}"
    envelope = Envelope("clock", now, submission_id=uuid.uuid5(SPACE, name))
    try:
        kept = keep_remedies(
            envelope, load=row.number, at=at, found=[one.as_json() for one in found]
        )
    except Refusal:
        # Estimated anew or emptied meanwhile: the next turn sees what is wanted then.
        return False
    return not kept.repeated
