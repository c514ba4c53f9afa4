"""Judging what a probe read of a load like for like: by what the place where it was should get."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import suppress
from typing import Any, TypeVar

from cases.domain.cure.lag import lagged
from cases.domain.cure.program import Program
from cases.domain.cure.settings import verdict_limits
from cases.domain.cure.verdict import Probe
from cases.domain.cure.window import Window
from cases.models import Load
from cases.selectors.cure_limits import cure_limits

Found = TypeVar("Found")


def judged(
    judge: Callable[..., Found],
    load: Load,
    program: Program,
    probe: Probe | None,
    window: Window | None,
) -> tuple[Found, float | None]:
    """Judge by the lab's limits; return with it the lag in minutes that was reckoned with.

    A probe in a flask is held against the program as a flask gets it, where the lag of the bath is
    known and the program long enough to reach a flask; else it is held against the bath's.

    Parameters
    ----------
    judge
        ``assess`` or ``after_cut`` with its record.
    program
        As the maker states it, boils at the lab's altitude.

    Raises
    ------
    ValueError
        As ``judge``.
    """
    how: dict[str, Any] = {
        "probe": probe,
        "limits": verdict_limits(cure_limits()),
        "resumable": load.program.resin.resumable,
        "out": load.state != "running",
        "window": window,
        "setting_minute": (load.sound.get("setting_minute") or [None])[-1],
    }
    lag = load.bath.lag_minutes if probe is not None and probe.position != "bath" else None
    if probe is not None and lag:
        felt = lagged(program.points(), lag)
        with suppress(ValueError):
            found = judge(program.holds, program=felt, program_position=probe.position, **how)
            return found, lag
    return judge(program.holds, **how), None
