"""Rights on alarms, files and the program's own health."""

from __future__ import annotations

from tests.rights.kinds import EVERYBODY, OWN, SEE
from tests.rights.rows import Table, row

ROWS: Table = {
    "alarms": (row(EVERYBODY, led=True),),
    "alarm-acknowledge": (row(SEE),),
    "file": (
        row(SEE | OWN, hidden=True, pk="shown photograph"),
        row(SEE, hidden=True, pk="inside photograph"),
        row(SEE | {"stranger"}, hidden=True, pk="other photograph"),
    ),
    "health": (row(EVERYBODY, led=True),),
}
