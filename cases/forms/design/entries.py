"""How teeth, faces and lengths are written in the design's entries."""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import Any

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from cases.domain.teeth import from_fdi, place_of, teeth_of_arch, to_fdi

SIDES: dict[str, str] = {
    "mesial": gettext_noop("mesial"),
    "distal": gettext_noop("distal"),
    "buccal": gettext_noop("buccal"),
    "lingual": gettext_noop("lingual"),
}
OTHER_SIDE_WORDS = {"palatal": "lingual", "labial": "buccal", "facial": "buccal"}


class MillimetreField(forms.FloatField):
    """A length in mm; a decimal comma is understood."""

    def to_python(self, value: Any) -> float | None:  # type: ignore[override]
        """Read the number."""
        return super().to_python(str(value).replace(",", ".") if value is not None else value)


def millimetres(label: str, low: float, high: float) -> MillimetreField:
    """Return an entry of a length that may stay empty."""
    return MillimetreField(label=label, required=False, min_value=low, max_value=high)


def parse_faces(text: str, notation: str) -> frozenset[tuple[int, str]]:
    """Read faces: ``"35 distal, 44 mesial lingual"``.

    Raises
    ------
    ValueError
        A part names no tooth or no side; the sentence names it.
    """
    words = {said: side for side, said in SIDES.items()} | OTHER_SIDE_WORDS
    words |= {_(said): side for side, said in SIDES.items()}
    found: set[tuple[int, str]] = set()
    for part in filter(None, (part.strip() for part in re.split(r"[,;]", text))):
        label, *sides = part.split()
        tooth = to_fdi(label, notation)
        if not sides:
            raise ValueError(_("Say which side of %(tooth)s is meant.") % {"tooth": label})
        for side in sides:
            if side.lower() not in words:
                raise ValueError(
                    _("“%(side)s” is no side of a tooth. Use mesial, distal, buccal or lingual.")
                    % {"side": side}
                )
            found.add((tooth, words[side.lower()]))
    return frozenset(found)


def say_faces(faces: Iterable[tuple[int, str]], arch: str, notation: str) -> str:
    """Write faces as people enter them, along the arch."""
    sides: dict[int, list[str]] = {}
    for tooth, side in along(faces, arch):
        sides.setdefault(tooth, []).append(_(SIDES[side]))
    return ", ".join(
        f"{from_fdi(tooth, notation)} {' '.join(said)}" for tooth, said in sides.items()
    )


def along(faces: Iterable[tuple[int, str]], arch: str) -> list[tuple[int, str]]:
    """Return faces in the order of the arch, those of one tooth in the usual order."""
    row = teeth_of_arch(arch)
    order = list(SIDES)
    return sorted(faces, key=lambda face: (row.index(place_of(face[0])), order.index(face[1])))


def say_row(teeth: Iterable[int], arch: str, notation: str) -> str:
    """Write teeth along the arch in the reader's notation, a milk tooth at its place."""
    wanted = {place_of(tooth): tooth for tooth in teeth}
    row = teeth_of_arch(arch)
    return ", ".join(from_fdi(wanted[place], notation) for place in row if place in wanted)


def number(value: float | None) -> str:
    """Write a length as the form shows it; nothing where nobody said."""
    return "" if value is None else f"{value:g}"
