"""Before a load goes in: what the heat model expects of its program, kept with the load."""

from __future__ import annotations

from dataclasses import asdict
from datetime import datetime
from functools import lru_cache
from typing import Any

from cases.domain.cure.heat import MODEL_VERSION, OutsideRange
from cases.domain.cure.heat_constants import value
from cases.domain.cure.overheating import SCENARIOS, USUAL, Filling, Limits, Overheating, expect
from cases.domain.cure.program import Program


@lru_cache(maxsize=64)
def _expected(
    points: tuple[tuple[float, float], ...], thickest_mm: float, filling: Filling, limits: Limits
) -> Overheating:
    """Return the estimate; a lab asks again and again about the same two programs."""
    return expect(points, thickest_mm, filling=filling, limits=limits)


def sound(
    program: Program,
    thicknesses_mm: list[float],
    unknown: int,
    now: datetime,
    *,
    filling: Filling = USUAL,
    limits: Limits | None = None,
) -> dict[str, Any]:
    """Return what is kept of the estimate: the class, the band, why, and what went into it.

    Parameters
    ----------
    program
        At the lab's altitude.
    thicknesses_mm
        Thickest wax of each flask of the load that has one; the thickest decides.
    unknown
        How many flasks have no measured thickness.
    filling
        What is in the flasks, as far as it is known; of several mixes the wettest, which is the
        hottest.
    limits
        The lab's; None for the usual ones.

    Returns
    -------
    dict
        ``risk`` is ``low``, ``some``, ``high``, or ``none`` where nothing can be estimated;
        ``reason`` then says why. ``remedies`` is *wanted* where the risk is not low: what would
        lower it is reckoned apart (``services.remedies``).
    """
    thickest_mm, held = max(thicknesses_mm, default=None), limits or Limits()
    kept: dict[str, Any] = {
        "model_version": MODEL_VERSION,
        "at": now.isoformat(),
        "thickest_mm": thickest_mm,
        "thicknesses": sorted(thicknesses_mm),
        "unknown": unknown,
        "program": [list(point) for point in program.points()],
        "filling": asdict(filling),
        "limits": asdict(held),
        "start_c": value("start"),
        "scenarios": [asdict(scenario) for scenario in SCENARIOS],
    }
    if thickest_mm is None:
        return {**kept, "risk": "none", "reason": "unmeasured"}
    try:
        found = _expected(program.points(), thickest_mm, filling, held)
    except OutsideRange as refused:
        return {**kept, "risk": "none", "reason": str(refused)}
    if found.risk != "low":
        kept["remedies"] = "wanted"
    return {
        **kept,
        "risk": found.risk,
        "reason": found.reason,
        "band": found.band_words,
        "setting_minute": [found.setting_minute.low, found.setting_minute.high],
        "live_c": [found.live_c.low, found.live_c.high],
    }
