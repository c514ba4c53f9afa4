"""Keep a printed paper as it was printed.

The bytes are drawn and written before the verb (``services.files.write_bytes``); a file that no
row names afterwards is harmless.
"""

from __future__ import annotations

from typing import Any

from django.utils.translation import gettext as _

from cases.models import Case, Paper, Shipment
from cases.services.files import Stored, attach, write_bytes
from cases.services.record import Recorder, Refusal, verb

PDF = "application/pdf"
KINDS = ("ticket", "label", "note", "van", "day")
OF_A_CASE = frozenset({"ticket", "label"})


def store_pdf(data: bytes) -> Stored:
    """Write a drawn paper under its own hash."""
    return write_bytes(data, ".pdf", PDF)


@verb("paper.keep", may="dispatch")
def keep_paper(
    record: Recorder,
    *,
    kind: str,
    number: str,
    stored: dict[str, Any],
    case: int | None = None,
    shipment: int | None = None,
    design: int | None = None,
) -> dict[str, Any]:
    """Keep a paper that was drawn and written.

    Parameters
    ----------
    kind
        One of ``KINDS``: ticket and label of a case, note of a box, van list and day's print.
    number
        What it is looked up by: the case's, the note's, or the day.
    stored
        ``vars()`` of what ``store_pdf`` returned.
    design
        The version of the case's design that was drawn; None where it is the one that stands. The
        designs of cases in a box stand still while they lie in it.

    Returns
    -------
    dict
        ``paper``: primary key.

    Raises
    ------
    Refusal
        ``no-kind``, ``no-case``, ``no-box``.
    """
    if kind not in KINDS:
        raise Refusal("no-kind", _("There is no such paper. Load the page again."))
    of_case = Case.objects.filter(pk=case).first() if case else None
    if kind in OF_A_CASE and of_case is None:
        raise Refusal("no-case", _("There is no such case. Look the number up again."))
    box = Shipment.objects.filter(pk=shipment).first() if shipment else None
    if kind == "note" and box is None:
        raise Refusal("no-box", _("There is no such box. Load the page again."))
    record.event("paper.printed", case=of_case, subject=f"{kind} {number}", sha256=stored["sha256"])
    file = attach(record, stored, case=of_case, kind="paper", visible_to_practice=kind == "note")
    paper = record.create(
        Paper,
        kind=kind,
        number=number[:20],
        case=of_case,
        shipment=box,
        file=file,
        designs=_designs(of_case, box, design),
        at=record.now,
    )
    return {"paper": paper.pk}


def _designs(of_case: Case | None, box: Shipment | None, drawn: int | None) -> dict[str, int]:
    """Return the version of the design that a paper tells of each case, by the case's number."""
    if of_case is not None:
        version = drawn or (of_case.design.version if of_case.design else None)
        return {of_case.number: version} if version else {}
    if box is None:
        return {}
    found = Case.objects.filter(shipment_row__shipment=box, design__isnull=False)
    return dict(found.order_by("number").values_list("number", "design__version"))
