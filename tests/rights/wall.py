"""Rights on the wall: a tablet sees it while nobody is signed in, a practice never."""

from __future__ import annotations

from tests.rights.kinds import EVERYBODY
from tests.rights.rows import Table, row

ROWS: Table = {"wall": (row(EVERYBODY, led=True),)}
