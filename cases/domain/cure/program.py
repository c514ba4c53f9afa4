"""Programs of a cure as the maker of the resin states them, and what a bath can do at its altitude.

A program is data that a laboratory edits: the maker's instructions for the resin in hand beat
every example here. Temperatures are of the bath, not of the resin, which lags behind it.
"""

from __future__ import annotations

from dataclasses import asdict, dataclass, replace
from datetime import date
from math import isfinite, log10
from typing import Any, Final

from cases.domain.json_shape import build, many
from cases.domain.words import N_
from cases.domain.words import gettext as _

# Where a cure begins when nobody says otherwise. Assumed: a workshop's room.
ROOM_C: Final = 23.0

# The lowest hold that the dose can judge. Below it the resin stiffens long before the heating
# time is made up, and equal doses no longer mean equal cures.
COLDEST_HOLD_C: Final = 65.0
# No water bath in the open is hotter. Assumed: boiling water and the error of a thermometer.
HOTTEST_HOLD_C: Final = 103.0
# So far below boiling a stage is no boil, whatever is ticked. As near a record counts as there.
NEAR_BOIL_K: Final = 2.0
LONGEST_MINUTES: Final = 7 * 24 * 60

# International standard atmosphere, troposphere: P = 101 325 (1 - 2.25577e-5 h)^5.25588 Pa.
# Source: ISO 2533:1975, from memory.
_SEA_LEVEL_PA: Final = 101_325.0
_LAPSE_PER_M: Final = 2.25577e-5
_LAPSE_POWER: Final = 5.25588
# Antoine's equation of water between 1 and 100 °C, mmHg. Source: handbook values, from memory.
_ANTOINE: Final = (8.07131, 1730.63, 233.426)
_PA_PER_MMHG: Final = 133.322
LOWEST_M: Final = -430.0
HIGHEST_M: Final = 5_000.0


def boiling_c(altitude_m: float) -> float:
    """Return at what temperature an open bath boils, °C.

    Parameters
    ----------
    altitude_m
        Height of the laboratory above the sea, −430 to 5000 m. Weather moves it by about ±1 K.

    Raises
    ------
    ValueError
        There is no laboratory at that height.
    """
    if not LOWEST_M <= altitude_m <= HIGHEST_M:
        raise ValueError(
            _("An altitude is a number of metres from %(low)d to %(high)d, not %(value)s.")
            % {"low": LOWEST_M, "high": HIGHEST_M, "value": altitude_m}
        )
    pressure_pa = _SEA_LEVEL_PA * (1 - _LAPSE_PER_M * altitude_m) ** _LAPSE_POWER
    a, b, c = _ANTOINE
    return b / (a - log10(pressure_pa / _PA_PER_MMHG)) - c


def say_celsius(celsius: float) -> str:
    """Write a temperature as a bath is set to it: a boil at some altitude is 99.9969 °C to the
    arithmetic, and 100 to a person."""
    return f"{round(celsius, 1):g}"


@dataclass(frozen=True, slots=True)
class Hold:
    """One stage of a program: the bath brought to a temperature and kept there.

    Attributes
    ----------
    celsius
        Temperature of the bath. Of a boil what the maker writes, usually 100.
    minutes
        How long it is kept; what it takes to get there is not counted.
    ramp_minutes
        How long the bath takes to get there; 0 where the flask goes into a bath that is hot.
    boil
        Whether "boiling" is meant, whatever that is at the laboratory's altitude.
    """

    celsius: float
    minutes: float
    ramp_minutes: float = 0.0
    boil: bool = False


