"""Type on paper: fonts, what they can print, and text that fits its box or is refused.

reportlab leaves out a character that a font lacks without a word. Here every text is put in
normal form (NFC) and every character is looked up first: in the lab's font, then in the fallback
for Greek and Cyrillic; what neither has is refused by its name.
"""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Final, Literal

from django.conf import settings
from django.utils.translation import gettext as _
from reportlab.lib.units import mm
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont

Weight = Literal["regular", "semi", "bold"]
Run = tuple[str, str]
"""A font name and the text to be set in it."""

_FILES: Final[dict[str, str]] = {
    "Lab": "AtkinsonHyperlegibleNext-Regular",
    "Lab-Semi": "AtkinsonHyperlegibleNext-SemiBold",
    "Lab-Bold": "AtkinsonHyperlegibleNext-Bold",
    "Lab-Other": "NotoSans-Regular",
    "Lab-Other-Bold": "NotoSans-Bold",
}
_FACES: Final[dict[Weight, tuple[str, str]]] = {
    "regular": ("Lab", "Lab-Other"),
    "semi": ("Lab-Semi", "Lab-Other-Bold"),
    "bold": ("Lab-Bold", "Lab-Other-Bold"),
}
LEADING: Final = 1.22
"""Line height as a share of the type size. Judgement."""
STEP: Final = 0.25
"""Points by which type shrinks to fit."""

# Signs that mean a space or a hyphen and that the fonts lack.
_SAME_AS: Final = str.maketrans({"\u202f": " ", "\u2007": " ", "\t": " ", "\u2011": "-"})
_SILENT: Final = {"\u00ad", "\u200b", "\ufeff", "\u2060"}
_SPACE: Final = " "
_WHITE: Final = re.compile("[ \\r\\n\\f\\v]+")
"""White space that may break; a no-break space stays what it is."""


class CannotPrint(ValueError):
    """A character that no font of the lab has; the sentence names it."""

    def __init__(self, character: str) -> None:
        self.character = character
        name = unicodedata.name(character, f"U+{ord(character):04X}")
        super().__init__(
            _(
                "“%(character)s” (%(name)s) cannot be printed: the lab's fonts have Latin, Greek "
                "and Cyrillic letters. Write it in other letters."
            )
            % {"character": character, "name": name}
        )


class DoesNotFit(ValueError):
    """A text that is too long for its place on the paper even in the smallest type."""

    def __init__(self, text: str) -> None:
        self.text = text
        super().__init__(
            _("“%(text)s” is too long for its place on the paper. Shorten it, then print again.")
            % {"text": text if len(text) <= 60 else text[:59] + "…"}
        )


@lru_cache(maxsize=1)
def _covered() -> dict[str, frozenset[int]]:
    """Register the fonts, once, and return the characters of each."""
    folder = Path(settings.BASE_DIR) / "static" / "fonts" / "ttf"
    covered = {}
    for name, file in _FILES.items():
        font = TTFont(name, str(folder / f"{file}.ttf"))
        pdfmetrics.registerFont(font)
        covered[name] = frozenset(font.face.charToGlyph)
    return covered


def font_name(weight: Weight = "regular") -> str:
    """Return the registered name of the lab's font, for drawings that set figures."""
    _covered()
    return _FACES[weight][0]


def clean(text: str) -> str:
    """Return ``text`` in normal form, with one space for any white space."""
    normal = unicodedata.normalize("NFC", str(text)).translate(_SAME_AS)
    return _WHITE.sub(_SPACE, "".join(c for c in normal if c not in _SILENT)).strip(_SPACE)


