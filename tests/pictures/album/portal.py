"""The dentist's side, and reception's."""

from __future__ import annotations

from tests.pictures.album.entries import (
    EMPTY_FORM,
    NO_CASE,
    NO_WORDS,
    Album,
    NoPicture,
    Sent,
    page,
)

ON_THE_CASE = "a refused answer is shown on the page of its case"

PAGES: Album = {
    "practice": (
        page("lind", error=ON_THE_CASE),
        page("remy", label="reception", empty=NO_WORDS, error=ON_THE_CASE),
    ),
    "practice-sent": (page("lind"),),
    "practice-case": (
        page("lind", number="asked case", empty=NO_CASE, error=EMPTY_FORM),
        page("lind", number="sent case", label="sent", empty=NO_CASE,
             error=Sent(form="form[action$='/report/']")),
        page("lind", number="bench case", label="photographs", empty=NO_CASE),
        page("lind", number="held case", label="held", empty=NO_CASE),
        page("remy", number="asked case", label="reception", empty=NO_CASE,
             error="as of the dentist"),
    ),
    "practice-photograph": NoPicture("is a photograph, shown inside the page of the case"),
    "practice-delivery-note": NoPicture("is a paper as PDF"),
}  # fmt: skip
