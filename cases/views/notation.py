"""The tooth numbering that a person reads and writes: their own choice, else the lab's.

The choice lies in the browser's session under the person's key, so that on a shared tablet nobody
reads teeth in the numbering of who was there before. Papers are in the lab's; FDI is stored.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

from django.http import HttpRequest

from cases.domain.teeth import SYSTEMS

_KEY: Final = "notation"


def _chosen(request: HttpRequest) -> dict[str, str]:
    session = getattr(request, "session", None)
    kept = session.get(_KEY) if session is not None else None
    return kept if isinstance(kept, dict) else {}


def _reader(request: HttpRequest) -> str:
    """Return the key of who reads, as a session keeps it."""
    person = getattr(getattr(request, "visitor", None), "person", None)
    return str(person.pk) if person else ""


def labs_notation(request: HttpRequest) -> str:
    """Return the lab's tooth numbering."""
    lab = getattr(request, "lab", None)
    return lab.notation if lab else "fdi"


def notation_of(request: HttpRequest) -> str:
    """Return the reader's tooth numbering: what they chose, else the lab's."""
    wanted = _chosen(request).get(_reader(request), "")
    return wanted if wanted in SYSTEMS else labs_notation(request)


def written_in(request: HttpRequest, entries: Mapping[str, Any] | None) -> str:
    """Return the numbering that entries are written in: what the page that sent them said, else
    the reader's. It is never guessed from a label."""
    said = (entries or {}).get("notation", "")
    return said if said in SYSTEMS else notation_of(request)


def choose(request: HttpRequest, system: str) -> None:
    """Keep the numbering that the reader chose.

    Raises
    ------
    ValueError
        There is no such numbering.
    """
    if system not in SYSTEMS:
        raise ValueError(f"{system!r} is not a tooth numbering.")
    request.session[_KEY] = {**_chosen(request), _reader(request): system}
