"""A second person signs a student's work before a point of no return."""

from __future__ import annotations

from typing import Any

from django.utils.translation import gettext as _

from cases.models import Countersign
from cases.services import things
from cases.services.access import lock_stage
from cases.services.check import did_work
from cases.services.progress import refresh
from cases.services.record import Recorder, Refusal, verb
from cases.services.send_back import reopen


@verb("stage.countersign", may="countersign")
def countersign(record: Recorder, *, request: int, agreed: bool, words: str = "") -> dict[str, Any]:
    """Sign a student's stage, or return it with a reason.

    Raises
    ------
    Refusal
        ``already-signed``, ``own-work``, ``may-not-sign`` (not a student, and either a manager
        or somebody with the skill who may countersign it), ``no-reason`` for a refusal.
    """
    found = Countersign.objects.filter(pk=request).values_list("stage_id", flat=True).first()
    if found is None:
        raise Refusal("no-request", _("There is nothing to sign here. Load the page again."))
    case, stage = lock_stage(found)
    row = Countersign.objects.select_for_update().get(pk=request)
    if row.signed_at is not None:
        who = row.signed_by.name if row.signed_by else "somebody"
        raise Refusal("already-signed", _("This was already signed by %(who)s.") % {"who": who})
    if row.asked_by_id == record.actor.pk or did_work(stage, record.actor.pk):
        raise Refusal("own-work", _("You cannot sign your own work. Ask a colleague."))
    may_sign = (
        record.actor.is_manager
        or record.actor.skills.filter(skill__key=stage.skill, may_countersign=True).exists()
    )
    if record.actor.is_student or not may_sign:
        raise Refusal(
            "may-not-sign",
            _("You may not countersign %(stage)s. Ask who may.") % {"stage": _(stage.name)},
        )
    if not agreed and not words.strip():
        raise Refusal("no-reason", _("Say what has to be better."), field="words")
    record.event(
        "stage.countersigned" if agreed else "stage.not-signed", case=case, subject=stage.key
    )
    record.change(
        row,
        signed_by=record.actor,
        signed_at=record.now,
        agreed=agreed,
        words=words[:200],
    )
    if agreed:
        record.change(stage, state="done", ended_at=record.now, version=stage.version + 1)
        things.release(record, case, stage.key)
        things.casts_from(record, case, stage)
    else:
        reopen(record, case, [stage], "not-signed")
    refresh(record, case)
    return {"stage": stage.pk, "state": stage.state}
