"""Change the limits by which the rules of the design judge; no rule and no source goes away."""

from __future__ import annotations

from typing import Any

from django.utils.translation import gettext as _

from cases.domain.rule_limits import LimitRefused, changed_by
from cases.services.lab import the_lab
from cases.services.record import Recorder, Refusal, verb


def limit_field(rule: str, limit: str) -> str:
    """Return the name of the entry of a limit, beside which a refusal stands."""
    return f"{rule}-{limit}"


@verb("lab.rule-limits", may="settings")
def change_rule_limits(record: Recorder, *, values: dict[str, dict[str, float]]) -> dict[str, Any]:
    """Set limits, by rule and name; the others stay. The usual value takes a change back.

    Raises
    ------
    Refusal
        ``nothing-set`` without a value, ``bad-limit`` beside the field for a rule or limit that
        there is not, a value out of its bounds, or two limits that would cross.
    """
    lab = the_lab()
    if not any(values.values()):
        raise Refusal("nothing-set", _("Nothing was changed. Enter another value first."))
    try:
        changed = changed_by(lab.rule_limits, values)
    except LimitRefused as refused:
        field = limit_field(refused.rule, refused.limit)
        raise Refusal("bad-limit", str(refused), field=field) from refused
    record.event("lab.rule-limits-changed", subject=", ".join(sorted(values)), limits=values)
    record.change(lab, rule_limits=changed)
    return {"changed": changed}
