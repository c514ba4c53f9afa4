"""Tooth numbers inside words: stored as FDI numbers, written in the reader's numbering.

A sentence that is kept names its teeth as "44 (FDI)", so that nobody has to guess whose numbers
they are; a page that knows its reader writes them as that person does.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Iterable

from cases.domain.teeth import SYSTEM_NAMES, from_fdi, is_tooth, primary_before

NUMBERINGS = SYSTEM_NAMES

_FDI = re.compile(r"(?<![\d.])[1-8][1-8](?![\d.]|\s*(?:mm|min))")
_MARKED = re.compile(r"\b([1-8][1-8](?:, [1-8][1-8])*) \(FDI\)")


def named(tooth: int) -> str:
    """Write a tooth in a sentence that is kept: "44 (FDI)"."""
    return f"{tooth} (FDI)"


def named_row(teeth: Iterable[int]) -> str:
    """Write several teeth in a sentence that is kept: "44, 45 (FDI)"."""
    return f"{', '.join(map(str, teeth))} (FDI)"


def for_reader(text: str, system: str) -> str:
    """Write the teeth of a sentence that was kept in the reader's numbering."""

    def said(found: re.Match[str]) -> str:
        numbers = [int(number) for number in found[1].split(", ")]
        if not all(map(is_tooth, numbers)):
            return found[0]
        return ", ".join(from_fdi(number, system) for number in numbers)

    return _MARKED.sub(said, text)


def labels(system: str, milk: Collection[int] = ()) -> Callable[[int], str]:
    """Return what writes a tooth in a numbering; a number that is no tooth stays as it is.

    ``milk``: places, as permanent numbers, that are written as the milk tooth that stands there.
    """

    def said(tooth: int) -> str:
        number = primary_before(tooth) if tooth in milk else tooth
        return from_fdi(number, system) if is_tooth(number) else str(number)

    return said


def in_notation(subject: str, system: str, milk: Collection[int]) -> str:
    """Write the tooth numbers of a subject ("44 mesial", "base 45-47") in a numbering, places in
    ``milk`` as the milk tooth that stands there."""
    if system == "fdi" and not milk:
        return subject
    label = labels(system, milk)
    return _FDI.sub(lambda found: label(int(found[0])), subject)


def relabel(text: str, subject: str, system: str, milk: Collection[int]) -> str:
    """Write the subject of a check in a numbering wherever a sentence names it."""
    if not subject:
        return text
    return text.replace(subject, in_notation(subject, system, milk))
