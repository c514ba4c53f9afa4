"""What the design says already of a number that a check asks: shown as a proposal, never as an
answer. Whoever looks at the work confirms it or enters another.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

from cases.domain.design import Clasp, Design

# Of a clasp: number of the check, its stage and its measure.
OF_A_CLASP: Final[dict[tuple[int, str, str], Callable[[Clasp], float | None]]] = {
    (12, "survey", "line"): lambda clasp: clasp.line_mm,
}


def proposed(
    design: Design | None, number: int, stage: str, measure: str, subject: str
) -> float | None:
    """Return what the design says of one measure of a check; None where it says nothing.

    Parameters
    ----------
    number, stage, measure
        The check as ``PlannedCheck`` has them, and the key of the measure.
    subject
        What it is about; for a clasp its tooth as an FDI number.
    """
    say = OF_A_CLASP.get((number, stage, measure))
    if say is None or design is None or not subject.isdecimal():
        return None
    clasp = design.clasp_on(int(subject))
    return say(clasp) if clasp is not None else None
