"""Rights on the loads of the baths."""

from __future__ import annotations

from tests.rights.kinds import SEE, SIGN, WORK
from tests.rights.rows import Table, row

ROWS: Table = {
    "loads": (row(SEE),),
    "load-new": (row(WORK),),
    "load": (row(SEE, number="load"),),
    "load-act": (row(WORK, number="load"),),
    "load-longer": (row(SIGN, number="night load"),),
    "cut-new": (row(SIGN),),
    "cut": (row(SEE, pk="cut"),),
    "load-remedies": (row(SEE, number="load"),),
    "wait-shorten": (row(SIGN, pk="cool stage"),),
    "bath-record-new": (row(SEE, number="record load"),),
    "bath-record-read": (row(SEE, number="record load", sha256="raw hash"),),
    "bath-record": (row(SEE, number="record load", pk="record"),),
    "bath-record-raw": (row(SEE, number="record load", pk="record"),),
}
