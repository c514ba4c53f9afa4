"""What a technician enters for a check: readings inside the limits, or one that fails."""

from __future__ import annotations

import random
from typing import Any

from cases.domain.check_spec import COUNTED
from cases.selectors.driving import CheckStand

LINE_MM = 5.4
"""Cusp tip to survey line in the demo's casts."""
CALIPER_MM = 6.2
"""Caliper height of the bracing in the demo's wax."""
KEPT = {
    "line": LINE_MM, "caliper": CALIPER_MM, "thickest": 5.5, "powder": 22.0, "liquid": 10.0,
    "press": 40.0, "minutes": 12.0,
}  # fmt: skip
"""Readings without limits, by what is measured."""


AGENT = "hospital disinfectant, label 10 min"
"""What the demo's lab disinfects with."""


def saying(spec: dict[str, Any]) -> dict[str, str]:
    """Return the words that a check asks for: the first of a list, else the disinfectant."""
    return {
        one["key"]: one["choices"][0] if one["choices"] else AGENT for one in spec.get("told", ())
    }


def passing(check: CheckStand, rng: random.Random, told: dict[str, float]) -> dict[str, Any]:
    """Return an entry that passes; ``told`` are readings known from elsewhere."""
    values = {}
    for measure in check.spec["measures"]:
        key = measure["key"]
        values[key] = told.get(key, _reading(measure, check.number, rng))
    entry: dict[str, Any] = {"item": check.pk, "values": values, "words": saying(check.spec)}
    if check.spec["yes_no"]:
        entry["yes"] = True
    return entry


def _reading(measure: dict[str, Any], number: int, rng: random.Random) -> float:
    low: float | None = measure["low"]
    high: float | None = measure["high"]
    key: str = measure["key"]
    if number == 30 and key == "edge":
        return round(LINE_MM - (low or 0.0) - 0.2, 1)
    if number == 30 and key == "caliper":
        return CALIPER_MM - 0.1 if measure["source_value"] else CALIPER_MM
    if low is not None and high is not None:
        return low if low == high else round((low + high) / 2, 2)
    if low is not None:
        more = rng.choice((0.2, 0.3, 0.4)) * max(low, 1.0)
        return low + round(more) if key in COUNTED else round(low + more, 1)
    if high is not None:
        return round(high * 0.6, 2)
    return KEPT.get(key, 5.0)


def can_fail(check: CheckStand) -> bool:
    """Tell whether the check can fail by what is entered, in a way that can be mended."""
    if check.number in (2, 5, 30, 40):
        return False
    limited = any(m["low"] is not None or m["high"] is not None for m in check.spec["measures"])
    return bool(check.spec["yes_no"]) or (limited and check.spec["rule"] == "limits")


def failing(check: CheckStand, rng: random.Random) -> dict[str, Any]:
    """Return an entry that fails: a reading just outside, or a plain no."""
    entry = passing(check, rng, {})
    for measure in check.spec["measures"]:
        if measure["low"] is not None:
            entry["values"][measure["key"]] = round(measure["low"] * 0.8, 2)
            return entry
        if measure["high"] is not None:
            entry["values"][measure["key"]] = round(measure["high"] * 1.3, 2)
            return entry
    entry["yes"] = False
    return entry
