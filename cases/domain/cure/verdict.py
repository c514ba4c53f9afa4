"""What the record of a bath says of a cure: complete, doubtful, or to be repeated, stage by stage.

Each stage is judged for itself and credited at most at its own temperature: minutes at a boil
never make up for missing ones at 74 °C, nor the other way round. Only heating is judged. What
was heated too far cannot be put right by more heat.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from math import isfinite
from typing import Final, Literal

import numpy as np

from cases.domain.cure.dose import (
    REFERENCE_C,
    equivalent_minutes,
    kinetics_set,
    minutes_at,
    rate_per_s,
)
from cases.domain.cure.program import COLDEST_HOLD_C, HOTTEST_HOLD_C, LONGEST_MINUTES, say_celsius
from cases.domain.cure.quality import NEAR_K, Flag, gaps, quality
from cases.domain.cure.samples import Points, Samples, checked
from cases.domain.cure.window import Window, window_flags
from cases.domain.words import N_
from cases.domain.words import gettext as _

Verdict = Literal["complete", "doubtful", "repeat"]
Position = Literal["bath", "flask", "dummy"]

# Stored with each verdict. Raise the number with every change that could turn one.
MODEL_VERSION: Final = "cure-dose 6"

CAUTION: Final = N_(
    "Heating estimate only. It does not show that the resin is safe or strong, and says nothing "
    "of pores. The resin maker's instructions take precedence."
)
VERDICT_WORDS: Final[dict[str, str]] = {
    "complete": N_("complete"), "doubtful": N_("doubtful"), "repeat": N_("repeat"),
}  # fmt: skip

# At this temperature and above no extension is offered: what a boil lacks is for the maker's
# instructions. Assumed: below any boil of a bath up to 2500 m, above any hold before it.
NO_EXTENSION_FROM_C: Final = 90.0
# When the resin sets: by the heat estimate 30 to 50 min after the flask goes in with a ramp of
# half an hour, so 20 min after the bath is up. A slower ramp sets later.
SETTING_MINUTE: Final = 50.0
SETTING_AFTER_REACHED: Final = 20.0


@dataclass(frozen=True, slots=True)
class Limits:
    """Where the verdicts part. Assumed, from no standard: settings of the lab (``cure.settings``).

    Attributes
    ----------
    complete, doubtful
        Least share of the needed dose for either; below the second a stage is to be repeated.
    overshoot_k
        How far above the first stage's temperature the bath may be before the resin has set.
    probe_check_days
        How long a check of the probe counts.
    """

    complete: float = 0.98
    doubtful: float = 0.85
    overshoot_k: float = 8.0
    probe_check_days: int = 365


@dataclass(frozen=True, slots=True)
class Probe:
    """What measured: where it was, when it was checked, and by how much it reads too high.

    The check is the last one until the day of the record, ``read_on``, or the first after it.
    """

    position: Position = "bath"
    checked_on: date | None = None
    read_on: date | None = None
    reads_high_k: float = 0.0


@dataclass(frozen=True, slots=True)
class StageVerdict:
    """One stage of the program against the record.

    Attributes
    ----------
    celsius, minutes
        As the maker states it.
    verdict
        ``"complete"``, ``"doubtful"`` or ``"repeat"``.
    need, got
        Equivalent minutes at 74 °C; of ``got`` the lower bound where the record has gaps.
    got_high
        The upper bound; the same as ``got`` without gaps.
    extend_minutes
        What makes the stage up, in minutes at its own temperature; 0 where nothing lacks, None
        where no extension is offered.
    from_s, until_s
        Which part of the record was taken for it; None where it was never reached.
    words
        The same as a sentence.
    to_go
        It was not over when the record was read: what it lacks may still come.
    hotter
        The bath was hotter than its temperature all along: when it ran cannot be told.
    """

    celsius: float
    minutes: float
    verdict: Verdict
    need: float
    got: float
    got_high: float
    extend_minutes: float | None
    from_s: float | None
    until_s: float | None
    words: str
    to_go: bool = False
    hotter: bool = False

    @property
    def dose_ratio(self) -> float:
        """Share of the needed dose that the stage got, capped at its own temperature."""
        return self.got / self.need


@dataclass(frozen=True, slots=True)
class Assessment:
    """What a record says of a whole cure.

    Attributes
    ----------
    verdict
        The worst of the stages; at best doubtful where a flag doubts the record.
    stages
        One a stage.
    findings
        The flags with their codes.
    equivalent_minutes, program_equivalent_minutes
        Of record and program, at 74 °C, as information: stages are not traded by them.
    model_version, kinetics
        What judged, to be stored with the verdict.
    limits
        The limits that it judged by.
    """

    verdict: Verdict
    stages: tuple[StageVerdict, ...]
    findings: tuple[Flag, ...]
    equivalent_minutes: float
    program_equivalent_minutes: float
    model_version: str
    kinetics: str
    limits: Limits

    @property
    def flags(self) -> tuple[str, ...]:
        """The flags in words."""
        return tuple(flag.words for flag in self.findings)


def assess(
    trace: Points | Samples,
    stages: Sequence[tuple[float, float]],
    *,
    program: Points | None = None,
    probe: Probe | None = None,
    program_position: Position = "bath",
    limits: Limits | None = None,
    kinetics: str = "db",
    setting_minute: float | None = None,
    resumable: bool = True,
    out: bool = False,
    window: Window | None = None,
) -> Assessment:
    """Judge a record against the stages of a program.

    Parameters
    ----------
    trace
        Pairs of seconds and °C.
    stages
        °C and minutes, as the maker states them for the bath, in order.
    program
        Minutes and °C with the ramps, linear between: what a stage needs is then what this gives
        it. Without it a stage needs its minutes at its temperature.
    probe
        What measured; None where that is not asked.
    program_position
        Where the temperatures of stages and program are meant: like is judged with like.
    limits
        Where the verdicts part; None for the usual ones.
    setting_minute
        When the resin has set at the latest, in minutes after the heating began, where an estimate
        of the heat says so for the program; a bath that comes up later sets it later.
    resumable
        Whether the maker of the resin allows a cycle to be resumed: else no extension is offered.
    out
        Whether the load has left its bath: then no extension is offered, and it is said.
    window
        When the load was in its bath: nothing else of the record is credited. None: the record is
        of the load and of nothing else.

    Raises
    ------
    ValueError
        Record, stages or program are none, or outside what can be judged; fewer than two readings
        are of the load's time. The sentence says why.
    """
    chosen, rule = kinetics_set(kinetics).key, limits or Limits()
    holds = _checked_stages(stages)
    samples = checked(trace)
    if probe is not None and probe.reads_high_k:
        samples = samples.shifted(-probe.reads_high_k)
    needs = _needs(holds, program, chosen)
    apart = window_flags(samples, window, holds[0][0]) if window else ()
    samples = window.part(samples) if window else samples
    lower, upper = _bounds(samples)
    parts = _cut(samples, holds)
    bounds = [_credits(bound, holds, chosen) for bound in (samples, lower, upper)]
    reached = [n for n, (since, _until) in enumerate(parts) if since is not None]
    set_by_s = _set_by_s(samples, holds[0][0], setting_minute, window)
    overheated = _overheat_flags(samples, holds[0][0], rule, set_by_s)
    judged: list[StageVerdict] = []
    for n, (celsius, minutes) in enumerate(holds):
        got = min(credited[n] for credited in bounds)
        high = max(credited[n] for credited in bounds)
        running = reached[-1] if reached else 0
        current = resumable and not out and n == running and not overheated
        one = _judge(n, celsius, minutes, needs[n], (got, high), parts[n], rule, chosen, current)
        if parts[n][0] is None and float(samples.celsius.min()) > celsius + NEAR_K:
            one = _hotter(n, one, float(samples.celsius.min()))
        elif out and all(before.verdict == "complete" for before in judged):
            one = _out(one)
        if window and window.runs and n >= running and one.verdict != "complete":
            one = replace(one, verdict="doubtful", to_go=True)
        judged.append(one)
    findings = (
        *apart,
        *quality(
            samples,
            [celsius for celsius, _minutes in holds],
            in_water=probe is None or probe.position == "bath",
        ),
        *overheated,
        *_probe_flags(probe, program_position, rule),
    )
    verdicts = {stage.verdict for stage in judged}
    verdict: Verdict = "complete"
    if "repeat" in verdicts:
        verdict = "repeat"
    elif "doubtful" in verdicts or any(flag.doubts for flag in findings):
        verdict = "doubtful"
    return Assessment(
        verdict, tuple(judged), findings, equivalent_minutes(samples, chosen), sum(needs),
        MODEL_VERSION, chosen, rule,
    )  # fmt: skip


def _checked_stages(stages: Sequence[tuple[float, float]]) -> list[tuple[float, float]]:
    try:
        holds = [(float(celsius), float(minutes)) for celsius, minutes in stages]
    except (TypeError, ValueError):
        holds = []
    if not holds:
        raise ValueError(_("A program has one stage or more, each of °C and minutes."))
    for n, (celsius, minutes) in enumerate(holds):
        if not COLDEST_HOLD_C <= celsius <= HOTTEST_HOLD_C:
            raise ValueError(
                _(
                    "A stage at %(celsius)s °C is outside the range of this estimate, which is for "
                    "water baths from %(low)s to %(high)s °C."
                )
                % {"celsius": f"{celsius:g}", "low": COLDEST_HOLD_C, "high": HOTTEST_HOLD_C}
            )
        if not (isfinite(minutes) and 0 < minutes <= LONGEST_MINUTES):
            raise ValueError(_("A stage needs minutes above zero, and not more than a week."))
        if n and celsius <= holds[n - 1][0]:
            raise ValueError(_("Each stage has to be hotter than the one before it."))
    return holds


def _needs(
    holds: Sequence[tuple[float, float]], program: Points | None, kinetics: str
) -> list[float]:
    if program is None:
        reference = rate_per_s(REFERENCE_C, kinetics)
        return [minutes * rate_per_s(c, kinetics) / reference for c, minutes in holds]
    try:
        seconds = [(minute * 60.0, celsius) for minute, celsius in program]
    except (TypeError, ValueError):
        seconds = []
    needs = _credits(checked(seconds), holds, kinetics)
    for (celsius, _minutes), need in zip(holds, needs, strict=True):
        if need <= 0:
            raise ValueError(
                _("The program never comes to %(celsius)s °C, which one of its stages asks for.")
                % {"celsius": f"{celsius:g}"}
            )
    return needs


def _bounds(samples: Samples) -> tuple[Samples, Samples]:
    """Return the record with each gap at its lower, and at its higher neighbour."""
    found = gaps(samples)
    if not found:
        return samples, samples
    after = np.flatnonzero(np.isin(samples.seconds, [until for _since, until in found]))
    after = after[np.diff(samples.seconds, prepend=samples.seconds[0])[after] > 0]
    here, there = samples.celsius[after - 1], samples.celsius[after]
    where = np.repeat(after, 2)
    seconds = np.insert(
        samples.seconds, where, np.ravel((samples.seconds[after - 1], samples.seconds[after]), "F")
    )
    low, high = np.repeat(np.minimum(here, there), 2), np.repeat(np.maximum(here, there), 2)
    return (
        Samples(seconds, np.insert(samples.celsius, where, low)),
        Samples(seconds, np.insert(samples.celsius, where, high)),
    )


def _cut(
    samples: Samples, holds: Sequence[tuple[float, float]]
) -> list[tuple[float | None, float | None]]:
    """Return from when until when each stage ran, in seconds.

    A stage runs from where the line first comes near its temperature until it first comes near
    the next one's. The line decides, not the reading after it, so that how often the logger
    reads makes no difference. What comes before the first stage is the way up to it, and its.
    """
    starts: list[float | None] = []
    after = samples.start_s
    for celsius, _minutes in holds:
        start = samples.first_reached(celsius, NEAR_K, after)
        starts.append(start)
        after = after if start is None else start
    parts: list[tuple[float | None, float | None]] = []
    for n, start in enumerate(starts):
        later = [s for s in starts[n + 1 :] if s is not None]
        parts.append((start, None if start is None else (later[0] if later else samples.end_s)))
    return parts


def _credits(samples: Samples, holds: Sequence[tuple[float, float]], kinetics: str) -> list[float]:
    """Return the equivalent minutes of each stage, credited at most at its temperature."""
    found = []
    for n, (since, until) in enumerate(_cut(samples, holds)):
        begin = samples.start_s if n == 0 else since
        if since is None or begin is None or until is None or until <= begin:
            found.append(0.0)
            continue
        part = samples.between(begin, until).clipped(holds[n][0])
        found.append(equivalent_minutes(part, kinetics))
    return found


def _judge(
    n: int, celsius: float, minutes: float, need: float, got: tuple[float, float],
    part: tuple[float | None, float | None], rule: Limits, kinetics: str, current: bool,
) -> StageVerdict:  # fmt: skip
    ratio = got[0] / need
    verdict: Verdict = "complete"
    extend: float | None = 0.0
    if ratio < rule.complete:
        verdict = "doubtful" if ratio >= rule.doubtful else "repeat"
        extend = None
        if current and celsius < NO_EXTENSION_FROM_C:
            extend = minutes_at(celsius, need - got[0], kinetics)
    told = {
        "number": n + 1, "celsius": say_celsius(celsius), "got": round(got[0]), "need": round(need),
        "percent": round(100 * ratio), "reference": f"{REFERENCE_C:g}",
        "more": round(extend or 0), "high": round(got[1]),
    }  # fmt: skip
    if part[0] is None:
        words = _("Stage %(number)d: by this record the bath never came to %(celsius)s °C.") % told
    elif got[1] - got[0] > 0.01 * need:
        words = (
            _(
                "Stage %(number)d, %(celsius)s °C: this trace gave %(got)d to %(high)d of the "
                "%(need)d equivalent minutes at %(reference)s °C that the program would give."
            )
            % told
        )
    else:
        words = (
            _(
                "Stage %(number)d, %(celsius)s °C: this trace gave %(got)d of the %(need)d "
                "equivalent minutes at %(reference)s °C that the program would give "
                "(%(percent)d %%)."
            )
            % told
        )
    if extend:
        words += (
            " "
            + _(
                "About %(more)d min more at %(celsius)s °C makes up the heating time, if the "
                "maker's instructions allow a cycle to be resumed."
            )
            % told
        )
    return StageVerdict(
        celsius, minutes, verdict, need, got[0], got[1], extend, part[0], part[1], words
    )


def _hotter(n: int, stage: StageVerdict, least_c: float) -> StageVerdict:
    """Say of a stage that the bath was above it all along; more heat is no help to it."""
    words = _(
        "Stage %(number)d: the bath was hotter than %(celsius)s °C all along, at %(least)s °C or "
        "more. When this stage ran cannot be told, so nothing is credited for it, and more heating "
        "does not put that right: inspect the pieces, ask the resin's maker, and decide."
    ) % {"number": n + 1, "celsius": say_celsius(stage.celsius), "least": f"{least_c:.1f}"}
    return replace(stage, extend_minutes=None, words=words, hotter=True)


def _out(stage: StageVerdict) -> StageVerdict:
    """Say of the first stage that lacks heat that the load is out of its bath."""
    if stage.verdict == "complete":
        return stage
    words = _(
        "The load is out of its bath, and what it lacks is not made up there any more: inspect the "
        "pieces closely, ask the resin's maker, and decide."
    )
    return replace(stage, words=f"{stage.words} {words}")


def _set_by_s(
    samples: Samples, set_c: float, setting_minute: float | None, window: Window | None
) -> float:
    """Return by which second of the record the resin has set."""
    began_s = window.since_s if window else samples.start_s
    reached = samples.first_reached(set_c, NEAR_K, samples.start_s)
    if setting_minute is not None:
        # The estimate is of the program as written; a bath that is slower hardens it later.
        behind_s = max(0.0, reached - window.reach_s) if window and reached is not None else 0.0
        return began_s + 60 * setting_minute + behind_s
    if reached is None:
        return began_s + 60 * SETTING_MINUTE
    return max(began_s + 60 * SETTING_MINUTE, reached + 60 * SETTING_AFTER_REACHED)


def _overheat_flags(
    samples: Samples, set_c: float, rule: Limits, set_by_s: float
) -> tuple[Flag, ...]:
    until = max(samples.start_s, min(samples.end_s, set_by_s))
    hottest = float(samples.between(samples.start_s, until).celsius.max())
    if hottest <= set_c + rule.overshoot_k:
        return ()
    words = _(
        "The bath was at %(hottest)s °C before the resin can be taken to have set, "
        "%(over)s °C above its first stage. More heating does not undo that: inspect the piece."
    ) % {"hottest": f"{hottest:.0f}", "over": f"{hottest - set_c:.0f}"}
    return (Flag("overheated", words),)


def _probe_flags(probe: Probe | None, program_position: Position, rule: Limits) -> tuple[Flag, ...]:
    if probe is None:
        return ()
    found = []
    if probe.position != program_position:
        found.append(
            Flag(
                "probe_position",
                _(
                    "The probe was not where the program's temperatures are meant, so like is not "
                    "judged with like. Compare with a run that was measured in the same place."
                ),
            )
        )
    if probe.checked_on is None:
        found.append(
            Flag(
                "probe_unchecked",
                _(
                    "There is no probe check on record. One degree wrong moves the dose by about "
                    "an eighth: check the probe, and enter the day and what it read."
                ),
                doubts=False,
            )
        )
    elif probe.read_on is not None and probe.checked_on > probe.read_on:
        found.append(
            Flag(
                "probe_check_later",
                _(
                    "The probe was first checked on %(day)s, after this load. What it read then is "
                    "taken off; whether it was as far off before, nobody knows."
                )
                % {"day": probe.checked_on.isoformat()},
                doubts=False,
            )
        )
    elif (
        probe.read_on is not None
        and (probe.read_on - probe.checked_on).days > rule.probe_check_days
    ):
        found.append(
            Flag(
                "probe_check_old",
                _("The last probe check was on %(day)s. Check the probe again.")
                % {"day": probe.checked_on.isoformat()},
                doubts=False,
            )
        )
    return tuple(found)