@dataclass(frozen=True, slots=True)
class Program:
    """A program of a cure.

    Attributes
    ----------
    name
        As people call it.
    stages
        In order, one or more.
    source
        Whose instruction it is, with its edition.
    status
        How sure the source is; empty where somebody of the laboratory compared it.
    bench_rest_minutes
        Under the clamp before it goes into the bath.
    bench_cool_minutes, water_cool_minutes
        In air after it, then in tap water.
    largest_mm
        Thickest section that the maker allows; None where nothing is said.
    compared_on
        Day on which somebody compared the program with the source, as 2026-12-09; empty: nobody.
    note
        What else belongs to it.
    """

    name: str
    stages: tuple[Hold, ...]
    source: str
    status: str = ""
    bench_rest_minutes: float = 0.0
    bench_cool_minutes: float = 0.0
    water_cool_minutes: float = 0.0
    largest_mm: float | None = None
    compared_on: str = ""
    note: str = ""

    @property
    def holds(self) -> tuple[tuple[float, float], ...]:
        """Its stages as °C and minutes, which a record of the bath is judged by."""
        return tuple((stage.celsius, stage.minutes) for stage in self.stages)

    @property
    def bath_minutes(self) -> float:
        """How long a load is in the bath."""
        return sum(stage.ramp_minutes + stage.minutes for stage in self.stages)

    @property
    def reach_minute(self) -> float:
        """When the bath is at the temperature of its first stage, after the heating began."""
        return self.stages[0].ramp_minutes

    @property
    def cooling_minutes(self) -> float:
        """How long it then cools before it may be opened."""
        return self.bench_cool_minutes + self.water_cool_minutes

    def points(self, start_c: float = ROOM_C) -> tuple[tuple[float, float], ...]:
        """Return minutes and °C of the bath, linear between.

        A bath that is hot already has no ramp: the points then begin, or jump, at its
        temperature.
        """
        found: list[tuple[float, float]] = []
        minute, celsius = 0.0, start_c
        for stage in self.stages:
            if found or stage.ramp_minutes:
                found.append((minute, celsius))
            minute, celsius = minute + stage.ramp_minutes, stage.celsius
            found.append((minute, celsius))
            minute += stage.minutes
        found.append((minute, celsius))
        return tuple(point for n, point in enumerate(found) if n == 0 or point != found[n - 1])

    def at_altitude(self, altitude_m: float) -> Program:
        """Return the program with its boils at the temperature at which water boils there.

        Raises
        ------
        ValueError
            There is no laboratory at that height.
        """
        boiling = boiling_c(altitude_m)
        stages = (
            replace(stage, celsius=min(stage.celsius, boiling)) if stage.boil else stage
            for stage in self.stages
        )
        return replace(self, stages=tuple(stages))


def problems(program: Program, altitude_m: float = 0.0) -> tuple[str, ...]:
    """Say what is wrong with a program as somebody entered it, in sentences.

    What is said here keeps it from being saved: not whether it is sound for a thick piece.

    Raises
    ------
    ValueError
        There is no laboratory at that height.
    """
    return tuple(sentence for _entry, sentence in problems_by_entry(program, altitude_m))


def problems_by_entry(program: Program, altitude_m: float = 0.0) -> tuple[tuple[str, str], ...]:
    """Return what `problems` says, each with the entry that it is about.

    Entries are called like the attributes; those of a stage have its number, counted from 1,
    behind them: ``celsius-2``.

    Raises
    ------
    ValueError
        There is no laboratory at that height.
    """
    found = []
    if not program.name.strip():
        found.append(("name", _("The program has no name. Give it the one that the bench uses.")))
    if not program.source.strip():
        found.append(
            ("source", _("Whose instruction is it? Name the maker's leaflet and its edition."))
        )
    if not program.stages:
        found.append(("celsius-1", _("A program has one stage or more: say °C and minutes.")))
    boiling = boiling_c(altitude_m)
    before: Hold | None = None
    for number, stage in enumerate(program.stages, start=1):
        found.extend(_stage_problems(number, stage, before, boiling))
        before = stage
    for entry in ("bench_rest_minutes", "bench_cool_minutes", "water_cool_minutes"):
        minutes = getattr(program, entry)
        if not (isfinite(minutes) and 0 <= minutes <= LONGEST_MINUTES):
            found.append((entry, _("Rest and cooling are minutes, zero or more.")))
            break
    if program.largest_mm is not None and not 0 < program.largest_mm <= 100:
        found.append(
            (
                "largest_mm",
                _("The largest thickness is in millimetres, above zero; empty if unsaid."),
            )
        )
    if program.compared_on and not _is_day(program.compared_on):
        found.append(("compared_on", _("The day of comparison is written like 2026-12-09.")))
    return tuple(found)