@lru_cache(maxsize=8192)
def runs(text: str, weight: Weight = "regular") -> tuple[Run, ...]:
    """Split cleaned ``text`` into runs of one font each.

    Raises
    ------
    CannotPrint
        For a character that neither font has.
    """
    covered = _covered()
    first, other = _FACES[weight]
    split: list[list[str]] = []
    for character in text:
        code = ord(character)
        if code in covered[first]:
            name = first
        elif code in covered[other]:
            name = other
        else:
            raise CannotPrint(character)
        # A space between two words of the other font stays there.
        if split and (split[-1][0] == name or character == _SPACE):
            split[-1][1] += character
        else:
            split.append([name, character])
    return tuple((name, piece) for name, piece in split)


def width_pt(text: str, size: float, weight: Weight = "regular") -> float:
    """Return the width of cleaned ``text`` in points."""
    return sum(pdfmetrics.stringWidth(piece, name, size) for name, piece in runs(text, weight))


@dataclass(frozen=True)
class Fitted:
    """Lines that fit their box at one type size (points)."""

    lines: tuple[str, ...]
    size: float
    weight: Weight = "regular"

    @property
    def height_mm(self) -> float:
        """The height of all lines, in mm."""
        return len(self.lines) * self.size * LEADING / mm


def _broken(word: str, width: float, size: float, weight: Weight) -> list[str]:
    """Break a word that is wider than a line between its letters; nothing is lost."""
    pieces, piece = [], ""
    for character in word:
        if piece and width_pt(piece + character, size, weight) > width:
            pieces.append(piece)
            piece = ""
        piece += character
    return [*pieces, piece]


def wrap(text: str, width: float, size: float, weight: Weight = "regular") -> tuple[str, ...]:
    """Break cleaned ``text`` into lines of at most ``width`` points."""
    lines: list[str] = []
    line = ""
    for word in text.split(_SPACE):
        longer = f"{line} {word}" if line else word
        if width_pt(longer, size, weight) <= width:
            line = longer
            continue
        if line:
            lines.append(line)
        *full, line = _broken(word, width, size, weight)
        lines += full
    return (*lines, line) if line or not lines else tuple(lines)


def running(text: str, width_mm: float, size: float, weight: Weight = "regular") -> Fitted:
    """Set running text at its size over as many lines as it needs."""
    return Fitted(wrap(clean(text), width_mm * mm, size, weight), size, weight)


def fit(
    text: str,
    *,
    width_mm: float,
    height_mm: float,
    size: float,
    floor: float,
    weight: Weight = "regular",
) -> Fitted:
    """Set a short text in its box: shrink it on one line to ``floor``, then wrap.

    Parameters
    ----------
    text
        What to print.
    width_mm, height_mm
        The box.
    size, floor
        The type size wished for and the smallest allowed, in points.

    Raises
    ------
    CannotPrint
        For a character that no font has.
    DoesNotFit
        When it does not fit at the floor either. Nothing is ever cut.
    """
    words, width = clean(text), width_mm * mm
    natural = width_pt(words, size, weight)
    if natural <= width:
        return _checked(Fitted((words,), size, weight), words, height_mm)
    shrunk = size * width / natural
    if shrunk >= floor:
        return _checked(Fitted((words,), shrunk - shrunk % STEP, weight), words, height_mm)
    return _checked(Fitted(wrap(words, width, floor, weight), floor, weight), words, height_mm)


def fit_lines(
    text: str,
    *,
    width_mm: float,
    height_mm: float,
    size: float,
    floor: float,
    weight: Weight = "regular",
) -> Fitted:
    """Set running text in its box: wrap it first, then shrink to ``floor``.

    Raises
    ------
    CannotPrint, DoesNotFit
        As ``fit``.
    """
    words, width = clean(text), width_mm * mm
    at = size
    while at > floor:
        found = Fitted(wrap(words, width, at, weight), at, weight)
        if found.height_mm <= height_mm:
            return found
        at = max(floor, at - STEP)
    return _checked(Fitted(wrap(words, width, floor, weight), floor, weight), words, height_mm)


def _checked(found: Fitted, text: str, height_mm: float) -> Fitted:
    if found.height_mm > height_mm + 0.01:
        raise DoesNotFit(text)
    return found
