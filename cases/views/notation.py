"""The tooth numbering that a person reads and writes: their own choice, else the lab's.

The choice is kept with the person, so that it holds on every device, and on a shared tablet nobody
reads teeth in the numbering of who was there before. Papers are in the lab's; FDI is stored.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any
from uuid import uuid4

from django.http import HttpRequest

from cases.domain.teeth import SYSTEMS
from cases.services.people import choose_numbering
from cases.views.page import LabRequest, envelope


def labs_notation(request: HttpRequest) -> str:
    """Return the lab's tooth numbering."""
    lab = getattr(request, "lab", None)
    return lab.notation if lab else "fdi"


def notation_of(request: HttpRequest) -> str:
    """Return the reader's tooth numbering: what they chose, else the lab's."""
    person = getattr(getattr(request, "visitor", None), "person", None)
    return (person.notation if person else "") or labs_notation(request)


def written_in(request: HttpRequest, entries: Mapping[str, Any] | None) -> str:
    """Return the numbering that entries are written in: what the page that sent them said, else
    the reader's. It is never guessed from a label."""
    said = (entries or {}).get("notation", "")
    return said if said in SYSTEMS else notation_of(request)


def choose(request: LabRequest, system: str) -> None:
    """Keep the numbering that the reader chose.

    A submission of its own: the form that the choice came with is still to be sent.

    Raises
    ------
    Refusal
        There is no such numbering, or nobody is signed in.
    """
    choose_numbering(replace(envelope(request), submission_id=uuid4()), system=system)
    person = request.visitor.person
    if person is not None:
        person.notation = system
