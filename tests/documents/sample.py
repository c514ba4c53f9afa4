"""A case as papers tell it, made without a database, and how a drawn paper is read again."""

from __future__ import annotations

import io
from datetime import UTC, datetime
from typing import Any
from zoneinfo import ZoneInfo

from pypdf import PdfReader

from cases.documents.facts import CaseFacts, House, Tick
from cases.domain.archform import ArchInput
from cases.domain.chairside import chairside
from cases.domain.design import Clasp, Design, WorkOrder
from cases.domain.route import default_template, grow

NOW = datetime(2026, 12, 21, 9, tzinfo=UTC)
NUMBER = "26-0417-Z"
HOUSE = House("Test bench", "1 Mill Lane\n1020 Town", ZoneInfo("Europe/Vienna"), "fdi", "a5")
US_HOUSE = House("Test bench", "1 Mill Lane", ZoneInfo("UTC"), "universal", "letter-half")
DESIGN = Design(
    "lower",
    missing=frozenset({36, 37, 46, 47}),
    replaced=frozenset({36, 37, 46, 47}),
    clasps=(Clasp(35, 0.9, 0.25, 10.0), Clasp(45, 0.9, 0.25, 10.0)),
    bar=True,
    blocked=frozenset({(35, "distal")}),
    method="plaster",
)
ORDER = WorkOrder(polish="none")


def ticks() -> tuple[Tick, ...]:
    """Every stage that the design needs, the first two done, the third left out."""
    stages = grow(default_template(), ORDER, DESIGN).stages
    states = {0: "done", 1: "done", 2: "out"}
    return tuple(Tick(s.spec.name, states.get(n, "open")) for n, s in enumerate(stages))


def sample(**changes: Any) -> CaseFacts:
    """Return what papers say of a case; deviations by name."""
    facts: dict[str, Any] = {
        "number": NUMBER,
        "arch": ArchInput.from_design(DESIGN),
        "piece": "New piece, lower",
        "rush": True,
        "practice": "Practice at the quay",
        "practice_code": "QUAY",
        "dentist": "Dr Lind",
        "patient_ref": "Q-1180",
        "teeth": "47–46, 36–37",
        "extracted": "",
        "clasps": "45 (0.9 mm), 35 (0.9 mm)",
        "block_out": "plaster: 35 distal",
        "design": "version 2",
        "design_short": "Design 2",
        "draft": False,
        "shade": "A3 (guide 2)",
        "mould": "Laboratory chooses to match",
        "bite": "Found by hand from the casts",
        "materials": "Heat-cured acrylic, wrought wire",
        "borders": "Left at full depth for the dentist",
        "polish": "None (smooth, satin from the paper)",
        "allergies": "Nickel",
        "contaminated": True,
        "description": "Interim partial denture",
        "appointment": "Wed 23 Dec. 2026, 09:30",
        "leaves": "Mon 21 Dec. 2026, 16:00",
        "leaves_short": "Mon 21 Dec. 2026",
        "twin": "26-0418-X",
        "remake_of": "",
        "received": "Wed 9 Dec. 2026",
        "stages": ticks(),
        "cautions": ("Press and clamp", "Hot flask"),
        "chairside": chairside(DESIGN, ORDER),
        "concessions": (),
    }
    return CaseFacts(**(facts | changes))


def pages_of(pdf: bytes) -> list[str]:
    """Return the text of each page, white space as one space."""
    reader = PdfReader(io.BytesIO(pdf))
    return [" ".join(page.extract_text().split()) for page in reader.pages]


def codes_on(pdf: bytes, *, dots_per_inch: int = 203) -> list[str]:
    """Return what a reader decodes from the first page as a label printer would print it."""
    import pypdfium2
    import zxingcpp

    document = pypdfium2.PdfDocument(pdf)
    try:
        image = document[0].render(scale=dots_per_inch / 72).to_pil().convert("L")
    finally:
        document.close()
    return [found.text for found in zxingcpp.read_barcodes(image)]
