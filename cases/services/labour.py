"""Confirm minutes that the program ended, where they are right as they stand."""

from __future__ import annotations

from typing import Any

from cases.models import WorkSpan
from cases.services.access import lock_case
from cases.services.record import Recorder, Refusal, verb


@verb("time.confirm", may="work")
def confirm_time(record: Recorder, *, span: int) -> dict[str, Any]:
    """Say that the minutes of one's own span are right as they were measured.

    Raises
    ------
    Refusal
        ``no-span``, ``not-yours``, or ``nothing-to-check`` when nobody asks about it any more.
    """
    found = WorkSpan.objects.filter(pk=span).values_list("run__stage__case_id", flat=True).first()
    if found is None:
        raise Refusal("no-span", "There is no such entry. Load the page again.")
    case = lock_case(found)
    row = WorkSpan.objects.select_for_update().select_related("run__stage").get(pk=span)
    if row.person_id != record.actor.pk:
        raise Refusal("not-yours", "These are somebody else's minutes. Ask the manager.")
    if not row.to_check:
        raise Refusal("nothing-to-check", "These minutes were looked at already.")
    record.event("time.confirmed", case=case, subject=row.run.stage.key)
    record.change(row, to_check=False)
    return {"span": row.pk}
