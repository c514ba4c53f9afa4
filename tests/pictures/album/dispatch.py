"""Packing, the van and the papers."""

from __future__ import annotations

from tests.pictures.album.entries import EMPTY_FORM, NO_CASE, Album, NoPicture, Sent, page

PAGES: Album = {
    "van": (page("noor"),),
    "pack": (page("noor", pk="practice", error=EMPTY_FORM),),
    "box": (
        page("noor", number="box", empty=NO_CASE, error="has left; its buttons print"),
        page("noor", number="packed box", label="packed", empty=NO_CASE,
             error=Sent(form="form[action*='/unpack/']")),
    ),
    "van-round": (page("noor", error=Sent(form="form.panel-soft")),),
    "day-print": (page("noor", error="prints the day; there is nothing to fill in"),),
    "paper": NoPicture("is a paper as PDF"),
}  # fmt: skip
