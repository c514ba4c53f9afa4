"""Loads of the baths."""

from __future__ import annotations

from tests.pictures.album.entries import NO_OBJECT, NO_WORDS, Album, NoPicture, Sent, page

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
    "bath-record-new": (page("mara", number="record load", error=Sent(), empty=NO_OBJECT),),
    "bath-record-read": (
        page(
            "mara", number="record load", sha256="raw hash", error=Sent(), empty=NO_OBJECT,
            long=NO_WORDS,
        ),
    ),
    "bath-record": (
        page("mara", number="record load", pk="record", error=Sent(), empty=NO_OBJECT),
        page(
            "noor", label="desk", number="record load", pk="record", empty=NO_OBJECT,
            error="decides nothing at the desk",
        ),
    ),
    "bath-record-raw": NoPicture("hands out a file as it came in"),
}  # fmt: skip
