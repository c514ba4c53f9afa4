"""What would save the late cases of a plan: the planner is asked, and its answers are kept."""

from __future__ import annotations

from datetime import datetime

from cases.domain.planning.dispatch import Stop
from cases.domain.planning.remedy import remedies, say_remedy
from cases.models import Plan, PlanCase
from cases.selectors.planning.work import case_key
from cases.services.plan_publish import why_then
from cases.services.plan_think import think

A_CASE = 3
"""How many remedies are told of one case: the best. Judgement."""
AT_MOST = 200
"""How many are tried; the budget ends it sooner in a large lab. Judgement."""


def advise(now: datetime, stored: Plan, stop: Stop) -> int:
    """Try what would save the late cases of a plan and keep it with them; return how many cases
    something was found for.

    Reasons that were not told when the plan was stored are told now. Remedies are tried against the
    plan as it is mended at once, which is what the pages show, with the same limits given up.
    """
    late = {
        case_key(row.case_id): row
        for row in PlanCase.objects.filter(plan=stored, late_minutes__gt=0).order_by("pk")
    }
    helped = 0
    if late:
        made = think(now)
        built = made.built
        for key, row in late.items():
            if not row.why and not stop():
                row.why = why_then(made, key)
        found = remedies(made.problem, frozenset(late), base=made.plan, at_most=AT_MOST, stop=stop)

        for key, row in late.items():
            row.remedies = [
                {"words": say_remedy(one, key, built.name, built.moment), "saves": one.saved(key)}
                for one in found
                if one.saved(key) > 0
            ][:A_CASE]
            helped += bool(row.remedies)
        PlanCase.objects.bulk_update(late.values(), ["remedies", "why"])
    return helped
