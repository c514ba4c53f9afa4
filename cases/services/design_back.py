"""Put the design back to a finished version, as after a refusal of the practice."""

from __future__ import annotations

from typing import Any

from django.utils.translation import gettext as _

from cases.domain.design import Design as Plan
from cases.services.access import lock_open_case, refuse_packed
from cases.services.design import finish_change
from cases.services.record import Recorder, Refusal, verb


@verb("design.put-back", may="hold")
def put_back(
    record: Recorder,
    *,
    case: int,
    version: int,
    to: int,
    reason: str,
    again: list[str] | None = None,
    standing: dict[str, str] | None = None,
) -> dict[str, Any]:
    """Store a new version that says what the finished version ``to`` said.

    It was held to the rules when it was finished and is not anew: whoever puts it back decides
    nothing but what becomes of the finished stages. What lies between stays readable.

    Parameters
    ----------
    again, standing
        The finished stages that this puts in question: those to be done again, and those left
        standing, each with why.

    Raises
    ------
    Refusal
        ``no-version`` where there is none or it is not finished, ``no-reason``, ``in-question``
        for a stage that nobody decided, ``case-packed`` while the piece lies in a box.
    """
    row = lock_open_case(case, version=version)
    refuse_packed(row)
    old = row.designs.filter(version=to).first()
    if old is None or old.data["provisional"] or old.data["draft"]:
        raise Refusal("no-version", _("Only a finished version can be put back. Choose another."))
    if not reason.strip():
        raise Refusal("no-reason", _("Say why the design goes back."), field="reason")
    question = finish_change(
        record,
        row,
        Plan.from_json(old.data),
        reason=_("Back to version %(n)s: %(why)s") % {"n": to, "why": reason.strip()},
        asked_by="lab",
        again=again or [],
        why={key: words.strip() for key, words in (standing or {}).items() if words.strip()},
    )
    record.change(row, version=row.version + 1)
    return {"design": row.design_id, "version": row.version, "question": question}
