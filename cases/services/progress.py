"""Keep what follows from a change: which stages are ready, when, and which timers must run."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime, timedelta

from cases.domain.cure.dough import Window as Dough
from cases.domain.route import PlannedEdge, StageFact, readiness
from cases.models import (
    Alert,
    Case,
    CaseEdge,
    CaseStage,
    Lab,
    LoadFlask,
    Mix,
    StageRun,
    Timer,
    WorkSpan,
)
from cases.selectors.rows import find, read
from cases.services.record import Recorder

ENDED = frozenset({"done", "skipped"})
Window = tuple[datetime | None, datetime | None, datetime | None]
"""Ready by the usual waits, by the least ones, and the latest start."""
OVER_UNSAID = frozenset({"wait-over", "dough", "dough-soon"})
"""What needs no telling where it has passed before anybody could be told."""
WARN_BEFORE = timedelta(minutes=15)
"""How long before the latest start the bench is warned. Judgement; no published source."""


def edges_of(case: Case) -> list[PlannedEdge]:
    """Return the case's edges as the domain reads them."""
    columns = ("before", "after", "min_wait", "max_wait", "least_wait", "latest_words")
    return [PlannedEdge(*row) for row in read(CaseEdge, columns, case_id=case.pk, order=("id",))]


def facts_of(stages: Iterable[CaseStage]) -> list[StageFact]:
    """Return the stages as the domain reads them; dropped ones are not part of the route."""
    return [
        StageFact(
            stage.key,
            open=stage.state not in ENDED,
            ended_at=stage.ended_at if stage.state in ENDED else None,
            skipped=stage.state == "skipped",
        )
        for stage in stages
        if stage.state != "dropped"
    ]


def refresh(record: Recorder, case: Case) -> list[CaseStage]:
    """Recompute readiness, latest starts and timers of ``case`` under the current event.

    Returns
    -------
    list of CaseStage
        All stages of the case in order, as they now stand.
    """
    # What the template says of a stage is long and asked for nowhere here.
    stages = find(CaseStage, case_id=case.pk, order=("position", "id"), without=("spec",))
    outside = {"pour": case.pour_by} if case.pour_by else {}
    ready = readiness(facts_of(stages), edges_of(case), record.now, latest=outside)
    changed = []
    for stage in stages:
        known = ready.get(stage.key) if stage.state == "planned" else None
        if known is None:
            window: Window = (stage.ready_at, stage.may_from, None)
        elif known.waits_for:
            window = (None, None, known.latest_at)
        else:
            # Nothing comes before the first stage: it is ready since the case was logged.
            usual = known.ready_at or case.logged_at
            window = (usual, known.may_from or usual, known.latest_at)
        if window != (stage.ready_at, stage.may_from, stage.latest_at):
            stage.ready_at, stage.may_from, stage.latest_at = window
            changed.append(stage)
    record.change_many(changed, ["ready_at", "may_from", "latest_at"])
    _sync_timers(record, case, stages)
    return stages


def _instants(stage: CaseStage, began: datetime | None, nudge: int) -> dict[str, datetime]:
    """Return the instants of a stage that somebody must be told of, by kind, past ones too.

    ``began`` is when the hands that are on it now took it up, ``nudge`` the lab's minutes
    after which a running stage may have been forgotten (at least twice its estimate).
    """
    if stage.state == "running" and began:
        return {"forgotten": began + timedelta(minutes=max(nudge, 2 * stage.minutes))}
    if stage.state != "planned":
        return {}
    wanted = {}
    if stage.ready_at:
        wanted["wait-over"] = stage.ready_at
    if stage.latest_at:
        pour = stage.key == "pour"
        wanted["pour-soon" if pour else "latest-soon"] = stage.latest_at - WARN_BEFORE
        wanted["pour" if pour else "latest"] = stage.latest_at
    return wanted


def _in_hand_since(stages: tuple[int, ...]) -> dict[int, datetime]:
    """Return when the hands that are on these running stages took them up."""
    runs = dict(read(StageRun, ("id", "stage_id"), stage_id=stages, ended_at=None))
    spans = read(WorkSpan, ("run_id", "began_at"), run_id=tuple(runs), ended_at=None)
    return {runs[run]: began for run, began in spans}


def _doughs(stages: list[CaseStage]) -> dict[tuple[int | None, str], datetime]:
    """Return the instants of what was mixed last at a packing in hand: dough waits for nobody.

    A stage that was put down is still told of.
    """
    packing = next(
        (one for one in stages if one.key == "pack" and one.state in {"running", "paused"}), None
    )
    if packing is None:
        return {}
    columns = ("mixed_at", "opens_at", "closes_at", "closed_at")
    mixed = read(Mix, columns, stage_id=packing.pk, attempt=packing.attempt, order=("id",))
    instants = Dough(*mixed[-1]).instants if mixed else {}
    return {(packing.pk, kind): due for kind, due in instants.items()}


