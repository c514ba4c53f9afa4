"""Loads of the baths."""

from __future__ import annotations

from tests.pictures.album.entries import NO_OBJECT, NO_WORDS, Album, NoPicture, Sent, page

SEEN = "?off_at=2026-12-09T08:42&on_at=2026-12-09T09:42"
"""A cut of the hour before the pictures are taken."""

PAGES: Album = {
    "loads": (
        page("mara", error=Sent(form="main form.load-new")),
        page("mara@tablet", label="tablet", error="as at the desk", empty=NO_WORDS, long=NO_WORDS),
    ),
    "load": (
        page("mara", number="longer load", label="extended", empty=NO_OBJECT),
        page("mara", number="running load", label="running", empty=NO_OBJECT),
        page("mara", number="warned load", label="warned", error="as of the load that follows",
             empty=NO_OBJECT, long=NO_WORDS),
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
    "load-longer": (
        page("pavo", number="night load", error=Sent(), empty=NO_OBJECT, long=NO_WORDS),
    ),
    "cut-new": (
        page("mara", error="is refused beside its times when they are asked for: see the seen one"),
        page(
            "mara", label="seen", query=SEEN, error=Sent(form="main form[method=post]"),
            empty="an empty lab has no load to decide about",
        ),
        page("mara@tablet", label="tablet", error="as at the desk", empty=NO_WORDS, long=NO_WORDS),
    ),
    "cut": (
        page("mara", pk="cut", empty=NO_OBJECT),
        page("noor", label="desk", pk="cut", empty=NO_OBJECT, long=NO_WORDS),
    ),
    "load-remedies": NoPicture("is the part of the page of a load that is asked for anew"),
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
