"""Words for people in the floor that knows no framework: marked here, translated above.

Words that stand in a table are marked with `N_` and translated where they are shown. A sentence
that a function puts together is said through `gettext` or `ngettext`, with named places for
what it tells. The app hands over its translator when it starts; without one English is spoken.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeVar

S = TypeVar("S", bound=str)

Say = Callable[[str], str]
SayCount = Callable[[str, str, int], str]


def N_(words: S) -> S:  # noqa: N802 - the name that gettext's tools know
    """Mark words of a table for the catalogue, and return them as they are."""
    return words


def _english(one: str, many: str, count: int) -> str:
    return one if count == 1 else many


class _Speaker:
    """Who translates at the moment: nobody, until the app starts."""

    say: Say = staticmethod(N_)
    say_count: SayCount = staticmethod(_english)


def speak_through(say: Say, say_count: SayCount) -> None:
    """Hand over the translator: one for sentences, one for sentences with a number."""
    _Speaker.say = staticmethod(say)
    _Speaker.say_count = staticmethod(say_count)


def gettext(words: str) -> str:
    """Say a sentence in the reader's language."""
    return _Speaker.say(words)


def ngettext(one: str, many: str, count: int) -> str:
    """Say a sentence with a number in the reader's language."""
    return _Speaker.say_count(one, many, count)
