"""Rights on the pages of one case."""

from __future__ import annotations

from tests.rights.kinds import OFFICE, SEE, SKIP, WORK
from tests.rights.rows import Table, row

ROWS: Table = {
    "case": (row(SEE, number="case"), row(SEE, number="other case")),
    "case-design": (row(WORK, number="case"),),
    "case-design-version": (row(SEE, number="case", version="design version"),),
    "case-design-back": (row(SEE, number="drawn case", version="drawn version"),),
    "case-design-preview": (row(WORK, number="case"),),
    "case-ask-list": (row(SEE, number="case"),),
    "case-ask": (row(SEE, number="case", question="question number"),),
    "question-answer": (row(SEE, number="asked case", pk="question"),),
    "answer-settle": (row(SEE, number="case", pk="answered question"),),
    "question-withdraw": (row(SEE, number="asked case", pk="question"),),
    "case-hold": (row(SEE, number="case"),),
    "hold-release": (row(SEE, number="held case", pk="hold"),),
    "case-note": (row(SEE, number="case"),),
    "case-photograph": (row(SEE, number="case"),),
    "case-promise": (row(OFFICE, number="case"),),
    "stage-assign": (row(OFFICE, number="case", pk="stage"),),
    "stage-skip": (row(SKIP, number="case", pk="stage"),),
    "stage-back": (row(SEE, number="case", pk="stage"),),
    "case-send-back": (row(SEE, number="case"),),
    "case-cancel": (row(OFFICE, number="case"),),
    "order-correct": (row(OFFICE, number="case"),),
    "order-change": (row(SEE, number="case"),),
    "case-new-impression": (row(OFFICE, number="case"),),
    "received-came": (row(OFFICE, number="case", pk="received"),),
    "case-remake": (row(OFFICE, number="sent case"),),
    "thing-put": (row(SEE, number="case", pk="cast"),),
    "thing-gone": (row(SEE, number="case", pk="cast"),),
}
