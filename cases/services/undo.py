"""Take back what was just done, by a compensating event."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

from django.utils.translation import gettext as _

from cases.models import Case, CaseStage, Event, LoadFlask
from cases.services import things
from cases.services.access import lock_stage, refuse_held
from cases.services.progress import refresh
from cases.services.record import Recorder, Refusal, verb
from cases.services.stage import ONE_TAP, close_span, current_run, open_span

UNDO_FOR = timedelta(seconds=10)
UNDO_LEEWAY = timedelta(seconds=5)
"""The screen offers undo for ten seconds; the leeway covers the way to the server."""


@verb("stage.undo", may="work")
def undo_stage(record: Recorder, *, stage: int, version: int) -> dict[str, Any]:
    """Take the actor's last start or finish of a stage back, within ten seconds.

    A compensating event: nothing recorded is removed. Refused in words when it is too late
    or a later stage has begun; a correcting entry is the way then.
    """
    case, row = lock_stage(stage, version=version)
    return take_back(record, case, row)


def take_back(record: Recorder, case: Case, row: CaseStage) -> dict[str, Any]:
    """Do what ``undo_stage`` does on rows that are locked already."""
    last = (
        Event.objects.filter(case=case, subject=row.key, kind__startswith="stage.")
        .order_by("-pk")
        .first()
    )
    if last is None or last.by_id != record.actor.pk:
        raise Refusal("not-yours", _("Only who did it can undo it. Ask them, or send it back."))
    if record.now - last.received_at > UNDO_FOR + UNDO_LEEWAY:
        raise Refusal("too-late", _("Ten seconds are over. Send the stage back to correct it."))
    if LoadFlask.objects.filter(stage=row, left_at=None, load__state="running").exists():
        raise Refusal("in-a-load", _("It is in the bath with its load. Send it back instead."))
    if last.kind == "stage.started" and row.state == "running":
        _undo_start(record, case, row, last)
    elif last.kind == "stage.finished" and row.state in {"done", "countersign", "away"}:
        _undo_finish(record, case, row, last)
    else:
        raise Refusal("nothing-to-undo", _("There is nothing here to undo."))
    refresh(record, case)
    return {"stage": row.pk, "version": row.version, "state": row.state}


def _undo_start(record: Recorder, case: Case, row: CaseStage, last: Event) -> None:
    record.event("stage.start-undone", case=case, subject=row.key, corrects=last)
    run = current_run(row)
    close_span(record, run)
    record.change(run, ended_at=record.now, ended_by=record.person, outcome="undone")
    things.release_all(record, case, {row.key})
    record.change(row, state="planned", started_at=None, worker=None, version=row.version + 1)


def _undo_finish(record: Recorder, case: Case, row: CaseStage, last: Event) -> None:
    after = list(case.edges.filter(before=row.key).values_list("after", flat=True))
    begun = case.stages.filter(key__in=after).exclude(state__in=["planned", "dropped"]).first()
    if begun is not None:
        raise Refusal(
            "later-begun",
            _("%(stage)s has begun. Send it back instead.") % {"stage": _(begun.name)},
        )
    if row.kind in ONE_TAP:
        raise Refusal("nothing-to-undo", _("The wait is running. Send the stage back instead."))
    # It is in hand again then: what forbids taking it up forbids this too.
    refuse_held(case, row.key)
    things.cast_free_at(case, row)
    record.event("stage.finish-undone", case=case, subject=row.key, corrects=last)
    run = row.runs.latest("pk")
    record.change(run, ended_at=None, ended_by=None, outcome="")
    open_span(record, run)
    for request in row.countersigns.filter(signed_at__isnull=True):
        record.change(request, signed_at=record.now, words="undone")
    for freed in case.occupations.filter(until_stage=row.key, freed_at=last.received_at):
        taken = freed.thing.occupations.filter(freed_at__isnull=True).exists()
        if taken:
            raise Refusal(
                "thing-in-use",
                _("%(thing)s was taken meanwhile. Send it back.") % {"thing": freed.thing},
            )
        record.change(freed, freed_at=None)
    things.take_casts_back(record, case, last)
    record.change(row, state="running", ended_at=None, version=row.version + 1)
