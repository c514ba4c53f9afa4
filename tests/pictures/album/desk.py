"""The front desk: open cases, intake, absence."""

from __future__ import annotations

from tests.pictures.album.entries import EMPTY_FORM, NO_CASE, NO_WORDS, Album, NoPicture, page

PAGES: Album = {
    "desk": (
        page("noor"),
        page("mara", label="technician", empty=NO_WORDS),
        page("noor", label="found", query="?q=Q-1203", empty=NO_CASE),
        page("noor", label="not-found", query="?q=nobody+has+this+9", empty=NO_WORDS),
    ),
    "log": (page("noor", error=EMPTY_FORM),),
    "log-paper": NoPicture("is a photograph, shown inside the log page"),
    "logged": (page("noor", number="new case", empty=NO_CASE, error="its buttons print"),),
    "away": (page("noor", error=EMPTY_FORM),),
}
