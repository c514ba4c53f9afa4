"""Rights on the manager's day."""

from __future__ import annotations

from tests.rights.kinds import MANAGER, SIGN
from tests.rights.rows import Table, row

ROWS: Table = {
    "today": (row(MANAGER),),
    "closing": (row(MANAGER),),
    "countersigns": (row(SIGN),),
    "countersign": (row(SIGN, pk="countersign"),),
    "minutes": (row(MANAGER),),
    "minutes-correct": (row(MANAGER, pk="span"),),
}
