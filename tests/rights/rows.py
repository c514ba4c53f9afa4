"""The shape of the tables of rights: who is let in at an address, with which object."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field


@dataclass(frozen=True)
class Row:
    """One line of the table: everybody in ``who`` is let in, everybody else is answered 404.

    ``names`` says which object of the scene stands for each part of the address. Who is not
    signed in is led to where they can, unless ``hidden``: then the answer is 404 for them, too.
    ``led`` marks pages that lead people on by themselves, to a sign-in, too. ``body`` is what is
    posted, where an empty form would not even name its object: an object of the scene, or the
    text itself.
    """

    who: frozenset[str]
    names: dict[str, str]
    hidden: bool = False
    led: bool = False
    body: dict[str, str] = field(default_factory=dict)


Table = dict[str, tuple[Row, ...]]


def row(
    who: Iterable[str],
    *,
    hidden: bool = False,
    led: bool = False,
    body: dict[str, str] | None = None,
    **names: str,
) -> Row:
    """Return a line of the table."""
    return Row(frozenset(who), names, hidden, led, body or {})
