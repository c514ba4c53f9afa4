"""The case page in each kind of state, and its small pages."""

from __future__ import annotations

from tests.pictures.album.entries import EMPTY_FORM, NO_CASE, NO_FORM, Album, Picture, Sent, page


def about(
    who: str, number: str = "wax case", *, error: Sent | str = EMPTY_FORM, label: str = "",
    query: str = "", **names: str,
) -> Picture:  # fmt: skip
    """Return a picture of a page about one case; its form is sent empty unless said otherwise."""
    return page(who, number=number, empty=NO_CASE, error=error, label=label, query=query, **names)


BY_BUTTONS = "its small forms have pages of their own"

PAGES: Album = {
    "case": (
        *(about("noor", f"{name} case", label=name.replace(" ", "-"), error=BY_BUTTONS)
        for name in ("new", "trim", "block-out", "wax", "inspect", "send", "sent", "bench", "held",
                     "asked")),
        about("mara@tablet", "bench case", label="tablet", error=BY_BUTTONS),
    ),
    "case-design": (
        about("mara@tablet", "trim case"),
        about("mara", "trim case", label="computer"),
    ),
    "case-design-version": (
        about("noor", "wax case", version="drawn version", error=NO_FORM),
        about("noor", "wax case", version="design version", label="expected", error=NO_FORM),
        about("mara@tablet", "wax case", version="drawn version", label="tablet", error=NO_FORM),
    ),
    "case-design-back": (about("noor", "wax case", version="drawn version"),),
    "case-ask-list": (about("noor", error=NO_FORM),),
    "case-ask": (
        about("noor", question="question number"),
        about("noor", question="own words", label="own"),
    ),
    "question-answer": (
        about("noor", "asked case", pk="question"),
        about("noor", "asked case", pk="question for the dentist", label="choice"),
        about("noor", "inspect case", pk="long question", label="own"),
    ),
    "answer-settle": (about("noor", "bench case", pk="answered question"),),
    "question-withdraw": (about("noor", "asked case", pk="question"),),
    "case-hold": (about("noor"),),
    "hold-release": (about("noor", "held case", pk="hold", error="needs no words"),),
    "case-note": (about("noor"), about("mara@tablet", label="tablet")),
    "case-photograph": (about("noor"),),
    "case-promise": (about("noor"),),
    "stage-assign": (
        about("noor", "block-out case", pk="ready stage", error="offers only what may be chosen"),
    ),
    "stage-skip": (about("pavo", "block-out case", pk="ready stage"),),
    "case-send-back": (about("noor", "sent case"),),
    "case-cancel": (about("noor"),),
    "order-correct": (about("noor"),),
    "order-change": (about("noor"),),
    "case-new-impression": (about("noor"),),
    "received-came": (about("noor", "bench case", pk="received"),),
    "case-remake": (about("noor", "sent case"),),
    "thing-put": (about("noor", "bench case", pk="cast"),),
    "thing-gone": (about("noor", "bench case", pk="cast"),),
}  # fmt: skip
