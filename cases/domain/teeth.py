"""Tooth numbers: three ways to write them, one way to keep them.

Inside the program a tooth is its FDI number (ISO 3950) as an ``int``. The labels ``11`` to ``18``,
``21`` to ``28``, ``31`` and ``32`` exist both in FDI and in the Universal system and mean other
teeth there, so no function here ever guesses the system: the caller always names it.
"""

from __future__ import annotations

import re
from functools import lru_cache
from typing import Final, Literal, TypeGuard, get_args

from cases.domain.words import N_
from cases.domain.words import gettext as _

System = Literal["fdi", "universal", "palmer"]
Arch = Literal["upper", "lower"]
Kind = Literal["incisor", "canine", "premolar", "molar"]

SYSTEMS: Final[tuple[System, ...]] = get_args(System)
SYSTEM_NAMES: Final[dict[str, str]] = {
    "fdi": "FDI", "universal": "Universal", "palmer": "Palmer",
}  # fmt: skip
ARCHES: Final[tuple[Arch, ...]] = (N_("upper"), N_("lower"))

# Quadrants as the patient has them. ISO 3950 numbering; Palmer's quadrants in plain text.
# Source: ISO 3950 (FDI two-digit system), from memory.
UPPER_QUADRANTS: Final = frozenset({1, 2, 5, 6})
RIGHT_QUADRANTS: Final = frozenset({1, 4, 5, 8})
PALMER_QUADRANTS: Final = ("UR", "UL", "LL", "LR")
PERMANENT_TEETH_PER_QUADRANT: Final = 8
PRIMARY_TEETH_PER_QUADRANT: Final = 5
FIRST_PRIMARY_QUADRANT: Final = 5

# Universal labels run 1 to 32 and A to T, clockwise as the examiner sees the patient.
# Each quadrant: the position p of a tooth (1 at the midline) gives offset + sign * p.
# Source: common practice, no published source seen; checked against all 52 teeth.
_UNIVERSAL: Final[dict[int, tuple[int, int]]] = {
    1: (9, -1), 2: (8, 1), 3: (25, -1), 4: (24, 1),
    5: (6, -1), 6: (5, 1), 7: (16, -1), 8: (15, 1),
}  # fmt: skip


def is_tooth(fdi: object) -> TypeGuard[int]:
    """Tell whether this value is the FDI number of a permanent or primary tooth.

    Parameters
    ----------
    fdi
        Anything; only a plain ``int`` can be a tooth number (``True`` is none).
    """
    if type(fdi) is not int:
        return False
    quadrant, position = divmod(fdi, 10)
    if 1 <= quadrant <= 4:
        return 1 <= position <= PERMANENT_TEETH_PER_QUADRANT
    return 5 <= quadrant <= 8 and 1 <= position <= PRIMARY_TEETH_PER_QUADRANT


def _checked(fdi: object) -> tuple[int, int]:
    if not is_tooth(fdi):
        raise ValueError(f"{fdi!r} is not the FDI number of a tooth.")
    return divmod(fdi, 10)


def is_primary(fdi: int) -> bool:
    """Tell whether the tooth is a primary (milk) tooth.

    Raises
    ------
    ValueError
        If ``fdi`` is not the FDI number of a tooth.
    """
    return _checked(fdi)[0] >= FIRST_PRIMARY_QUADRANT


def from_fdi(fdi: int, system: str) -> str:
    """Write a tooth in the named system.

    Parameters
    ----------
    fdi
        FDI number, 11 to 48 or 51 to 85.
    system
        ``"fdi"`` (``"16"``), ``"universal"`` (``"3"``, primary ``"A"``) or ``"palmer"``
        (``"UR6"``, primary ``"URa"``).

    Raises
    ------
    ValueError
        If ``fdi`` is not a tooth, or the system is another one.
    """
    quadrant, position = _checked(fdi)
    primary = quadrant >= FIRST_PRIMARY_QUADRANT
    if system == "fdi":
        return str(fdi)
    if system == "universal":
        offset, sign = _UNIVERSAL[quadrant]
        number = offset + sign * position
        return chr(ord("A") + number - 1) if primary else str(number)
    if system == "palmer":
        place = chr(ord("a") + position - 1) if primary else str(position)
        return PALMER_QUADRANTS[(quadrant - 1) % 4] + place
    raise ValueError(f"{system!r} is not a tooth numbering system: use fdi, universal or palmer.")


