"""The clock of the dough: what was mixed when, and when the flask was closed for the last time."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

from django.utils.translation import gettext as _

from cases.domain.cure.dough import (
    COLDEST_ROOM_C,
    HOTTEST_ROOM_C,
    LONGEST_AGO_MIN,
    window,
)
from cases.models import Case, CaseStage, Mix, Resin
from cases.selectors.resin import PACK, last_mix, resins_in_use
from cases.services.access import lock_stage
from cases.services.check import judge_anew
from cases.services.cure_rest import set_rest
from cases.services.progress import refresh
from cases.services.record import Recorder, Refusal, verb


def _at_packing(stage: int, version: int) -> tuple[Case, CaseStage]:
    case, row = lock_stage(stage, version=version)
    if row.key != PACK:
        raise Refusal("not-packing", _("Resin is mixed at the packing. Open that stage."))
    if row.state not in {"running", "paused"}:
        raise Refusal(
            "not-running", _("%(stage)s is not in hand. Start it first.") % {"stage": _(row.name)}
        )
    return case, row


@verb("dough.mix", may="work")
def note_mix(
    record: Recorder,
    *,
    stage: int,
    version: int,
    resin: int | None = None,
    minutes_ago: float | None = None,
    room_c: float | None = None,
) -> dict[str, Any]:
    """Note that powder and liquid were put together: the clock of the dough runs.

    Parameters
    ----------
    resin
        Which one; may be left out where the lab has one in use.
    minutes_ago
        When the mix began, for hands that could not press then.
    room_c
        The room's temperature, where somebody read it.

    Raises
    ------
    Refusal
        ``not-packing``, ``say-resin``, ``bad-number``, or ``no-resin`` in a lab without one.
    """
    case, row = _at_packing(stage, version)
    chosen = _chosen(resin)
    ago = minutes_ago or 0.0
    if not 0 <= ago <= LONGEST_AGO_MIN:
        raise Refusal("bad-number", _("Minutes since the mix began: 0 to 60."), field="minutes_ago")
    if room_c is not None and not COLDEST_ROOM_C <= room_c <= HOTTEST_ROOM_C:
        raise Refusal("bad-number", _("A room is at 5 to 45 °C."), field="room_c")
    mixed_at = record.now - timedelta(minutes=ago)
    dough = window(mixed_at, chosen.dough_from, chosen.dough_until)
    record.event("dough.mixed", case=case, subject=PACK, resin=chosen.name)
    mix = record.create(
        Mix,
        case=case,
        stage=row,
        attempt=row.attempt,
        resin=chosen,
        mixed_at=mixed_at,
        room_c=room_c,
        opens_at=dough.opens_at,
        closes_at=dough.closes_at,
        by=record.actor,
    )
    set_rest(record, case)
    refresh(record, case)
    return {"mix": mix.pk, "stage": row.pk}


def _chosen(resin: int | None) -> Resin:
    in_use = resins_in_use()
    if not in_use:
        raise Refusal(
            "no-resin", _("The lab has no resin in use yet. A manager adds it under Lab, Resins.")
        )
    if resin is None and len(in_use) == 1:
        return in_use[0]
    found = next((one for one in in_use if one.pk == resin), None)
    if found is None:
        raise Refusal("say-resin", _("Say which resin was mixed."), field="resin")
    return found


@verb("dough.close", may="work")
def note_closed(record: Recorder, *, stage: int, version: int) -> dict[str, Any]:
    """Note that the flask was closed for the last time: the clock of the dough stops.

    Minutes that were entered before are held against it.

    Raises
    ------
    Refusal
        ``not-mixed``, or ``closed`` where it was noted already.
    """
    case, row = _at_packing(stage, version)
    mix = last_mix(row)
    if mix is None:
        raise Refusal("not-mixed", _("Nobody noted when it was mixed. Note that first."))
    if mix.closed_at is not None:
        raise Refusal("closed", _("The last closing is noted already. Mixed anew? Note that."))
    record.event("dough.closed", case=case, subject=PACK)
    record.change(mix, closed_at=record.now)
    judge_anew(record, case, row, rule="mix")
    refresh(record, case)
    return {"mix": mix.pk, "stage": row.pk}
