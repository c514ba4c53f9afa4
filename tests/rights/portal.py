"""Rights on the practices' side: everybody there sees the own practice and nothing else."""

from __future__ import annotations

from tests.rights.kinds import OWN, PORTAL
from tests.rights.rows import Table, row

ROWS: Table = {
    "practice": (row(PORTAL),),
    "practice-sent": (row(PORTAL),),
    "practice-case": (row(OWN, number="case"), row({"stranger"}, number="other case")),
    "practice-answer": (
        row(OWN, number="asked case", question="question"),
        row({"dentist"}, number="asked case", question="question for the dentist"),
        row({"stranger"}, number="other case", question="other question"),
        row((), number="asked case", question="other question"),
        row((), number="case", question="question"),
    ),
    "practice-report": (row({"dentist"}, number="sent case"),),
    "practice-photograph": (
        row(OWN, number="case", file="shown photograph"),
        row((), number="case", file="inside photograph"),
        row((), number="case", file="other photograph"),
        row({"stranger"}, number="other case", file="other photograph"),
    ),
    "practice-delivery-note": (row(OWN, number="sent case"), row((), number="case")),
}
