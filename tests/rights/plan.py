"""Rights on the plan: the whole lab sees it, who gives work to people decides about it."""

from __future__ import annotations

from tests.rights.kinds import OFFICE, SEE
from tests.rights.rows import Table, row

ROWS: Table = {
    "plan": (row(SEE),),
    "plan-week": (row(SEE),),
    "plan-late": (row(SEE),),
    "plan-promise": (row(OFFICE),),
    "plan-state": (row(SEE, led=True),),
    "plan-stop": (row(OFFICE),),
    "plan-stage": (row(SEE, pk="planned stage"),),
    "plan-pin": (row(OFFICE, pk="planned stage"),),
}
