"""The wall."""

from __future__ import annotations

from tests.pictures.album.entries import Album, page

PAGES: Album = {"wall": (page("@tablet"), page("noor", label="desk"))}
