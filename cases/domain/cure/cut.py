"""After a power cut: which stages it hit, and what may be resumed, done again or has to be judged.

Nothing is decided here. A stage that stopped may be made up only while it is the current one, at
its own temperature, and only where the maker allows a cycle to be resumed.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil
from typing import Any, Literal

from cases.domain.cure.dose import REFERENCE_C
from cases.domain.cure.program import say_celsius
from cases.domain.cure.quality import GAP_S
from cases.domain.cure.samples import Points, Samples, checked
from cases.domain.cure.verdict import (
    NO_EXTENSION_FROM_C,
    Assessment,
    Limits,
    Position,
    Probe,
    StageVerdict,
    assess,
)
from cases.domain.cure.window import Window
from cases.domain.words import gettext as _

State = Literal["complete", "short", "stopped", "not_begun"]
Action = Literal["nothing", "extend", "repeat_stage", "run", "inspect"]
Choice = Literal["as-is", "longer", "repeat", ""]


@dataclass(frozen=True, slots=True)
class StageAfterCut:
    """One stage after a cut: how it stands, what may be done with it, and the same in words."""

    state: State
    action: Action
    minutes: float | None
    words: str


@dataclass(frozen=True, slots=True)
class AfterCut:
    """What a cut left: the verdict on the record so far, and one entry a stage."""

    assessment: Assessment
    stages: tuple[StageAfterCut, ...]


def after_cut(
    trace: Points | Samples,
    stages: Sequence[tuple[float, float]],
    *,
    program: Points | None = None,
    probe: Probe | None = None,
    program_position: Position = "bath",
    limits: Limits | None = None,
    setting_minute: float | None = None,
    resumable: bool = True,
    out: bool = False,
    window: Window | None = None,
) -> AfterCut:
    """Say how each stage stands after a cut, from the record up to now.

    Parameters
    ----------
    trace, stages, program, probe, program_position, limits, setting_minute, resumable, out, window
        As `assess` takes them.

    Raises
    ------
    ValueError
        As `assess`.
    """
    found = assess(
        trace, stages, program=program, probe=probe, program_position=program_position,
        limits=limits, setting_minute=setting_minute, resumable=resumable, out=out,
        window=window,
    )  # fmt: skip
    begun = [n for n, stage in enumerate(found.stages) if stage.from_s is not None]
    current = begun[-1] if begun else 0
    overheated = any(flag.code == "overheated" for flag in found.findings)
    judged: list[StageAfterCut] = []
    for n, stage in enumerate(found.stages):
        told = {
            "number": n + 1,
            "celsius": say_celsius(stage.celsius),
            "minutes": f"{stage.minutes:g}",
        }
        earlier_short = any(before.state != "complete" for before in judged)
        if stage.hotter:
            judged.append(StageAfterCut("short", "inspect", None, stage.words))
        elif n > current and not out:
            words = _("Stage %(number)d has not begun. Run it only once those before are made up.")
            judged.append(StageAfterCut("not_begun", "run", stage.minutes, words % told))
        elif stage.verdict == "complete":
            words = _("Stage %(number)d had its heating time.")
            judged.append(StageAfterCut("complete", "nothing", None, words % told))
        elif n < current or earlier_short or overheated:
            words = _(
                "Stage %(number)d lacks heating time, and more heat does not put that right now: "
                "inspect the pieces, ask the resin's maker, and decide."
            )
            judged.append(StageAfterCut("short", "inspect", None, words % told))
        elif out:
            judged.append(StageAfterCut("stopped", "inspect", None, stage.words))
        elif not resumable:
            words = _(
                "Stage %(number)d was cut short, and the maker of the resin does not say that a "
                "cycle may be resumed: ask the maker, and decide."
            )
            lacks = _lacking(stage, told)
            judged.append(StageAfterCut("stopped", "inspect", None, f"{words % told} {lacks}"))
        elif stage.celsius >= NO_EXTENSION_FROM_C:
            words = _(
                "Stage %(number)d stopped at its boil. It is not made up by minutes: do it again "
                "whole, %(minutes)s min, if the maker's instructions allow it."
            )
            judged.append(StageAfterCut("stopped", "repeat_stage", stage.minutes, words % told))
        else:
            judged.append(StageAfterCut("stopped", "extend", stage.extend_minutes, stage.words))
    return AfterCut(found, tuple(judged))


def _lacking(stage: StageVerdict, told: dict[str, Any]) -> str:
    """Say what a stage lacks, as something to tell the maker: no advice to heat it.

    At a boil no minutes are said: what it lacks is not made up by minutes.
    """
    told = told | {
        "lack": ceil(stage.minutes * (1 - stage.dose_ratio)),
        "got": round(stage.got),
        "need": round(stage.need),
        "reference": f"{REFERENCE_C:g}",
    }
    if stage.celsius >= NO_EXTENSION_FROM_C:
        words = _(
            "It had %(got)d of the %(need)d equivalent minutes at %(reference)s °C that the "
            "program would give."
        )
    else:
        words = _(
            "It had %(got)d of the %(need)d equivalent minutes at %(reference)s °C that the "
            "program would give, and lacks about %(lack)d min at %(celsius)s °C."
        )
    return words % told


@dataclass(frozen=True, slots=True)
class Advice:
    """What the maker's program and the record speak for; a person decides.

    Attributes
    ----------
    choice
        ``as-is``, ``longer``, ``repeat`` (a stage is done whole), or empty: nothing is advised.
    stage
        The number of the stage that it is about, from 0.
    minutes
        How long that stage is still held at its own temperature; None where nothing is held.
    words
        The same as a sentence.
    """

    choice: Choice
    stage: int
    minutes: float | None
    words: str


def advise(after: AfterCut, stages: Sequence[tuple[float, float]], clock: int) -> Advice:
    """Say what may be done with a load after a cut.

    Parameters
    ----------
    stages
        °C and minutes, as `after_cut` had them.
    clock
        The stage, from 0, that would run now by the program.
    """
    for n, one in enumerate(after.stages):
        told = {
            "number": n + 1,
            "celsius": say_celsius(stages[n][0]),
            "minutes": round(one.minutes or 0),
        }
        if one.action == "inspect":
            return Advice("", n, None, one.words)
        if one.action == "extend":
            words = _(
                "Resume it: about %(minutes)d min more at %(celsius)s °C makes up the heating "
                "time of stage %(number)d, if the maker's instructions allow it."
            )
            return Advice("longer", n, one.minutes, words % told)
        if one.action == "repeat_stage":
            return Advice("repeat", n, one.minutes, one.words)
        if one.action == "run" and n <= clock:
            words = _(
                "Stage %(number)d should run by now and was never reached: run it whole, "
                "%(minutes)d min at %(celsius)s °C, if the maker's instructions allow it."
            )
            return Advice("repeat", n, one.minutes, words % told)
    last = min(clock, len(stages) - 1)
    return Advice("as-is", last, None, _("Nothing lacks so far. Let it go on as it is."))


def as_seen(
    program: Points, off_minute: float, on_minute: float, found_c: float | None
) -> tuple[tuple[float, float], ...]:
    """Return the record of a cut that only a person saw: by the program until the power went.

    What lies between is a gap, which `assess` reckons at both ends. Where nobody read the
    temperature the record ends when the power went: nothing after that is credited.

    Parameters
    ----------
    program
        Minutes and °C, linear between.
    off_minute, on_minute
        When the power went, and when the bath was found at ``found_c`` °C.

    Raises
    ------
    ValueError
        The power came back before it went, or it went before the program began.
    """
    run = checked([(minute * 60.0, celsius) for minute, celsius in program])
    off_s, on_s = off_minute * 60.0, on_minute * 60.0
    if not run.start_s < off_s <= run.end_s or not on_s > off_s:
        raise ValueError(
            _("The power goes while the program runs, and the bath is found after that.")
        )
    steps = max(1, int((off_s - run.start_s) // (GAP_S / 5)))
    instants = [run.start_s + (off_s - run.start_s) * n / steps for n in range(steps + 1)]
    seen = tuple((instant, run.at(instant)) for instant in instants)
    return seen if found_c is None else (*seen, (on_s, found_c))
