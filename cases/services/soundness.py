"""Before a load goes in: what the heat model expects of its program, kept with the load."""

from __future__ import annotations

from dataclasses import asdict
from datetime import datetime
from typing import Any

from cases.domain.cure.heat import MODEL_VERSION, OutsideRange
from cases.domain.cure.overheating import expect
from cases.domain.cure.program import Program


def sound(
    program: Program, thickest_mm: float | None, unknown: int, now: datetime
) -> dict[str, Any]:
    """Return what is kept of the estimate: the class, the band, why, and what went into it.

    Parameters
    ----------
    program
        At the lab's altitude.
    thickest_mm
        Thickest wax of the load; None when no flask has one.
    unknown
        How many flasks have no measured thickness.

    Returns
    -------
    dict
        ``risk`` is ``low``, ``some``, ``high``, or ``none`` where nothing can be estimated;
        ``reason`` then says why.
    """
    kept: dict[str, Any] = {
        "model_version": MODEL_VERSION,
        "at": now.isoformat(),
        "thickest_mm": thickest_mm,
        "unknown": unknown,
        "program": [list(point) for point in program.points()],
    }
    if thickest_mm is None:
        return {**kept, "risk": "none", "reason": "unmeasured"}
    try:
        found = expect(program.points(), thickest_mm)
    except OutsideRange as refused:
        return {**kept, "risk": "none", "reason": str(refused)}
    return {
        **kept,
        "risk": found.risk,
        "reason": found.reason,
        "band": found.band_words,
        "setting_minute": [found.setting_minute.low, found.setting_minute.high],
        "live_c": [found.live_c.low, found.live_c.high],
        "limits": asdict(found.limits),
    }
