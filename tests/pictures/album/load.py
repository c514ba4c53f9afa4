"""Loads of the baths."""

from __future__ import annotations

from tests.pictures.album.entries import NO_OBJECT, NO_WORDS, Album, Sent, page

PAGES: Album = {
    "loads": (
        page("mara", error=Sent(form="main form.load-new")),
        page("mara@tablet", label="tablet", error="as at the desk", empty=NO_WORDS, long=NO_WORDS),
    ),
    "load": (
        page("mara", number="load", error=Sent(form="main form.load-add"), empty=NO_OBJECT),
        page(
            "mara@tablet",
            label="tablet",
            number="load",
            error="as at the desk",
            empty=NO_OBJECT,
            long=NO_WORDS,
        ),
    ),
    "wait-shorten": (page("pavo", pk="cool stage", error=Sent(), empty=NO_OBJECT),),
}
