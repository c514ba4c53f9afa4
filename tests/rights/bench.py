"""Rights at the bench."""

from __future__ import annotations

from tests.rights.kinds import SEE, WORK
from tests.rights.rows import Table, row

ROWS: Table = {
    "bench": (row(WORK),),
    "bench-now": (row(WORK, led=True),),
    "bench-put-down": (row(WORK, led=True),),
    "bench-take": (row(WORK),),
    "bench-batch": (row(WORK, key="batch"),),
    "bench-batch-undo": (row(WORK, key="batch", led=True),),
    "bench-stage": (row(WORK, pk="stage"),),
    "bench-start": (row(WORK, pk="stage"),),
    "bench-pause": (row(WORK, pk="stage"),),
    "bench-resume": (row(WORK, pk="stage"),),
    "bench-finish": (row(WORK, pk="stage"),),
    "bench-came-back": (row(SEE, pk="stage"),),
    "bench-undo": (row(WORK, pk="stage"),),
    "bench-back": (row(WORK, pk="stage"),),
    "bench-hold": (row(SEE, pk="stage"),),
    "bench-release": (row(SEE, pk="held stage", body={"hold": "hold"}),),
    "bench-skip": (row(WORK, pk="stage"),),
    "bench-ask": (row(SEE, pk="stage"),),
    "bench-hand-over": (row(WORK, pk="stage"),),
    "bench-note": (row(SEE, pk="stage"),),
    "bench-mishap": (row(WORK, pk="stage"),),
    "bench-place": (row(SEE, pk="stage"),),
    "bench-put": (row(SEE, pk="stage", thing="cast"),),
    "bench-dough": (row(WORK, pk="stage"),),
    "bench-mixed": (row(WORK, pk="stage"),),
    "bench-closed": (row(WORK, pk="stage"),),
    "bench-check": (row(WORK, pk="check"),),
    "bench-check-photo": (row(WORK, pk="check"),),
    "bench-accept": (row(WORK, pk="check"),),
    "bench-sign": (row(WORK, pk="countersign"),),
    "bench-minutes": (row({"technician", "bench"}, pk="span"),),
    "bench-minutes-right": (row({"technician", "bench"}, pk="span"),),
}
