"""The manager's day."""

from __future__ import annotations

from tests.pictures.album.entries import NO_WORDS, Album, Sent, page

PAGES: Album = {
    "today": (page("pavo"),),
    "closing": (page("pavo"),),
    "countersigns": (
        page("pavo", error=Sent(button="[value=return]")),
        page("mara", label="technician", error="as of the manager", empty=NO_WORDS),
    ),
    "minutes": (page("pavo", error=Sent()),),
}
