"""How long a packed flask rests under its clamp before it may go into a bath.

The maker's instruction for the program in hand beats what the route of the laboratory says. A
program that states no rest leaves the route's own as it is.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from cases.domain.cure.program import Program


@dataclass(frozen=True, slots=True)
class Rest:
    """Minutes from the closing of the clamp until the bath.

    Attributes
    ----------
    usual, least
        How long it should rest, and with how little it may go in. They differ only while nobody
        knows which of several programs it gets.
    most
        After so long it should be in the bath; None for no limit.
    """

    usual: float
    least: float
    most: float | None = None


def rest_before(programs: Sequence[Program], route: Rest) -> Rest:
    """Return the rest of a flask that gets one of these programs.

    Parameters
    ----------
    programs
        Of its load, or all that its resin may get; none where the resin is not known.
    route
        What the route of the laboratory says, for programs that state no rest.

    Notes
    -----
    A maker who asks for a longer rest than the route allows is right: the route's limit then
    falls away.
    """
    if not programs:
        return route
    usual = max(program.bench_rest_minutes or route.usual for program in programs)
    least = min(program.bench_rest_minutes or route.least for program in programs)
    most = None if route.most is not None and usual >= route.most else route.most
    return Rest(usual, least, most)
