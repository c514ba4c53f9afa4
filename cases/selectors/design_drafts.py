"""The design that the bench works to, and the draft that somebody has begun after it."""

from __future__ import annotations

from cases.domain.design import Design as Plan
from cases.models import Case, Design


def newer_draft(case: Case) -> Design | None:
    """Return the draft that is newer than the design the bench works to, or None (one query)."""
    newest = case.designs.order_by("-version").first()
    stands = case.design.version if case.design is not None else 0
    return newest if newest and newest.version > stands and newest.data["draft"] else None


def finished_design(case: Case) -> Plan | None:
    """Return the design that was last finished, before any draft that followed it; or None."""
    for row in case.designs.order_by("-version"):
        if not row.data["provisional"] and not row.data["draft"]:
            return Plan.from_json(row.data)
    return None


def drawn_design(case: Case) -> Plan | None:
    """Return what was drawn last, draft or finished; None while it is only expected."""
    row = newer_draft(case) or case.design
    return None if row is None or row.data["provisional"] else Plan.from_json(row.data)


def decided_against(case: Case) -> Plan | None:
    """Return the design against which a finished one puts stages in question; None where nothing
    was drawn.

    While no design is finished that is the first draft: drafts decide nothing, so what stages
    were made by may be any of them.
    """
    finished = finished_design(case)
    if finished is not None:
        return finished
    drafts = case.designs.order_by("version")
    first = next((row for row in drafts if not row.data["provisional"]), None)
    return Plan.from_json(first.data) if first is not None else None
