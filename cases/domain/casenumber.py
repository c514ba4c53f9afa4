"""Case numbers: ``26-0417-Z`` is the lab's year, a serial and a check character.

The check character is ISO/IEC 7064 MOD 37,36. It is always a figure or a capital letter,
which MOD 37-2 is not (one number in 37 would end in ``*``, awkward on a label and in an
address). What the system promises, and what the tests count:

- every single wrong character is found;
- more than 99 of 100 swaps of two neighbours are found (a hybrid system does not promise all).

ISO 7064 does not allow characters to be left out, so ``O``/``0`` and ``I``/``1`` can both occur
in last place. A misread one is refused like any other error, never looked up wrong.

Source: ISO/IEC 7064:2003, MOD 37,36, from memory; worked example A1-2425G-ABC1234002 → M
(Global Release Identifier), read in the README of packagist.org/packages/soundways/iso7064.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from cases.domain.words import gettext as _

ALPHABET = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ"  # ISO/IEC 7064, values 0 … 35
MODULUS = 36  # M of "MOD M+1,M", ISO/IEC 7064

SERIAL_DIGITS = 4  # least width of the serial; more digits when a year needs them. Judgement.

_SHAPE = re.compile(r"([0-9]{2})([0-9]{4,9})([0-9A-Z])")
_SEPARATORS = re.compile(r"[\s\-\u2010-\u2015\u2212]+")
_EXAMPLE = "26-0417-Z"


class NotACaseNumber(ValueError):
    """The text has not the shape of a case number."""


class WrongCheckCharacter(ValueError):
    """The text has the shape of a case number, but its last character does not fit."""


@dataclass(frozen=True, order=True)
class CaseNumber:
    """A case number whose check character is right. Make one with `make` or `parse`.

    Attributes
    ----------
    year : int
        Last two digits of the laboratory's year, 0 … 99.
    serial : int
        Counts from 1 within the year.
    """

    year: int
    serial: int

    @property
    def check(self) -> str:
        """The check character."""
        return check_character(self._body)

    @property
    def _body(self) -> str:
        return f"{self.year:02d}{self.serial:0{SERIAL_DIGITS}d}"

    def __str__(self) -> str:
        return f"{self.year:02d}-{self.serial:0{SERIAL_DIGITS}d}-{self.check}"


def check_character(body: str) -> str:
    """Work out the ISO/IEC 7064 MOD 37,36 check character of figures and capital letters.

    Raises
    ------
    ValueError
        For an empty text, or one with any other character in it.
    """
    if not body or any(character not in ALPHABET for character in body):
        raise ValueError("A check character needs figures 0-9 and capital letters A-Z only.")
    product = MODULUS
    for character in body:
        total = (product + ALPHABET.index(character)) % MODULUS or MODULUS
        product = total * 2 % (MODULUS + 1)
    return ALPHABET[(MODULUS + 1 - product) % MODULUS]


def make(year: int, serial: int) -> CaseNumber:
    """Make the case number of a year (2026 or 26) and a serial from 1.

    Raises
    ------
    ValueError
        When the year or the serial is out of range.
    """
    if not 0 <= year <= 9999:
        raise ValueError(f"{year} is not a year. Give it as 26 or 2026.")
    if not 1 <= serial <= 999_999_999:
        raise ValueError(f"{serial} is not a serial number. Serials count from 1 within a year.")
    return CaseNumber(year % 100, serial)


def parse(text: str) -> CaseNumber:
    """Read a case number as typed or scanned: any case, spaces, hyphens or none.

    Raises
    ------
    NotACaseNumber
        When the text has not the shape of a case number.
    WrongCheckCharacter
        When a character was mistyped or two were swapped.
    """
    compact = _SEPARATORS.sub("", text).upper()
    found = _SHAPE.fullmatch(compact)
    shown = " ".join(text.split())[:40]
    if not compact:
        raise NotACaseNumber(
            _("No case number was given. Type it as on the ticket: %(example)s.")
            % {"example": _EXAMPLE}
        )
    if not found:
        raise NotACaseNumber(
            _(
                "“%(shown)s” is not a case number. A case number looks like %(example)s: two "
                "figures for the year, four or more figures, and one last character. Type it "
                "again from the ticket."
            )
            % {"shown": shown, "example": _EXAMPLE}
        )
    number = CaseNumber(int(found[1]), int(found[2]))
    if number.serial < 1 or number._body != found[1] + found[2]:
        raise NotACaseNumber(
            _(
                "“%(shown)s” is not a case number: the middle part counts from 0001 and has no "
                "further noughts in front. Type it again from the ticket."
            )
            % {"shown": shown}
        )
    if number.check != found[3]:
        raise WrongCheckCharacter(
            _(
                "“%(shown)s” has a mistake in it: the last character does not fit the others. "
                "Type it again from the ticket; the letter O and the figure 0, the letter I "
                "and the figure 1 look alike."
            )
            % {"shown": shown}
        )
    return number
