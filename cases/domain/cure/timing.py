"""When each step of a program falls due, and what hands have to do then."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from cases.domain.cure.program import Program
from cases.domain.words import gettext as _

Kind = Literal["heat", "raise", "boil", "take-out", "to-water", "may-open"]


@dataclass(frozen=True, slots=True)
class Step:
    """Something that falls due in the course of a load.

    Attributes
    ----------
    kind
        ``heat`` begins; ``raise`` or ``boil`` leads to the program's next stage; ``take-out`` ends
        the time in the bath; ``to-water`` and ``may-open`` belong to the cooling.
    stage
        Number of the program's stage that it leads to, from 0; 0 for the others.
    minute
        Minutes after the heating began.
    words
        What to do, in words.
    """

    kind: Kind
    stage: int
    minute: float
    words: str


def steps(program: Program) -> tuple[Step, ...]:
    """Return the steps of a program in order, from the heating to the opening of the flasks."""
    found = [Step("heat", 0, 0.0, _("start the heating"))]
    minute = 0.0
    for n, hold in enumerate(program.stages):
        if n:
            kind: Kind = "boil" if hold.boil else "raise"
            found.append(Step(kind, n, minute, _to(hold.celsius, hold.boil)))
        minute += hold.ramp_minutes + hold.minutes
    found.append(Step("take-out", 0, minute, _("take the flasks out and let them cool")))
    if program.bench_cool_minutes and program.water_cool_minutes:
        found.append(
            Step("to-water", 0, minute + program.bench_cool_minutes, _("put them into tap water"))
        )
    found.append(
        Step("may-open", 0, minute + program.cooling_minutes, _("the flasks may be opened"))
    )
    return tuple(found)


def _to(celsius: float, boil: bool) -> str:
    if boil:
        return _("bring the bath to the boil")
    return _("raise the bath to %(celsius)s °C") % {"celsius": f"{celsius:g}"}
