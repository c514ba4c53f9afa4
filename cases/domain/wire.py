"""Wire: by gauge or in millimetres, never a gauge without its table.

18 is 1.02 mm by the American table and 1.22 mm by the British one, and a gauge number says nothing
of the wire's metal; so millimetres are what counts, and the number is kept beside them as asked.
"""

from __future__ import annotations

import re
from contextlib import suppress
from dataclasses import dataclass
from typing import Final

from cases.domain.alloys import ALLOYS, Alloy
from cases.domain.crosssection import section_properties
from cases.domain.design_parts import GaugeSystem
from cases.domain.words import gettext as _

__all__ = [
    "ALLOYS",
    "Alloy",
    "Wire",
    "diameter_mm",
    "is_gauge",
    "neighbours",
    "of_which_table",
    "parse_wire",
    "second_moment_mm4",
    "swg_diameter_mm",
]

MM_PER_INCH: Final = 25.4

# Brown & Sharpe, or American, wire gauge: d = 0.005 in at gauge 36, and 92 times that 39 steps up.
# Source: ASTM B258 (formula read on a page that quotes it; the standard itself from memory).
_AWG_INCH_AT_36: Final = 0.005
_AWG_RATIO: Final = 92.0
_AWG_STEPS: Final = 39
AWG_GAUGES: Final = range(41)

# British standard wire gauge, in units of 0.0001 inch. Source: BS 3737:1964 (withdrawn), from
# memory; the same figures were read in two reference tables, not in the standard.
SWG_TENTHS_OF_A_THOU: Final[dict[int, int]] = {
    6: 1920, 7: 1760, 8: 1600, 9: 1440, 10: 1280, 11: 1160, 12: 1040, 13: 920, 14: 800, 15: 720,
    16: 640, 17: 560, 18: 480, 19: 400, 20: 360, 21: 320, 22: 280, 23: 240, 24: 220, 25: 200,
    26: 180, 27: 164, 28: 148, 29: 136, 30: 124,
}  # fmt: skip

# Thinner is a ligature, thicker is no wire that one bends: 30 SWG to 6 AWG, the gauges that the
# trade names. common practice, no published source
THINNEST_MM: Final = 0.3
THICKEST_MM: Final = 4.2
# Wires sold by the millimetre go by tenths. common practice, no published source
METRIC_STEP_MM: Final = 0.1

_SYSTEM_NAMES: Final[dict[str, str]] = {"awg": "AWG", "swg": "SWG", "mm": "mm"}
_WRITTEN: Final = re.compile(r"(?P<number>\d+(?:[.,]\d+)?)\s*(?P<unit>mm|awg|b&s|swg|ga)?", re.I)
_UNITS: Final[dict[str, GaugeSystem]] = {"mm": "mm", "awg": "awg", "b&s": "awg", "swg": "swg"}


def _whole(gauge: object) -> int:
    if isinstance(gauge, float) and gauge.is_integer():
        return int(gauge)
    if isinstance(gauge, bool) or not isinstance(gauge, int):
        raise ValueError(
            _("%(gauge)s is no gauge: gauges are whole numbers.") % {"gauge": repr(gauge)}
        )
    return gauge


def diameter_mm(gauge: int) -> float:
    """Return the diameter of a Brown & Sharpe (American) gauge, unrounded, in mm.

    Parameters
    ----------
    gauge
        0 to 40.

    Raises
    ------
    ValueError
        The gauge is out of that range or no whole number.
    """
    number = _whole(gauge)
    if number not in AWG_GAUGES:
        raise ValueError(
            _("There is no wire of AWG %(gauge)s here: gauges run from %(first)s to %(last)s.")
            % {"gauge": number, "first": AWG_GAUGES[0], "last": AWG_GAUGES[-1]}
        )
    return MM_PER_INCH * _AWG_INCH_AT_36 * float(_AWG_RATIO ** ((36 - number) / _AWG_STEPS))


def swg_diameter_mm(gauge: int) -> float:
    """Return the diameter of a British standard gauge in mm.

    Parameters
    ----------
    gauge
        6 to 30.

    Raises
    ------
    ValueError
        The gauge is out of that range or no whole number.
    """
    number = _whole(gauge)
    if number not in SWG_TENTHS_OF_A_THOU:
        raise ValueError(
            _("There is no wire of SWG %(gauge)s here: gauges run from %(first)s to %(last)s.")
            % {
                "gauge": number,
                "first": min(SWG_TENTHS_OF_A_THOU),
                "last": max(SWG_TENTHS_OF_A_THOU),
            }
        )
    return SWG_TENTHS_OF_A_THOU[number] / 10_000 * MM_PER_INCH


def second_moment_mm4(section: str, diameter_mm: float) -> float:
    """Return the second moment of area about the weak axis, in mm⁴.

    Parameters
    ----------
    section
        ``"round"``, or ``"half_round"``: bending toward or away from its flat.
    diameter_mm
        Diameter; of a half-round that of its full round.

    Raises
    ------
    ValueError
        There is no such section, or the diameter is not above zero.
    """
    return section_properties(section, diameter_mm).weak_mm4


