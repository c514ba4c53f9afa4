"""Return to an earlier stage: what follows from it re-opens, earlier work stays and counts."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django.utils.translation import gettext as _

from cases.domain.route import reachable
from cases.models import Case, CaseStage, CheckItem, LoadFlask, SendBack
from cases.services import things
from cases.services.access import lock_open_case, lock_stage, refuse_packed
from cases.services.agreement import hold_reopened
from cases.services.progress import edges_of, refresh
from cases.services.record import Recorder, Refusal, verb
from cases.services.stage import close_span

BEGUN = frozenset({"running", "paused", "countersign", "away", "done", "skipped"})


def reopen(record: Recorder, case: Case, stages: list[CaseStage], outcome: str) -> None:
    """Put begun stages back to planned with a new attempt; their runs and results stay."""
    for stage in stages:
        for run in stage.runs.filter(ended_at__isnull=True):
            close_span(record, run)
            record.change(run, ended_at=record.now, ended_by=record.person, outcome=outcome)
        for request in stage.countersigns.filter(signed_at__isnull=True):
            record.change(request, signed_at=record.now, words=_("sent back"))
        record.change(
            stage,
            state="planned",
            attempt=stage.attempt + 1,
            started_at=None,
            ended_at=None,
            words="",
            version=stage.version + 1,
        )
    clear = list(CheckItem.objects.filter(stage__in=stages).exclude(state__in=["open", "dropped"]))
    for item in clear:
        item.state, item.values, item.sentence = "open", {}, ""
    record.change_many(clear, ["state", "values", "sentence"])
    for flask in LoadFlask.objects.filter(stage__in=stages, left_at=None):
        record.change(flask, left_at=record.now)
    things.release_all(record, case, {stage.key for stage in stages})


@verb("case.send-back", may=None)
def send_back(
    record: Recorder,
    *,
    stage: int,
    version: int,
    to: str,
    reason: str,
    more_reasons: list[str] | None = None,
    words: str = "",
    standing: dict[str, str] | None = None,
) -> dict[str, Any]:
    """Send a case back from ``stage`` to the earlier stage ``to``.

    Every begun stage reachable from the target re-opens as a new attempt, except those in
    ``standing`` (key → reason), which are left standing.

    Raises
    ------
    Refusal
        ``no-target`` when ``to`` is not an earlier, begun stage of this case.
    """
    if not record.may("assign"):
        # The office may send back as well as the bench.
        record.require("work")
    case, row = lock_stage(stage, version=version)
    refuse_packed(case)
    if not reason:
        raise Refusal("no-reason", _("Choose why it goes back."), field="reason")
    target = case.stages.select_for_update().filter(key=to).first()
    after = reachable(edges_of(case), to) if target else frozenset()
    if target is None or row.key not in after or target.state not in BEGUN:
        raise Refusal(
            "no-target", _("It can only go back to an earlier stage that has begun."), field="to"
        )
    if row.state not in BEGUN and row.pk != target.pk and row.ready_at is None:
        raise Refusal(
            "not-there", _("The case has not come to %(stage)s yet.") % {"stage": _(row.name)}
        )
    kept = {key: why for key, why in (standing or {}).items() if key != to and why.strip()}
    reopened = _back(
        record, case, row.key, to, reason=reason, more=more_reasons or [], words=words,
        standing=kept, after=after,
    )  # fmt: skip
    hold_reopened(record, case)
    refresh(record, case)
    return {"case": case.pk, "reopened": reopened}


def _back(
    record: Recorder,
    case: Case,
    start: str,
    to: str,
    *,
    reason: str,
    more: list[str],
    words: str,
    standing: dict[str, str],
    after: frozenset[str],
) -> list[str]:
    """Re-open what begun among ``after`` and is not left standing; keep who, why and what."""
    stages = [
        one
        for one in case.stages.select_for_update().order_by("position")
        if one.key in after and one.state in BEGUN and one.key not in standing
    ]
    reopened = [one.key for one in stages]
    record.event(
        "case.sent-back",
        case=case,
        subject=start,
        to=to,
        reason=reason,
        more_reasons=more,
        reopened=reopened,
        standing=sorted(standing),
    )
    record.create(
        SendBack,
        case=case,
        from_stage=start,
        to_stage=to,
        reason=reason,
        more_reasons=more,
        words=words[:400],
        reopened=reopened,
        standing=standing,
        by=record.actor,
        at=record.now,
    )
    reopen(record, case, stages, "sent-back")
    for one in case.stages.filter(key__in=standing):
        record.change(one, words=(_("left standing: %(why)s") % {"why": standing[one.key]})[:200])
    return reopened


def go_back(
    record: Recorder,
    case: Case,
    again: Sequence[CaseStage],
    *,
    reason: str,
    words: str,
    standing: dict[str, str],
) -> None:
    """Do stages again within another verb: each of ``again`` and what follows from it.

    Parameters
    ----------
    again
        Begun stages, in the order of the route.
    standing
        Stages left as they are, with why, even where they follow from one that is done again.
    """
    edges = edges_of(case)
    reopened: set[str] = set()
    for stage in again:
        if stage.key in reopened:
            continue
        after = reachable(edges, stage.key)
        kept = {key: why for key, why in standing.items() if key in after and key != stage.key}
        reopened |= set(
            _back(
                record, case, stage.key, stage.key, reason=reason, more=[], words=words,
                standing=kept, after=after - reopened,
            )
        )  # fmt: skip
    hold_reopened(record, case)
    refresh(record, case)


def reopen_from(record: Recorder, case_id: int, key: str) -> list[str]:
    """Re-open ``key`` and what follows from it, for verbs that make earlier work void."""
    case = lock_open_case(case_id)
    after = reachable(edges_of(case), key)
    stages = [
        one
        for one in case.stages.select_for_update().order_by("position")
        if one.key in after and one.state in BEGUN
    ]
    reopen(record, case, stages, "void")
    hold_reopened(record, case)
    return [one.key for one in stages]
