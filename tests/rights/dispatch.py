"""Rights at packing, papers and the van."""

from __future__ import annotations

from tests.rights.kinds import OFFICE
from tests.rights.rows import Table, row

ROWS: Table = {
    "van": (row(OFFICE),),
    "pack": (row(OFFICE, pk="practice"),),
    "box": (row(OFFICE, number="box"),),
    "box-send": (row(OFFICE, number="box"),),
    "box-unpack": (row(OFFICE, number="box", pk="boxed"),),
    "box-note": (row(OFFICE, number="box"),),
    "van-round": (row(OFFICE),),
    "van-print": (row(OFFICE),),
    "pick-up-done": (row(OFFICE, pk="pick-up"),),
    "ticket": (row(OFFICE, number="case"),),
    "label": (row(OFFICE, number="case"),),
    "day-print": (row(OFFICE),),
    "paper": (row(OFFICE, pk="paper"),),
}