@dataclass(frozen=True, slots=True)
class Wire:
    """A wire as it was asked for: ``gauge`` by the table ``system``, and what that is in mm.

    Of a wire asked for in millimetres ``gauge`` is that number and ``system`` is ``"mm"``.
    """

    mm: float
    gauge: str
    system: GaugeSystem

    @property
    def name(self) -> str:
        """As it was asked for: "19 AWG", "0.9 mm"."""
        return f"{self.gauge} {_SYSTEM_NAMES[self.system]}"

    @property
    def label(self) -> str:
        """The same with the millimetres of a gauge: "19 AWG (0.91 mm)", "0.9 mm"."""
        return self.name if self.system == "mm" else f"{self.name} ({self.mm:.2f} mm)"


def _metric(mm: float) -> Wire:
    written = f"{mm:g}"
    return _in_range(Wire(mm, written if "." in written else f"{written}.0", "mm"))


def _in_range(wire: Wire) -> Wire:
    if not THINNEST_MM <= wire.mm <= THICKEST_MM:
        raise ValueError(
            _("%(label)s is no wire for a clasp or a bar: those are %(least)s to %(most)s mm.")
            % {"label": wire.label, "least": THINNEST_MM, "most": THICKEST_MM}
        )
    return wire


def _by_gauge(number: int, system: GaugeSystem) -> Wire:
    mm = diameter_mm(number) if system == "awg" else swg_diameter_mm(number)
    return _in_range(Wire(mm, str(number), system))


def _ask_which_table(written: str) -> str:
    """Say which wires a bare number may mean."""
    if not written.isdecimal():
        return _("%(written)s of what? Say millimetres, AWG or SWG.") % {"written": written}
    number = int(written)
    if number in AWG_GAUGES and number in SWG_TENTHS_OF_A_THOU:
        return _("%(gauge)s by which table? %(awg)s mm (AWG) or %(swg)s mm (SWG)?") % {
            "gauge": number,
            "awg": f"{diameter_mm(number):.2f}",
            "swg": f"{swg_diameter_mm(number):.2f}",
        }
    return _("%(gauge)s by which table? Say AWG, SWG or millimetres.") % {"gauge": number}


def is_gauge(text: str) -> bool:
    """Tell whether a text is the number of a wire in one of the tables, whichever is meant."""
    number = int(text) if text.isdecimal() and len(text) <= 2 else None
    for system in ("awg", "swg"):
        with suppress(ValueError):
            if number is not None:
                _by_gauge(number, system)
                return True
    return False


def of_which_table(gauge: str) -> tuple[float, float] | None:
    """Return the millimetres of a gauge by AWG and by SWG; None where one table lacks it."""
    try:
        return diameter_mm(int(gauge)), swg_diameter_mm(int(gauge))
    except ValueError:
        return None


def parse_wire(text: str, system: str = "") -> Wire:
    """Read a wire as people write it.

    Parameters
    ----------
    text
        A number, with or without its table or unit: ``"19"``, ``"19 AWG"``, ``"0.9 mm"``. A decimal
        comma is understood.
    system
        ``"awg"``, ``"swg"`` or ``"mm"``; empty where the text itself says it.

    Returns
    -------
    Wire
        In millimetres, with the gauge as asked for.

    Raises
    ------
    ValueError
        The text is no number, a gauge comes without its table, text and ``system`` contradict each
        other, the table is another one, or the wire is out of range. The sentence says which.
    """
    if system not in {"", *_SYSTEM_NAMES}:
        raise ValueError(
            _("%(system)s is no table of wires: take AWG, SWG or millimetres.") % {"system": system}
        )
    match = _WRITTEN.fullmatch(text.strip()) if isinstance(text, str) else None
    if match is None:
        raise ValueError(
            _("“%(text)s” is no wire: write a number like 19 or 0.9.") % {"text": text}
        )
    number = match["number"].replace(",", ".")
    unit = _UNITS.get((match["unit"] or "").lower(), "")
    if unit and system and unit != system:
        raise ValueError(
            _("“%(text)s” says %(unit)s, but %(system)s was chosen: which is meant?")
            % {
                "text": text.strip(),
                "unit": _SYSTEM_NAMES[unit],
                "system": _SYSTEM_NAMES[system],
            }
        )
    table = unit or system
    if table == "mm":
        return _metric(float(number))
    if table in {"awg", "swg"}:
        if not number.isdecimal():
            raise ValueError(
                _("%(gauge)s is no gauge: gauges are whole numbers.") % {"gauge": number}
            )
        return _by_gauge(int(number), "awg" if table == "awg" else "swg")
    raise ValueError(_ask_which_table(number))


def neighbours(wire: Wire) -> tuple[Wire, ...]:
    """Return the next thinner and the next thicker wire of the same table, where there are any."""
    found = []
    for step in (1, -1):
        try:
            if wire.system == "mm":
                found.append(_metric(round(wire.mm - step * METRIC_STEP_MM, 3)))
            else:
                found.append(_by_gauge(int(wire.gauge) + step, wire.system))
        except ValueError:
            # The end of the table.
            continue
    return tuple(found)