def _stage_problems(
    number: int, stage: Hold, before: Hold | None, boiling: float
) -> tuple[tuple[str, str], ...]:
    told = {
        "number": number, "celsius": f"{stage.celsius:g}", "boiling": f"{boiling:.1f}",
        "low": f"{COLDEST_HOLD_C:g}", "high": f"{HOTTEST_HOLD_C:g}",
    }  # fmt: skip
    found = []
    if not COLDEST_HOLD_C <= stage.celsius <= HOTTEST_HOLD_C:
        hot = _(
            "Stage %(number)d is at %(celsius)s °C: a water bath that can be judged here holds "
            "%(low)s to %(high)s °C."
        )
        found.append((f"celsius-{number}", hot % told))
    elif not stage.boil and stage.celsius > boiling + 0.5:
        above = _(
            "Stage %(number)d asks for %(celsius)s °C, but a bath boils at %(boiling)s °C "
            "here. Mark it as a boil, or put in what the bath can hold."
        )
        found.append((f"celsius-{number}", above % told))
    elif stage.boil and stage.celsius < boiling - NEAR_BOIL_K:
        # The bench would be told to boil what the estimate and the verdict reckon with as cooler.
        no_boil = _(
            "Stage %(number)d is marked as a boil at %(celsius)s °C, but a bath boils at "
            "%(boiling)s °C here. Enter 100, or take the mark away."
        )
        found.append((f"celsius-{number}", no_boil % told))
    if not 0 < stage.minutes <= LONGEST_MINUTES:
        found.append((f"minutes-{number}", _("Stage %(number)d needs minutes above zero.") % told))
    if not 0 <= stage.ramp_minutes <= LONGEST_MINUTES:
        ramp = _("The way up to stage %(number)d takes minutes, zero or more.")
        found.append((f"ramp_minutes-{number}", ramp % told))
    if before is not None and stage.celsius <= before.celsius:
        no_hotter = _(
            "Stage %(number)d is no hotter than the one before it. Put cooling under "
            "cooling, and join stages of one temperature."
        )
        found.append((f"celsius-{number}", no_hotter % told))
    return tuple(found)


def _is_day(text: str) -> bool:
    try:
        return date.fromisoformat(text).isoformat() == text
    except ValueError:
        return False


def as_json(program: Program) -> dict[str, Any]:
    """Return a program as plain values, as a version of it is kept."""
    return asdict(program)


def read_program(data: Any) -> Program:
    """Read a program that `as_json` wrote.

    Raises
    ------
    ValueError
        A field is unknown, missing or of another type; the message names it.
    """
    hold = many(lambda value, place: build(Hold, value, place, {}))
    return build(Program, data, "program", {"stages": hold})


_PHILLIPS: Final = "Phillips' Science of Dental Materials, 12th ed. 2013, ch. 19"
_STATUS: Final = N_(
    "Temperatures, minutes and cooling from memory of the textbook, and read in student notes "
    "that repeat it. Ramps and bench rest: common practice, no published source."
)

# The two classic cycles, to be edited. The maker's instructions for the resin in hand go first.
# Bench rest 30 to 60 min: common practice, no published source. Cooling 30 min in air, then 15
# in tap water: the same textbook. A ramp of 30 min: assumed.
LONG: Final = Program(
    N_("Long cycle, overnight"),
    (Hold(74.0, 480.0, ramp_minutes=30.0),),
    _PHILLIPS, _STATUS, bench_rest_minutes=30, bench_cool_minutes=30, water_cool_minutes=15,
    note=N_("Also taught with a boil of one hour at its end, which lowers leftover monomer."),
)  # fmt: skip
SHORT: Final = Program(
    N_("Short cycle with a boil"),
    (Hold(74.0, 120.0, ramp_minutes=30.0), Hold(100.0, 60.0, ramp_minutes=30.0, boil=True)),
    _PHILLIPS, _STATUS, bench_rest_minutes=30, bench_cool_minutes=30, water_cool_minutes=15,
    note=N_("One and a half to two hours at 74 °C are taught."),
)  # fmt: skip
EXAMPLES: Final[dict[str, Program]] = {"long": LONG, "short": SHORT}
