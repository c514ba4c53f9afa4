"""The shape of the album: an address, who looks at it, and which of the four states it has.

Every picture is taken of a lab with cases. ``empty``, ``error`` and ``long`` are photographed,
too, unless a reason stands in their place.
"""

from __future__ import annotations

from dataclasses import dataclass, field

NO_FORM = "asks for nothing that could be refused"
NO_CASE = "is about one case, and an empty lab has none"
NO_OBJECT = "is about one entry, and an empty lab has none"
NO_WORDS = "shows nothing that anybody typed"


@dataclass(frozen=True)
class Sent:
    """A form sent with bad input: ``typed`` by name of the field, everything else left empty.

    ``form`` finds the form on the page and ``button`` the button in it (else its
    main one); with ``keep`` everything
    else stays as the page gave it.
    """

    typed: dict[str, str] = field(default_factory=dict)
    form: str = "main form[method=post]"
    button: str = ""
    keep: bool = False


EMPTY_FORM = Sent()


@dataclass(frozen=True)
class Picture:
    """One page as one person sees it.

    ``who`` is nobody (``""``), a person of the shop signed in (``"noor"``), at the tablet by PIN
    (``"mara@tablet"``), or the tablet while nobody is there (``"@tablet"``). ``names`` says which
    object of the lab stands for each part of the address. ``status`` is what it answers.
    """

    who: str
    names: dict[str, str]
    label: str = ""
    query: str = ""
    status: int = 200
    empty: str = ""
    long: str = ""
    error: Sent | str = NO_FORM


@dataclass(frozen=True)
class NoPicture:
    """An address that answers GET with no page of its own, and why there is none to look at."""

    reason: str


Album = dict[str, tuple[Picture, ...] | NoPicture]


def page(
    who: str,
    *,
    label: str = "",
    query: str = "",
    status: int = 200,
    empty: str = "",
    long: str = "",
    error: Sent | str = NO_FORM,
    **names: str,
) -> Picture:
    """Return a line of the album."""
    return Picture(who, names, label, query, status, empty, long, error)
