"""The parts of a program one after the other: what a load goes through, and until when."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

from cases.domain.cure.program import Program

Kind = Literal["rise", "hold", "air", "water"]


@dataclass(frozen=True, slots=True)
class Part:
    """One part of a load's time.

    Attributes
    ----------
    kind
        ``rise`` on the way to a stage, ``hold`` at it, ``air`` and ``water`` for the cooling.
    ends
        Minutes after the heating began, or for the cooling after the flasks left the bath.
    celsius, boil
        Of the stage; 0 and False for the cooling.
    """

    kind: Kind
    ends: float
    celsius: float = 0.0
    boil: bool = False


def in_the_bath(program: Program, minutes: float) -> tuple[Part, ...]:
    """Return the parts of a load in its bath; the last lasts until ``minutes`` have gone.

    Parameters
    ----------
    minutes
        From the beginning of the heating to when the flasks are to be taken out. It is the
        program's own time, or longer where minutes were added.
    """
    parts: list[Part] = []
    minute = 0.0
    for stage in program.stages:
        if stage.ramp_minutes:
            minute += stage.ramp_minutes
            parts.append(Part("rise", minute, stage.celsius, stage.boil))
        minute += stage.minutes
        parts.append(Part("hold", minute, stage.celsius, stage.boil))
    return (*parts[:-1], replace(parts[-1], ends=max(minutes, minute)))


def cooling(program: Program) -> tuple[Part, ...]:
    """Return the parts of the cooling: in air, then in tap water."""
    air, both = program.bench_cool_minutes, program.cooling_minutes
    parts = (Part("air", air), Part("water", both))
    return tuple(
        part for part, minutes in zip(parts, (air, both - air), strict=True) if minutes > 0
    )


def part_at(parts: tuple[Part, ...], minute: float) -> Part | None:
    """Return the part that runs at ``minute``; None once all are over."""
    return next((part for part in parts if minute < part.ends), None)


def after(parts: tuple[Part, ...], part: Part) -> Part | None:
    """Return the part that follows ``part``; None after the last."""
    following = parts[parts.index(part) + 1 :]
    return following[0] if following else None
