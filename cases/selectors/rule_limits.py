"""The limits that the lab changed, as the rules take them."""

from __future__ import annotations

from cases.domain.rule_limits import Changed, usable
from cases.models import Lab


def lab_limits() -> Changed:
    """Return the limits that the lab changed, by rule and name (one query); empty before it is
    set up."""
    return usable(Lab.objects.values_list("rule_limits", flat=True).first() or {})
