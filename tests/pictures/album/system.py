"""Alarms, and what is no page."""

from __future__ import annotations

from tests.pictures.album.entries import Album, NoPicture, page

ONE_BUTTON = "each alarm has one button and nothing to fill in"

PAGES: Album = {
    "alarms": (
        page("mara@tablet", error=ONE_BUTTON),
        page("noor", label="desk", error=ONE_BUTTON),
    ),
    "file": NoPicture("is a photograph or a paper, shown inside other pages"),
    "health": NoPicture("is asked by the process that runs the program; a line of JSON"),
}
