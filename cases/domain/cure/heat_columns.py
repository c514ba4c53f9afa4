"""Which columns of a logger's table say how hot: every way to read them, and what stops it.

A unit is never guessed: what the file does not say, or no water bath can be, is asked about.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from math import isfinite
from typing import Final, Literal

from cases.domain.cure.bad_readings import alone
from cases.domain.cure.quality import FAHRENHEIT_ABOVE_C
from cases.domain.cure.time_columns import Rows
from cases.domain.words import gettext as _

Unit = Literal["C", "F"]

MISSING: Final = {"", "-", "--", "---", "nan", "n/a", "err", "error", "null"}
"""What stands in a cell that has no reading."""
_NUMBER: Final = re.compile(r"([+-]?\d+(?:[.,]\d+)?(?:[eE][+-]?\d+)?)\s*(?:°|º)?\s*([CFcf])?")
_UNIT: Final = re.compile(
    r"(?:°|º|deg\.?|\bin\b|[(\[/_,\s])\s*([CF])(?:[)\]\s]|$)|\b(celsius|fahrenheit)\b", re.I
)
_KELVIN: Final = re.compile(r"[(\[/_,\s]\s*K(?:[)\]\s]|$)|\b[Kk]elvin\b|\bKELVIN\b")
# What a column of temperatures lies between, of either unit. Judgement.
_LEAST, _MOST = -60.0, 400.0
_OTHER: Final = re.compile(r"%|\brh\b|humid|volt|batt|\bno\.?$|^#|index|record|row|sample", re.I)


@dataclass(frozen=True, slots=True)
class HeatColumn:
    """One way to read how hot: a column and its unit; ``stated``: the file says this unit."""

    column: int
    unit: Unit
    stated: bool
    name: str


def number(cell: str) -> float | None:
    """Read a number with a decimal point or comma, and maybe its degree; None for anything else."""
    match = _NUMBER.fullmatch(cell.strip())
    found = float(match[1].replace(",", ".")) if match else None
    return found if found is not None and isfinite(found) else None


def find_heats(some: Rows, names: Sequence[str], taken: set[int]) -> tuple[HeatColumn, ...]:
    """Return every way to read how hot; ``taken`` are the columns that say when."""
    found = []
    for column, name in enumerate(names):
        cells = [row[column] for row in some if row[column].lower() not in MISSING]
        values = [number(cell) for cell in cells]
        read = [value for value in values if value is not None]
        if column in taken or _OTHER.search(name) or len(read) < max(2, 0.9 * len(cells)):
            continue
        if _KELVIN.search(name):
            continue
        # A single reading that is none says nothing of the unit, nor of what the column is.
        bad = set(alone(read) or alone([in_celsius(value, "F") for value in read]))
        read = [value for place, value in enumerate(read) if place not in bad]
        if not all(_LEAST <= value <= _MOST for value in read):
            continue
        match = _UNIT.search(name) or _NUMBER.fullmatch(cells[0])
        written = (
            (match[1] or match[2] or "")[:1].upper()
            if match and match.re is _UNIT
            else ((match[2] or "").upper() if match else "")
        )
        # What no water bath reaches is asked about, whatever the file says.
        hot = max(read) > FAHRENHEIT_ABOVE_C
        likely: tuple[Unit, ...] = ("F", "C") if hot else ("C", "F")
        units = [u for u in likely if not written or u == written or (hot and u == "F")]
        found += [HeatColumn(column, unit, unit == written, name) for unit in units]
    return tuple(found)


def refuse_wild(body: Rows, where: Sequence[int], names: Sequence[str], taken: set[int]) -> None:
    """Name a cell that keeps a column from being temperatures, where nearly all others are."""
    for column, name in enumerate(names):
        told = [number(row[column]) for row in body]
        wild = [n for n, value in enumerate(told) if value and not _LEAST <= value <= _MOST]
        few = len(wild) <= len(body) // 10
        if column in taken or _OTHER.search(name) or not (wild and few):
            continue
        if sum(value is not None for value in told) >= 0.9 * len(told):
            raise ValueError(
                _(
                    "Row %(row)d: “%(cell)s” is a temperature that no bath has. Take such rows out "
                    "of the file, or send the record of a sound probe."
                )
                % {"row": where[wild[0]] + 1, "cell": body[wild[0]][column][:40]}
            )


def refuse_kelvin(names: Sequence[str]) -> None:
    """Say so where a heading names kelvin."""
    named = next((name for name in names if _KELVIN.search(name)), None)
    if named is not None:
        raise ValueError(
            _("“%(name)s” is in kelvin, which is not read here: export the degrees as °C or °F.")
            % {"name": named[:40]}
        )


def refuse_unread(body: Rows, where: Sequence[int], names: Sequence[str], taken: set[int]) -> None:
    """Say of what would be the temperatures which cell is none, or that there are none."""
    for column, name in enumerate(names):
        if column in taken or _OTHER.search(name):
            continue
        cells = [row[column] for row in body]
        wrong = [n for n, cell in enumerate(cells) if number(cell) is None]
        none = [n for n in wrong if cells[n].lower() in MISSING]
        if len(none) == len(cells):
            raise ValueError(
                _(
                    "“%(name)s” has no reading in any row: was the probe plugged in? Send the "
                    "record of a probe that read."
                )
                % {"name": name[:40]}
            )
        other = [n for n in wrong if cells[n].lower() not in MISSING]
        if other and len(cells) - len(wrong) >= len(cells) / 3:
            raise ValueError(
                _(
                    "Row %(row)d: “%(cell)s” is no temperature, nor are the cells of %(more)d "
                    "more rows: export the degrees as plain numbers."
                )
                % {
                    "row": where[other[0]] + 1,
                    "cell": cells[other[0]][:40],
                    "more": len(other) - 1,
                }
            )


def in_celsius(value: float, unit: str) -> float:
    """Return a temperature in °C; ``unit`` is C or F, as `Unit` has them."""
    return (value - 32) / 1.8 if unit == "F" else value