label = from_fdi


@lru_cache(maxsize=len(SYSTEMS))
def _teeth_by_label(system: System) -> dict[str, int]:
    every = [fdi for fdi in range(11, 90) if is_tooth(fdi)]
    by_label = {from_fdi(fdi, system): fdi for fdi in every}
    if system == "palmer":
        # Some write the primary teeth A to E; no other tooth has such a label.
        by_label |= {from_fdi(f, system)[:2] + from_fdi(f, system)[2].upper(): f for f in every}
    return by_label


def to_fdi(label: str, system: str) -> int:
    """Read the label of one tooth in the named system.

    Parameters
    ----------
    label
        The label exactly as the system writes it, without blanks: ``"16"``, ``"3"``, ``"A"``,
        ``"UR6"``, ``"URa"``.
    system
        ``"fdi"``, ``"universal"`` or ``"palmer"``.

    Returns
    -------
    int
        The FDI number.

    Raises
    ------
    ValueError
        If the system is another one, or the label is not text or names no tooth in it.
    """
    if not isinstance(system, str) or system not in SYSTEMS:
        raise ValueError(
            f"{system!r} is not a tooth numbering system: use fdi, universal or palmer."
        )
    if not isinstance(label, str):
        raise ValueError(f"{label!r} is not a tooth label: a label is text.")
    try:
        return _teeth_by_label(system)[label]
    except KeyError:
        raise ValueError(
            _("“%(label)s” names no tooth in the %(system)s system.")
            % {"label": label, "system": SYSTEM_NAMES[system]}
        ) from None


def arch_of(fdi: int) -> Arch:
    """Name the arch, ``"upper"`` or ``"lower"``, in which a tooth stands.

    Raises
    ------
    ValueError
        If ``fdi`` is not the FDI number of a tooth.
    """
    return "upper" if _checked(fdi)[0] in UPPER_QUADRANTS else "lower"


def is_right(fdi: int) -> bool:
    """Tell whether a tooth stands on the patient's right.

    Raises
    ------
    ValueError
        If ``fdi`` is not the FDI number of a tooth.
    """
    return _checked(fdi)[0] in RIGHT_QUADRANTS


def teeth_of_arch(arch: str, *, primary: bool = False) -> tuple[int, ...]:
    """List the teeth of an arch from the patient's right to the patient's left.

    Parameters
    ----------
    arch
        ``"upper"`` or ``"lower"``.
    primary
        The ten primary teeth instead of the sixteen permanent ones.

    Raises
    ------
    ValueError
        If there is no such arch.
    """
    if arch not in ARCHES:
        raise ValueError(f"{arch!r} is not an arch: use upper or lower.")
    return _row(arch, primary=bool(primary))


@lru_cache(maxsize=2 * len(ARCHES))
def _row(arch: str, *, primary: bool) -> tuple[int, ...]:
    """Put a row together; every drawing and every rule asks for it many times."""
    right, left = (1, 2) if arch == "upper" else (4, 3)
    count = PERMANENT_TEETH_PER_QUADRANT
    if primary:
        right, left, count = right + 4, left + 4, PRIMARY_TEETH_PER_QUADRANT
    positions = range(1, count + 1)
    return (*(right * 10 + p for p in reversed(positions)), *(left * 10 + p for p in positions))