def _live_timers(case: Case) -> list[Timer]:
    """Return the timers of a case that are pending or have fired, those with their alarms."""
    timers = find(Timer, case_id=case.pk, state=("pending", "fired"), order=("due_at", "id"))
    fired = {timer.pk: timer for timer in timers if timer.state == "fired"}
    for alert in find(Alert, timer_id=tuple(fired)):
        alert.timer = fired[alert.timer_id]
    return timers


def _sync_timers(record: Recorder, case: Case, stages: list[CaseStage]) -> None:
    timers = _live_timers(case)
    pending = {(t.stage_id, t.kind): t for t in timers if t.state == "pending"}
    seen = {(t.stage_id, t.kind, t.due_at) for t in timers if t.state == "fired"}
    began: dict[int, datetime] = {}
    nudge = 0
    running = tuple(stage.pk for stage in stages if stage.state == "running")
    if running:
        began = _in_hand_since(running)
        [[nudge]] = read(Lab, ("nudge_after_minutes",)) or [[0]]
        nudge = nudge or 90
    told: dict[tuple[int | None, str], datetime] = {
        (stage.pk, kind): due
        for stage in stages
        if case.state == "open"
        for kind, due in _instants(stage, began.get(stage.pk), nudge).items()
    }
    if case.state == "open":
        told |= _doughs(stages)
    _left_to_the_load(case, stages, told)
    wanted = {
        (stage_id, kind): due
        for (stage_id, kind), due in told.items()
        if (stage_id, kind, due) not in seen and not (kind in OVER_UNSAID and due <= record.now)
    }
    stale = [timer for key, timer in pending.items() if wanted.get(key) != timer.due_at]
    for timer in stale:
        timer.state = "cancelled"
    record.change_many(stale, ["state"])
    kept = {key for key, timer in pending.items() if timer.state == "pending"}
    record.create_many(
        [
            Timer(case=case, stage_id=stage_id, kind=kind, due_at=due)
            for (stage_id, kind), due in wanted.items()
            if (stage_id, kind) not in kept
        ]
    )
    fired = [timer for timer in timers if timer.state == "fired"]
    _still(record, case, [t for t in fired if told.get((t.stage_id, t.kind)) != t.due_at])
    _ring_again(record, case, [t for t in fired if told.get((t.stage_id, t.kind)) == t.due_at])


def _left_to_the_load(
    case: Case, stages: list[CaseStage], told: dict[tuple[int | None, str], datetime]
) -> None:
    """Drop the end of a cure from what a case rings for: its load rings once for all flasks."""
    cooling = next((stage for stage in stages if (stage.pk, "wait-over") in told
                    and stage.key == "cool"), None)  # fmt: skip
    if cooling and read(LoadFlask, ("id",), case_id=case.pk, left_at=None):
        del told[cooling.pk, "wait-over"]


def _still(record: Recorder, case: Case, over: list[Timer]) -> None:
    """Still the alarms that ring for what is no longer so: it was begun, re-opened or closed.

    Nobody has heard them, so nobody stands as who did; the event says which act it was.
    """
    rings = [timer.alert.pk for timer in over if timer.alert.acknowledged_at is None]
    if not rings:
        return
    # One that somebody is acknowledging at this moment needs no stilling.
    alerts = Alert.objects.select_for_update(skip_locked=True, of=("self",)).select_related(
        "timer__stage"
    )
    for alert in alerts.filter(pk__in=rings, acknowledged_at__isnull=True).order_by("pk"):
        _say(record, case, alert, "alert.stilled", acknowledged_at=record.now)


def _ring_again(record: Recorder, case: Case, so: list[Timer]) -> None:
    """Let the alarms ring on that an act stilled and its undoing makes true again."""
    for timer in so:
        alert = timer.alert
        if alert.acknowledged_at is not None and alert.acknowledged_by_id is None:
            _say(record, case, alert, "alert.rings-again", acknowledged_at=None)


def _say(
    record: Recorder, case: Case, alert: Alert, kind: str, *, acknowledged_at: datetime | None
) -> None:
    timer = alert.timer
    subject = timer.stage.key if timer.stage else ""
    with record.aside(
        kind, case=case, subject=subject, timer_kind=timer.kind, act=record.verb_name
    ):
        record.change(alert, acknowledged_at=acknowledged_at)
