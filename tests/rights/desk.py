"""Rights at the front desk."""

from __future__ import annotations

from tests.rights.kinds import OFFICE, SEE
from tests.rights.rows import Table, row

ROWS: Table = {
    "desk": (row(SEE),),
    "log": (row(OFFICE),),
    "log-look": (row(OFFICE),),
    "log-ask-plan": (row(OFFICE),),
    "log-pages": (row(OFFICE),),
    "log-paper": (row(OFFICE, token="paper token"),),
    "logged": (row(SEE, number="case"),),
    "away": (row(OFFICE),),
}