def kind(fdi: int) -> Kind:
    """Name the kind of a tooth: incisor, canine, premolar or molar.

    Raises
    ------
    ValueError
        If ``fdi`` is not the FDI number of a tooth.
    """
    quadrant, position = _checked(fdi)
    if position <= 2:
        return "incisor"
    if position == 3:
        return "canine"
    primary = quadrant >= FIRST_PRIMARY_QUADRANT
    return "premolar" if position <= 5 and not primary else "molar"


def is_anterior(fdi: int) -> bool:
    """Tell whether a tooth is an incisor or a canine.

    Raises
    ------
    ValueError
        If ``fdi`` is not the FDI number of a tooth.
    """
    return _checked(fdi)[1] <= 3


def is_third_molar(fdi: int) -> bool:
    """Tell whether a tooth is a wisdom tooth.

    Raises
    ------
    ValueError
        If ``fdi`` is not the FDI number of a tooth.
    """
    return _checked(fdi)[1] == PERMANENT_TEETH_PER_QUADRANT


def primary_before(fdi: int) -> int:
    """Return the milk tooth that stands where this permanent tooth will: 15 → 55.

    Raises
    ------
    ValueError
        If no milk tooth goes before it (a molar), or it is a milk tooth itself.
    """
    quadrant, position = _checked(fdi)
    if quadrant >= FIRST_PRIMARY_QUADRANT or position > PRIMARY_TEETH_PER_QUADRANT:
        raise ValueError(f"No milk tooth goes before {fdi}.")
    return (quadrant + 4) * 10 + position


def place_of(fdi: int) -> int:
    """Return the place of a tooth as a permanent number: 75 → 35, 35 → 35.

    Raises
    ------
    ValueError
        If ``fdi`` is not the FDI number of a tooth.
    """
    quadrant, position = _checked(fdi)
    return (quadrant - 4) * 10 + position if quadrant >= FIRST_PRIMARY_QUADRANT else fdi


def _expand(token: str, system: str) -> tuple[int, ...]:
    ends = re.split(r"[-\N{EN DASH}]", token)
    if len(ends) > 2 or not all(ends):
        raise ValueError(
            _("“%(token)s” is not a tooth or a range of teeth like 35-37.") % {"token": token}
        )
    try:
        first, last = to_fdi(ends[0], system), to_fdi(ends[-1], system)
    except ValueError as wrong:
        if len(ends) == 1:
            raise
        raise ValueError(
            _("In the range “%(token)s”: %(wrong)s") % {"token": token, "wrong": wrong}
        ) from None
    if first == last:
        return (first,)
    if arch_of(first) != arch_of(last) or is_primary(first) != is_primary(last):
        raise ValueError(
            _("The range “%(token)s” joins teeth that are not in one row.") % {"token": token}
        )
    row = teeth_of_arch(arch_of(first), primary=is_primary(first))
    start, stop = row.index(first), row.index(last)
    return row[start : stop + 1] if start < stop else tuple(reversed(row[stop : start + 1]))


def parse_teeth(text: str, system: str) -> tuple[int, ...]:
    """Read a list of teeth as people write it: ``"34, 35-37"``.

    Parameters
    ----------
    text
        Labels and ranges, separated by commas, semicolons or blanks. A range walks along the
        arch and may cross the midline (``"12-22"``).
    system
        ``"fdi"``, ``"universal"`` or ``"palmer"``.

    Returns
    -------
    tuple of int
        FDI numbers in the order written, each once; empty for blank text.

    Raises
    ------
    ValueError
        If a part of the text is no tooth in that system; the sentence names that part.
    """
    if not isinstance(text, str):
        raise ValueError(f"{text!r} is not a list of teeth: a list is text.")
    tight = re.sub(r"\s*([-\N{EN DASH}])\s*", r"\1", text)
    tokens = [token for token in re.split(r"[,;\s]+", tight) if token]
    if system not in SYSTEMS:
        raise ValueError(
            f"{system!r} is not a tooth numbering system: use fdi, universal or palmer."
        )
    teeth = [fdi for token in tokens for fdi in _expand(token, system)]
    return tuple(dict.fromkeys(teeth))
