"""Where the heat estimate speaks, and why it keeps silent elsewhere."""

from __future__ import annotations

from collections.abc import Iterable
from itertools import pairwise
from math import isfinite
from typing import Final

from cases.domain.quantity import Band
from cases.domain.words import gettext as _

# The checks of the model run from 2 to 12 mm; beyond 6 mm no measurement stands behind its peak,
# and beyond 20 mm the heat that leaves sideways would count. Assumed.
THICKNESS_MM: Final = Band(1.0, 20.0)
GYPSUM_MM: Final = Band(5.0, 50.0)
# Studies mix 1.8 to 2.2, the trade up to about 2.6; from memory.
POWDER_LIQUID_G_ML: Final = Band(1.6, 3.2)
# Peroxide in denture powders, in percent; from memory.
BPO_PERCENT: Final = Band(0.2, 1.5)
# Water is the bath: it does not get hotter, allowing for a thermometer that reads high.
BATH_C: Final = Band(0.0, 102.0)
# A heat cure happens at 65 °C and above (ISO 20795-1 draws that line for heat-cured materials).
COOLEST_CURE_C: Final = 65.0
# Below this the peroxide does nothing in an hour. Assumed.
_IDLE_C: Final = 40.0
# A ramp of two hours from room temperature to 74 °C passes in one hour from 40 to 65 °C; slower
# than half as fast is a hold in all but name. Assumed.
LONGEST_WARM_MIN: Final = 120.0
LONGEST_PROGRAM_MIN: Final = 48 * 60.0


class OutsideRange(ValueError):
    """The estimate does not reach so far; its words say why."""


def _within(what: str, number: float, band: Band, unit: str) -> None:
    if not isinstance(number, int | float) or isinstance(number, bool) or not isfinite(number):
        raise ValueError(_("%(what)s has to be a number.") % {"what": what})
    if not band.low <= number <= band.high:
        raise OutsideRange(
            _(
                "%(what)s of %(number)s %(unit)s is outside the range of this estimate: "
                "%(low)s to %(high)s %(unit)s."
            )
            % {
                "what": what,
                "number": f"{number:g}",
                "unit": unit,
                "low": f"{band.low:g}",
                "high": f"{band.high:g}",
            }
        )


def check_flask(
    thickness_mm: float, gypsum_mm: float, powder_liquid_g_ml: float, bpo_percent: float
) -> None:
    """Refuse a flask that the estimate does not know.

    Raises
    ------
    OutsideRange
        A number is outside its range.
    ValueError
        It is no number.
    """
    _within(_("A resin thickness"), thickness_mm, THICKNESS_MM, "mm")
    _within(_("A gypsum thickness"), gypsum_mm, GYPSUM_MM, "mm")
    _within(_("A powder to liquid ratio"), powder_liquid_g_ml, POWDER_LIQUID_G_ML, "g/mL")
    _within(_("A share of peroxide"), bpo_percent, BPO_PERCENT, "%")


def _share_between(first: float, last: float, low: float, high: float) -> float:
    """Return the share of a straight line from ``first`` to ``last`` in a band, ends left out."""
    if first == last:
        return 1.0 if low < first < high else 0.0
    bottom, top = min(first, last), max(first, last)
    return max(0.0, min(top, high) - max(bottom, low)) / (top - bottom)


def _warm_minutes(points: Iterable[tuple[float, float]]) -> float:
    """Return how long the bath is warm and not yet hot, until it is first hot to stay."""
    warm = 0.0
    hot = 0.0
    for (begin, first), (end, last) in pairwise(points):
        minutes = end - begin
        warm += minutes * _share_between(first, last, _IDLE_C, COOLEST_CURE_C)
        hot += minutes * _share_between(first, last, COOLEST_CURE_C - 1e-9, BATH_C.high + 1)
        if hot >= LONGEST_WARM_MIN / 4:
            break
    return warm


def read_program(program: Iterable[tuple[float, float]]) -> tuple[tuple[float, float], ...]:
    """Return the points of a program, (minutes, °C), if the estimate can follow it.

    Raises
    ------
    OutsideRange
        The bath is too hot, never hot enough, warm for too long, or the program is too long.
    ValueError
        It is no program: the first point is not at 0, time goes backwards, or a point is no number.
    """
    points = tuple((float(minute), float(celsius)) for minute, celsius in program)
    if len(points) < 2 or not all(isfinite(number) for point in points for number in point):
        raise ValueError(_("A program needs at least two points, each with minutes and °C."))
    if points[0][0] != 0:
        raise ValueError(_("A program begins at minute 0."))
    if any(later[0] < earlier[0] for earlier, later in pairwise(points)) or points[-1][0] <= 0:
        raise ValueError(_("In a program time goes forward: put its points in order."))
    for _minute, celsius in points:
        _within(_("A bath"), celsius, BATH_C, "°C")
    if points[-1][0] > LONGEST_PROGRAM_MIN:
        raise OutsideRange(
            _("The program takes %(hours)s h: this estimate reaches %(most)s h.")
            % {
                "hours": f"{points[-1][0] / 60:g}",
                "most": f"{LONGEST_PROGRAM_MIN / 60:g}",
            }
        )
    hottest = max(celsius for _minute, celsius in points)
    if hottest < COOLEST_CURE_C:
        raise OutsideRange(
            _(
                "The bath reaches %(hottest)s °C: a cure below %(least)s °C is outside the range "
                "of this estimate."
            )
            % {"hottest": f"{hottest:g}", "least": f"{COOLEST_CURE_C:g}"}
        )
    warm = _warm_minutes(points)
    if warm > LONGEST_WARM_MIN:
        raise OutsideRange(
            _(
                "The bath stands between %(idle)s and %(least)s °C for %(warm)s min before it is "
                "hot: more than %(most)s min are outside the range of this estimate."
            )
            % {
                "idle": f"{_IDLE_C:g}",
                "least": f"{COOLEST_CURE_C:g}",
                "warm": f"{warm:.0f}",
                "most": f"{LONGEST_WARM_MIN:g}",
            }
        )
    return points
