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
    # A token opens it, and nobody has one here.
    "feed": (row(EVERYBODY, led=True),),
    "health": (row(EVERYBODY, led=True),),
}
