"""Rights on the loads of the baths."""

from __future__ import annotations

from tests.rights.kinds import SEE, SIGN, WORK
from tests.rights.rows import Table, row

ROWS: Table = {
    "loads": (row(SEE),),
    "load-new": (row(WORK),),
    "load": (row(SEE, number="load"),),
    "load-act": (row(WORK, number="load"),),
    "wait-shorten": (row(SIGN, pk="cool stage"),),
}
