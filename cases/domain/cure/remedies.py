"""What would lower the risk of overheating: each remedy is reckoned by the heat model.

A remedy changes one thing: the way up takes longer, the bath stands longer at the lower
temperature before it goes on, less gypsum lies around the piece, or the thickest flask is left for
another load. Each has its own class, band and price in minutes. Some of them may turn out to help
nothing: that is said, too. Whether the maker of the resin allows another program is for people.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import asdict, dataclass, replace
from typing import Any, Final, Literal

from cases.domain.cure.heat_range import OutsideRange
from cases.domain.cure.overheating import (
    RISKS,
    USUAL,
    Filling,
    Limits,
    Overheating,
    Risk,
    expect,
)
from cases.domain.cure.program import Hold, Program

Kind = Literal["ramp", "hold", "gypsum", "thinner"]

# A way up is made twice as long, and an hour at least. Judgement: what a lab can still fit in.
SHORTEST_SLOW_MIN: Final = 60.0
# A hold below this is the lower temperature of a program: the monomer is far from boiling there.
# Judgement, between 74 °C of the classic cycles and the 85 °C at which risk is assumed.
LOWER_HOLD_C: Final = 80.0
LOWER_C: Final = 74.0  # of the classic cycles; Phillips, from memory
LONGER_MIN: Final = 60.0  # judgement
NEW_HOLD_MIN: Final = 90.0  # the short cycles that are taught stand so long at 74 °C; from memory
LESS_GYPSUM: Final = 0.6  # of the usual thickness, as in the flask that heats fast; assumed
# A band that sinks by less than this is no help. Judgement.
HELP_K: Final = 1.0


@dataclass(frozen=True, slots=True)
class Remedy:
    """One thing that could be done, and what the model expects of it.

    Attributes
    ----------
    kind
        ``ramp`` a slower way up to ``celsius``, ``hold`` a longer stay there, ``gypsum`` less
        gypsum around the piece, ``thinner`` without the thickest flask.
    was, now
        Minutes, or millimetres for ``gypsum`` and ``thinner``; ``was`` is 0 for a new hold.
    more_minutes
        What the program takes longer.
    risk, live_c, setting_minute
        As `Overheating` has them, low and high; empty where the model refuses.
    helps
        Whether the class is lower, or the band's upper end by a kelvin and more.
    refused
        Why there is no estimate of it; empty where there is one.
    """

    kind: Kind
    celsius: float
    was: float
    now: float
    more_minutes: float
    risk: Risk | Literal[""] = ""
    live_c: tuple[float, ...] = ()
    setting_minute: tuple[float, ...] = ()
    helps: bool = False
    refused: str = ""

    def as_json(self) -> dict[str, Any]:
        """Return the remedy as plain values."""
        return {
            **asdict(self),
            "live_c": list(self.live_c),
            "setting_minute": list(self.setting_minute),
        }


def remedies(
    program: Program,
    thicknesses_mm: Iterable[float],
    *,
    limits: Limits | None = None,
    filling: Filling = USUAL,
) -> tuple[Remedy, ...]:
    """Return what could lower the risk of a program for the thickest of several pieces.

    Parameters
    ----------
    program
        At the lab's altitude.
    thicknesses_mm
        Of all flasks of the load that are known; one or more.
    limits, filling
        As `expect` takes them.

    Raises
    ------
    OutsideRange
        The program itself is outside the range of the estimate.
    ValueError
        No thickness is known.
    """
    known = sorted(thicknesses_mm, reverse=True)
    if not known:
        raise ValueError("remedies need a thickness")
    thickest = known[0]
    present = expect(program.points(), thickest, limits=limits, filling=filling)
    found = [
        _of_program(kind, stage, was, now, program, other, thickest, present)
        for kind, stage, was, now, other in _other_programs(program, present)
    ]
    gypsum = filling.gypsum_mm
    less = replace(filling, gypsum_mm=LESS_GYPSUM * gypsum)
    thin_wall = Remedy("gypsum", 0.0, gypsum, less.gypsum_mm, 0.0)
    found.append(_tried(thin_wall, program, thickest, present, less))
    thinner = next((one for one in known if one < thickest), None)
    if thinner is not None:
        found.append(
            _tried(Remedy("thinner", 0.0, thickest, thinner, 0.0), program, thinner, present)
        )
    return tuple(found)


def _other_programs(
    program: Program, present: Overheating
) -> list[tuple[Kind, Hold, float, float, Program]]:
    stages = program.stages
    setting = _stage_at(program, present.setting_minute.middle)
    found: list[tuple[Kind, Hold, float, float, Program]] = []
    slow = max(SHORTEST_SLOW_MIN, 2 * stages[setting].ramp_minutes)
    ramped = replace(stages[setting], ramp_minutes=slow)
    found.append(
        ("ramp", ramped, stages[setting].ramp_minutes, slow, _with(program, setting, ramped))
    )
    first = stages[0]
    if first.celsius > LOWER_HOLD_C:
        rise = first.ramp_minutes * (LOWER_C - 23.0) / max(first.celsius - 23.0, 1.0)
        hold = Hold(LOWER_C, NEW_HOLD_MIN, ramp_minutes=rise)
        rest = replace(first, ramp_minutes=first.ramp_minutes - rise)
        before = replace(program, stages=(hold, rest, *stages[1:]))
        found.append(("hold", hold, 0.0, NEW_HOLD_MIN, before))
    elif len(stages) > 1:
        longer = replace(first, minutes=first.minutes + LONGER_MIN)
        found.append(("hold", longer, first.minutes, longer.minutes, _with(program, 0, longer)))
    return found


def _with(program: Program, number: int, stage: Hold) -> Program:
    stages = (*program.stages[:number], stage, *program.stages[number + 1 :])
    return replace(program, stages=stages)


def _stage_at(program: Program, minute: float) -> int:
    """Return the number of the stage that a program is at, or on its way to."""
    ends = 0.0
    for number, stage in enumerate(program.stages):
        ends += stage.ramp_minutes + stage.minutes
        if minute < ends:
            return number
    return len(program.stages) - 1


def _of_program(
    kind: Kind, stage: Hold, was: float, now: float, before: Program, other: Program,
    thickness_mm: float, present: Overheating,
) -> Remedy:  # fmt: skip
    more = other.bath_minutes - before.bath_minutes
    remedy = Remedy(kind, stage.celsius, was, now, more)
    return _tried(remedy, other, thickness_mm, present)


def _tried(
    remedy: Remedy,
    program: Program,
    thickness_mm: float,
    present: Overheating,
    filling: Filling | None = None,
) -> Remedy:
    """Return the remedy with what the model says of it."""
    try:
        found = expect(
            program.points(),
            thickness_mm,
            filling=filling or present.filling,
            limits=present.limits,
        )
    except OutsideRange as refused:
        return replace(remedy, refused=str(refused))
    lower = RISKS.index(found.risk) < RISKS.index(present.risk)
    same = found.risk == present.risk
    return replace(
        remedy,
        risk=found.risk,
        live_c=(found.live_c.low, found.live_c.high),
        setting_minute=(found.setting_minute.low, found.setting_minute.high),
        helps=lower or (same and found.live_c.high <= present.live_c.high - HELP_K),
    )
