"""The limits of the cure that a laboratory sets: each with its usual value, bounds and source.

They part the verdicts of a bath's record and the classes of the heat estimate. All of them are
assumed or judgement, from no standard; that is why they are settings. What is stored is only what
differs from the usual value, by key.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from math import isfinite
from typing import Final, Literal

from cases.domain.cure import overheating, verdict
from cases.domain.limit import Limit
from cases.domain.words import N_
from cases.domain.words import gettext as _

Part = Literal["verdict", "estimate"]
Changed = dict[str, float]
"""Limits that a lab changed, by key, in their units."""


@dataclass(frozen=True, slots=True)
class CureLimit(Limit):
    """One limit of the cure.

    Attributes
    ----------
    part
        Whether the verdict of a record or the estimate before a load goes by it.
    changes
        What another value changes, in whole sentences.
    source
        Where the usual value comes from.
    whole
        It is a whole number.
    """

    part: Part
    changes: str
    source: str
    whole: bool = False

    def said(self, value: float) -> str:
        """Return a value with its unit, on one line."""
        return f"{value:g}\u00a0{_(self.unit)}"


_VERDICT: Final = verdict.Limits()
_HEAT: Final = overheating.Limits()

CURE_LIMITS: Final[dict[str, CureLimit]] = {
    one.name: one
    for one in (
        CureLimit(
            "complete_percent",
            100 * _VERDICT.complete,
            "%",
            N_("Complete from"),
            90.0,
            100.0,
            "verdict",
            N_(
                "A stage that got this share of the equivalent minutes it needs is complete. A "
                "lower limit lets less heating pass as a full cure."
            ),
            N_("assumed, from no standard"),
        ),
        CureLimit(
            "doubtful_percent",
            100 * _VERDICT.doubtful,
            "%",
            N_("Doubtful from"),
            70.0,
            99.0,
            "verdict",
            N_(
                "A stage that got this share, and is not complete, is doubtful: a person decides. "
                "With less it is to be repeated."
            ),
            N_("assumed, from no standard"),
        ),
        CureLimit(
            "overshoot_k",
            _VERDICT.overshoot_k,
            "°C",
            N_("Above the first stage, at most"),
            2.0,
            15.0,
            "verdict",
            N_(
                "A bath that is hotter than the first stage by more than this, before the resin "
                "can be taken to have set, makes the record doubtful. More heating does not undo "
                "that."
            ),
            N_("judgement, no published source"),
        ),
        CureLimit(
            "probe_check_days",
            _VERDICT.probe_check_days,
            N_("days"),
            N_("A probe check counts for"),
            30.0,
            1095.0,
            "verdict",
            N_(
                "When the last check of the probe is older, the record says so. That is a remark; "
                "the verdict stays the same."
            ),
            N_("judgement, no published source"),
            whole=True,
        ),
        CureLimit(
            "near_c",
            _HEAT.near_c,
            "°C",
            N_("Resin near boiling from"),
            85.0,
            100.0,
            "estimate",
            N_(
                "Resin that is expected to be hotter than this before it has hardened makes the "
                "risk of overheating “some”. Above the boiling point of the monomer it is “high”."
            ),
            N_("assumed, no published source"),
        ),
        CureLimit(
            "bath_at_setting_c",
            _HEAT.bath_at_setting_c,
            "°C",
            N_("Bath while the resin sets, at most"),
            75.0,
            95.0,
            "estimate",
            N_(
                "A bath that is hotter than this while the resin is expected to set makes the "
                "risk “some” at least, whatever the thickness."
            ),
            N_(
                "assumed, because thin specimens put straight into boiling water were porous in a "
                "published study (Nisar 2015, read) where the estimate finds no boiling monomer"
            ),
        ),
        CureLimit(
            "gypsum_mm",
            overheating.USUAL.gypsum_mm,
            "mm",
            N_("Gypsum around the piece"),
            10.0,
            40.0,
            "estimate",
            N_(
                "How thick the gypsum usually is from the resin to the wall of your flasks. The "
                "estimate reckons with it, and with 0.6 and 1.4 times as much: nothing else moves "
                "it so far. Measure it in a flask that was opened."
            ),
            N_("assumed, no published source"),
        ),
    )
}


_IN_ORDER: Final = ("doubtful_percent", "complete_percent")
"""The first lies below the second: else nothing could be doubtful."""


class CureLimitRefused(ValueError):
    """A limit cannot be set so; the message says why and what to do, ``key`` where."""

    def __init__(self, key: str, words: str) -> None:
        super().__init__(words)
        self.key = key


def in_force(changed: Mapping[str, float]) -> Changed:
    """Return every limit, those that the lab changed with its own value."""
    return {key: changed.get(key, float(one.value)) for key, one in CURE_LIMITS.items()}


def usable(stored: Mapping[str, object]) -> Changed:
    """Return the stored limits that are known today and within their bounds.

    A limit that was dropped, or whose bounds were drawn closer since, leaves the usual value in
    force; so do two that would cross.
    """
    kept = {
        key: float(value)  # type: ignore[arg-type]
        for key, value in stored.items()
        if key in CURE_LIMITS and not _wrong(CURE_LIMITS[key], value)
    }
    if _crossed(in_force(kept)):
        kept = {key: value for key, value in kept.items() if key not in _IN_ORDER}
    return kept


def problems(stored: Mapping[str, object], values: Mapping[str, object]) -> dict[str, str]:
    """Return what is wrong with limits that somebody entered, by key; empty where nothing is.

    Parameters
    ----------
    stored
        What the lab changed before.
    values
        The limits that are set now, by key; the others stay.
    """
    found = {}
    for key, value in values.items():
        known = CURE_LIMITS.get(key)
        if known is None:
            found[key] = _("There is no limit “%(key)s”. Load the page again.") % {"key": key}
        elif words := _wrong(known, value):
            found[key] = words
    entered = {key: float(value) for key, value in values.items() if key not in found}  # type: ignore[arg-type]
    words = _crossed(in_force(usable(stored) | entered))
    if words:
        found |= {key: words for key in _IN_ORDER if key in entered}
    return found


def changed_by(stored: Mapping[str, object], values: Mapping[str, object]) -> Changed:
    """Return the changed limits after further ones were set; a usual value counts as unchanged.

    Raises
    ------
    CureLimitRefused
        For the first of the limits that `problems` finds something wrong with.
    """
    for key, words in problems(stored, values).items():
        raise CureLimitRefused(key, words)
    now = usable(stored) | {key: float(value) for key, value in values.items()}  # type: ignore[arg-type]
    usual = in_force({})
    return {key: value for key, value in in_force(now).items() if value != usual[key]}


def verdict_limits(changed: Mapping[str, float]) -> verdict.Limits:
    """Return the limits by which the record of a bath is judged."""
    now = in_force(changed)
    return verdict.Limits(
        complete=now["complete_percent"] / 100,
        doubtful=now["doubtful_percent"] / 100,
        overshoot_k=now["overshoot_k"],
        probe_check_days=int(now["probe_check_days"]),
    )


def estimate_limits(changed: Mapping[str, float]) -> overheating.Limits:
    """Return the limits of the heat estimate; the boiling point of the monomer is no setting."""
    now = in_force(changed)
    return overheating.Limits(near_c=now["near_c"], bath_at_setting_c=now["bath_at_setting_c"])


def usual_filling(changed: Mapping[str, float]) -> overheating.Filling:
    """Return what is in a flask of this lab where nobody said anything else."""
    return replace(overheating.USUAL, gypsum_mm=in_force(changed)["gypsum_mm"])


def _crossed(now: Mapping[str, float]) -> str:
    low, high = _IN_ORDER
    if now[low] < now[high]:
        return ""
    return _(
        "“%(low)s” (%(less)s) has to lie below “%(high)s” (%(more)s). Lower the first or raise the "
        "second."
    ) % {
        "low": _(CURE_LIMITS[low].words),
        "less": CURE_LIMITS[low].said(now[low]),
        "high": _(CURE_LIMITS[high].words),
        "more": CURE_LIMITS[high].said(now[high]),
    }


def _wrong(limit: CureLimit, value: object) -> str:
    number = isinstance(value, int | float) and not isinstance(value, bool) and isfinite(value)
    if number and limit.low <= value <= limit.high and not (limit.whole and value % 1):  # type: ignore[operator]
        return ""
    words = (
        _("“%(limit)s” is a whole number from %(low)g to %(high)s; usual is %(usual)s.")
        if limit.whole
        else _("“%(limit)s” is a number from %(low)g to %(high)s; usual is %(usual)s.")
    ) % {
        "limit": _(limit.words),
        "low": limit.low,
        "high": limit.said(limit.high),
        "usual": limit.said(limit.value),
    }
    return words + " " + _("Enter one between them, or nothing for the usual one.")
