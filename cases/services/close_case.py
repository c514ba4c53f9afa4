"""Cancel a case, note what was said about it, and report a mishap."""

from __future__ import annotations

from typing import Any

from django.utils.translation import gettext as _

from cases.models import File, Mishap, Note
from cases.services import things
from cases.services.access import lock_case, lock_open_case, lock_stage
from cases.services.progress import refresh
from cases.services.record import Recorder, Refusal, verb
from cases.services.stage import close_span


@verb("case.cancel", may="close-cases")
def cancel_case(record: Recorder, *, case: int, version: int, reason: str) -> dict[str, Any]:
    """Close a case that will not be finished; what was done stays on record."""
    row = lock_open_case(case, version=version)
    if not reason.strip():
        raise Refusal("no-reason", _("Say why it is cancelled."), field="reason")
    record.event("case.cancelled", case=row)
    for stage in row.stages.filter(state="running"):
        for run in stage.runs.filter(ended_at__isnull=True):
            close_span(record, run)
        record.change(stage, state="paused", version=stage.version + 1)
    things.release_all(record, row)
    for hold in row.holds.filter(released_at__isnull=True):
        record.change(hold, released_at=record.now, released_by=record.person)
    record.change(
        row,
        state="cancelled",
        closed_at=record.now,
        closed_reason=reason.strip()[:80],
        version=row.version + 1,
    )
    refresh(record, row)
    return {"case": row.pk, "version": row.version}


@verb("note.write", may="note")
def write_note(
    record: Recorder,
    *,
    case: int,
    text: str,
    from_whom: str = "",
    telephone: bool = False,
    to_person: int | None = None,
    visible_to_practice: bool = False,
) -> dict[str, Any]:
    """Write a note on a case; a telephone note says who rang."""
    row = lock_case(case)
    if not text.strip():
        raise Refusal("no-text", _("Write the note first."), field="text")
    if telephone and not from_whom.strip():
        raise Refusal("who-rang", _("Say who rang."), field="from_whom")
    record.event("note.written", case=row, subject="telephone" if telephone else "note")
    note = record.create(
        Note,
        case=row,
        text=text.strip(),
        kind="telephone" if telephone else "note",
        from_whom=from_whom.strip()[:60],
        to_person_id=to_person,
        visible_to_practice=visible_to_practice,
        by=record.person,
        at=record.now,
    )
    return {"note": note.pk}


@verb("stage.mishap", may="work")
def report_mishap(
    record: Recorder, *, stage: int, version: int, words: str, photo: int | None = None
) -> dict[str, Any]:
    """Note that something broke, fell or went wrong at a stage."""
    case, row = lock_stage(stage, version=version)
    if not words.strip():
        raise Refusal("no-words", _("Say in a few words what happened."), field="words")
    picture = File.objects.filter(pk=photo, case=case).first() if photo else None
    record.event("stage.mishap", case=case, subject=row.key)
    mishap = record.create(
        Mishap, stage=row, words=words.strip()[:400], file=picture, by=record.actor, at=record.now
    )
    return {"mishap": mishap.pk}
