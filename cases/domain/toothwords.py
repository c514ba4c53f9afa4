"""Tooth numbers inside words: stored as FDI numbers, written in the reader's numbering."""

from __future__ import annotations

import re

from cases.domain.teeth import from_fdi

NUMBERINGS = {"fdi": "FDI", "universal": "Universal", "palmer": "Palmer"}

_FDI = re.compile(r"(?<![\d.])[1-8][1-8](?![\d.]|\s*(?:mm|min))")


def in_notation(subject: str, system: str) -> str:
    """Write the tooth numbers of a subject ("44 mesial", "base 45-47") in a numbering."""
    if system == "fdi":
        return subject
    return _FDI.sub(lambda found: from_fdi(int(found[0]), system), subject)


def relabel(text: str, subject: str, system: str) -> str:
    """Write the subject of a check in a numbering wherever a sentence names it."""
    if not subject or system == "fdi":
        return text
    return text.replace(subject, in_notation(subject, system))
