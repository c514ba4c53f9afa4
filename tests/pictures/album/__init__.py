"""What is photographed: every address that shows a page, one module a page family."""

from __future__ import annotations

from importlib import import_module

from tests.pictures.album.entries import Album

FAMILIES = (
    "account", "bench", "case", "desk", "dispatch", "lab", "load", "manage", "plan", "portal",
    "system", "wall",
)  # fmt: skip


def album(family: str) -> Album:
    """Return the table of one page family."""
    pages: Album = import_module(f"tests.pictures.album.{family}").PAGES
    return pages
