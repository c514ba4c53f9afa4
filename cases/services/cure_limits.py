"""Change the limits by which the cure is judged and estimated; what was judged before stays."""

from __future__ import annotations

from typing import Any

from django.utils.translation import gettext as _

from cases.domain.cure.settings import CureLimitRefused, changed_by, in_force, usable
from cases.models import CureLimitsChange
from cases.services.lab import the_lab
from cases.services.record import Recorder, Refusal, verb


@verb("lab.cure-limits", may="settings")
def change_cure_limits(
    record: Recorder, *, values: dict[str, float], reason: str
) -> dict[str, Any]:
    """Set limits of the cure by key, with a reason; the others stay.

    The usual value takes a change back. Verdicts and estimates that are kept stay as they are.

    Raises
    ------
    Refusal
        ``bad-limit`` beside the field for a limit that there is not, a value out of its bounds, or
        two limits that would cross; ``nothing-set`` where every value is the one in force;
        ``no-reason`` without a reason.
    """
    lab = the_lab()
    try:
        changed = changed_by(lab.cure_limits, values)
    except CureLimitRefused as refused:
        raise Refusal("bad-limit", str(refused), field=refused.key) from refused
    was, now = in_force(usable(lab.cure_limits)), in_force(changed)
    touched = [key for key in now if now[key] != was[key]]
    if not touched:
        raise Refusal("nothing-set", _("Nothing was changed. Enter another value first."))
    reason = reason.strip()[:200]
    if not reason:
        raise Refusal("no-reason", _("Say why it is changed."), field="reason")
    before, after = ({key: part[key] for key in touched} for part in (was, now))
    record.event("lab.cure-limits-changed", subject=", ".join(touched), was=before, now=after)
    record.change(lab, cure_limits=changed)
    record.create(
        CureLimitsChange,
        before=before,
        after=after,
        reason=reason,
        by=record.actor,
        at=record.now,
    )
    return {"changed": changed}
