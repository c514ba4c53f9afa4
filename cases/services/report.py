"""How a piece seated, as the dentist tells it. A later report is a further row."""

from __future__ import annotations

from typing import Any

from django.utils.translation import gettext as _

from cases.domain.insertion import NOT_REPORTED, insertion_report
from cases.domain.reasons import OTHER
from cases.models import InsertionReport, PracticeMember
from cases.services.access import lock_case
from cases.services.record import Recorder, Refusal, verb


@verb("report.insert", may="report")
def insert_report(
    record: Recorder,
    *,
    case: int,
    retention: str = NOT_REPORTED,
    support: str = NOT_REPORTED,
    occlusion: str = NOT_REPORTED,
    sore_spots: str = NOT_REPORTED,
    chairside_minutes: int | None = None,
    adjusted: list[str] | None = None,
    words: str = "",
) -> dict[str, Any]:
    """Store how the piece of a sent case seated (``domain.insertion.FIELDS``).

    Parameters
    ----------
    retention, support, occlusion, sore_spots
        Keys of the answers; what is not reported is stored as such, never as good.
    chairside_minutes
        Minutes spent adjusting at the chair; None when nobody counted them.
    adjusted
        Keys of the adjustment list.

    Raises
    ------
    Refusal
        ``no-case`` for a case of another practice, ``not-sent`` before it has left,
        ``bad-report`` for an answer that is not offered, ``nothing-said`` for an empty report,
        ``no-words`` where "Other" stands without words.
    """
    row = lock_case(case)
    member = PracticeMember.objects.filter(person=record.actor, practice_id=row.practice_id)
    if not member.exists():
        raise Refusal("no-case", _("There is no such case. Look the number up again."))
    if row.state != "sent":
        raise Refusal(
            "not-sent",
            _("%(number)s has not left the laboratory. Report when it was fitted.")
            % {"number": row.number},
        )
    try:
        report = insertion_report(
            retention=retention,
            support=support,
            occlusion=occlusion,
            sore_spots=sore_spots,
            chairside_minutes=chairside_minutes,
            adjusted=adjusted or [],
        )
    except ValueError as error:
        raise Refusal("bad-report", str(error)) from error
    if OTHER.key in report.adjusted and not words.strip():
        raise Refusal("no-words", _("Say in words what else was adjusted."), field="words")
    answers = {report.retention, report.support, report.occlusion, report.sore_spots}
    silent = answers == {NOT_REPORTED} and report.chairside_minutes is None
    if silent and not report.adjusted and not words.strip():
        raise Refusal("nothing-said", _("Nothing is reported yet. Choose at least one answer."))
    record.event("report.inserted", case=row, subject=row.number)
    made = record.create(
        InsertionReport,
        case=row,
        retention=report.retention,
        seating=report.support,
        bite=report.occlusion,
        sore_spots=report.sore_spots,
        chair_minutes=report.chairside_minutes,
        adjusted=list(report.adjusted),
        words=words.strip(),
        by=record.actor,
        at=record.now,
    )
    return {"report": made.pk, "case": row.pk}
