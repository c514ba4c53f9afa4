"""What may never be said of a cure: leftover monomer as a figure, a share cured, no pores."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from django.conf import settings

from cases.domain.cure.overheating import ESTIMATE_ONLY
from tests.test_words import CASES, SPOKEN, marked

ROOT = Path(settings.BASE_DIR)
ALLOWED = {ESTIMATE_ONLY}
"""The standing caution: it says that freedom from pores is *not* shown."""
LOOKED_FOR = {"cases/domain/check_data_end.py"}
"""Checks that a person answers with the piece in hand: there "no pores" is what they look for."""

NEVER = re.compile(
    r"""
    (?:%%?|per\s?cent)\s*(?:\w+\s+)?
        (?:cured|polymeri[sz]ed|converted|conversion|monomer)  # 98 % cured
    | (?:cured|polymeri[sz]ed|converted|hardened)\b[^.\n]{0,30}?
        (?:\d|\)s|\)d|\}\})\s*(?:%|per\s?cent)  # cured to 98 %
    | (?:%%?|Prozent)\s*(?:\w+\s+)?(?:ausgehärtet|gehärtet|polymerisiert|Umsatz|Restmonomer)
    | Restmonomer\b[^.\n]{0,40}?\d\s*(?:%|Prozent)
    | porenfrei | (?:frei\ von|ohne|keine)\ Poren
    | (?:monomer|conversion)\b[^.\n]{0,40}?(?:\d+\.)?(?:\d|\)s|\)d|\)\.?\d*f|\}\})\s*%
    | (?:free\ (?:of|from)|no|without)\ (?:pores|porosity)
    | (?:pore|porosity|monomer)-free
    | fully\ (?:cured|polymeri[sz]ed)
    """,
    re.I | re.X,
)


def said() -> Iterator[tuple[str, str]]:
    """Yield all that people may read: words of the program, templates, catalogues."""
    for path in sorted(p for floor in SPOKEN for p in (CASES / floor).rglob("*.py")):
        for words in marked(ast.parse(path.read_text("utf-8"))):
            yield path.relative_to(ROOT).as_posix(), words
    for pattern in ("templates/**/*.html", "templates/**/*.txt", "locale/**/*.po"):
        for path in sorted(ROOT.glob(pattern)):
            yield path.relative_to(ROOT).as_posix(), path.read_text("utf-8")


def test_no_word_claims_what_nobody_measured() -> None:
    found = [
        f"{where}: {NEVER.search(words)}"
        for where, words in said()
        if words not in ALLOWED and where not in LOOKED_FOR and NEVER.search(words)
    ]

    assert found == []


def test_every_source_of_words_is_read() -> None:
    places = {where for where, _words in said()}

    assert {"templates/load/record.html", "cases/domain/cure/verdict.py"} <= places


@pytest.mark.parametrize(
    "words",
    [
        "98 % cured", "%(share)d %% cured", "Residual monomer: %(share).1f %%", "monomer 0.7 %",
        "The piece is free of pores.", "free from porosity", "no porosity", "fully cured",
        "98 per cent cured", "cured to 98 %", "Hardened: {{ share }} %", "Zu 98 % ausgehärtet",
        "Restmonomer 0,7 %", "Das Stück ist porenfrei.", "ohne Poren",
        "{{ share }} % conversion", "monomer {{ share }} %", ESTIMATE_ONLY,
    ],
)  # fmt: skip
def test_such_words_would_be_found(words: str) -> None:
    assert NEVER.search(words)


@pytest.mark.parametrize(
    "words",
    [
        "A final boil lowers leftover monomer.", "It says nothing of pores.",
        "380 of the 484 equivalent minutes that the program would give (78 %).",
    ],
)  # fmt: skip
def test_what_may_be_said_is_not_found(words: str) -> None:
    assert NEVER.search(words) is None
