"""What must be true of the house after every step, asked of the stored rows."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from datetime import datetime

from cases.models import (
    Alert,
    BenchSession,
    Case,
    CaseEdge,
    CaseStage,
    Concession,
    LoadFlask,
    Occupied,
    Person,
    ShipmentCase,
    StageRun,
    Timer,
    WorkSpan,
)

IN_HAND = ("running", "paused")
DOUGH = ("dough", "dough-soon", "dough-over")
DOUGH_RINGS = frozenset(IN_HAND)
"""Dough stiffens in a stage that was put down, too."""


def broken_rules(now: datetime) -> list[str]:
    """Return each broken rule in words; empty when the house stands."""
    stages = list(CaseStage.objects.select_related("case"))
    return [
        *_one_cast(stages),
        *_runs(stages),
        *_order_of_work(stages),
        *_checks(stages),
        *_things(),
        *_holds(stages),
        *_timers(),
        *_concessions(),
        *_boxes(stages),
        *_rests(),
        *_tablets(),
        *_managers(),
    ]


def _one_cast(stages: list[CaseStage]) -> Iterator[str]:
    """One cast, one pair of hands."""
    hands = Counter(s.case_id for s in stages if s.state == "running" and s.spec["needs_cast"])
    for case_id, count in hands.items():
        if count > 1:
            yield f"case {case_id}: {count} stages have the one cast in hand"


def _runs(stages: list[CaseStage]) -> Iterator[str]:
    """A stage in hand has one open run; hands on it one open span; nothing else has any."""
    runs = Counter(StageRun.objects.filter(ended_at=None).values_list("stage_id", flat=True))
    spans = Counter(WorkSpan.objects.filter(ended_at=None).values_list("run__stage_id", flat=True))
    for stage in stages:
        if runs[stage.pk] != (stage.state in IN_HAND):
            yield f"{stage} is {stage.state} with {runs[stage.pk]} open runs"
        if spans[stage.pk] != (stage.state == "running"):
            yield f"{stage} is {stage.state} with {spans[stage.pk]} open spans"


def _order_of_work(stages: list[CaseStage]) -> Iterator[str]:
    """A stage that began did so after what comes before it in its route had ended.

    Stages whose attempt began before their predecessor was re-opened or added are left
    standing by a person's decision or by a later design; they are told by the start times.
    """
    by_case: dict[int, dict[str, CaseStage]] = {}
    for stage in stages:
        by_case.setdefault(stage.case_id, {})[stage.key] = stage
    for case in Case.objects.prefetch_related("edges", "designs", "send_backs"):
        mine = by_case.get(case.pk, {})
        changes = [design.made_at for design in case.designs.all()]
        changes += [back.at for back in case.send_backs.all()]
        for edge in case.edges.all():
            before, after = mine[edge.before], mine[edge.after]
            if after.state != "running" or after.started_at is None:
                continue
            if any(at >= after.started_at for at in changes):
                continue
            if before.state not in {"done", "skipped"}:
                yield f"{after} runs before {before.key} ended"
            elif before.ended_at and before.ended_at > after.started_at:
                yield f"{after} began before {before.key} ended"


def _checks(stages: list[CaseStage]) -> Iterator[str]:
    """A stage is done only with every required check passed or conceded."""
    from cases.models import CheckItem

    rows = CheckItem.objects.filter(required=True, state__in=["open", "failed"])
    rows = rows.filter(stage__state__in=["done", "away", "countersign"])
    for item in rows.select_related("stage"):
        yield f"{item.stage} is {item.stage.state} with {item.key} {item.state}"


def _things() -> Iterator[str]:
    """A thing belongs to one case at a time, and to none that is closed."""
    rows = Occupied.objects.filter(freed_at=None).select_related("case", "thing")
    for thing_id, count in Counter(row.thing_id for row in rows).items():
        if count > 1:
            yield f"thing {thing_id} is taken {count} times"
    for row in rows:
        if row.case.state == "cancelled":
            yield f"{row.thing} is taken by {row.case}, which is cancelled"


def _holds(stages: list[CaseStage]) -> Iterator[str]:
    """Nothing runs that a hold stops."""
    from cases.models import Hold

    for hold in Hold.objects.filter(released_at=None):
        for stage in stages:
            stopped = not hold.stages or stage.key in hold.stages
            if stage.case_id == hold.case_id and stage.state == "running" and stopped:
                yield f"{stage} runs under hold {hold.pk}"


def _timers() -> Iterator[str]:
    """Timers wait, and alarms ring, only for stages that may still need them."""
    for timer in Timer.objects.filter(state="pending", load__isnull=False).select_related("load"):
        if timer.load.state not in {"running", "over"}:
            yield f"{timer} is pending for {timer.load}, which is {timer.load.state}"
    rows = Timer.objects.filter(state="pending", load=None).select_related("stage", "case")
    for timer in rows:
        waits_in = DOUGH_RINGS if timer.kind in DOUGH else {"planned", "running"}
        if timer.case.state != "open" or timer.stage.state not in waits_in:
            yield f"{timer} is pending for {timer.stage}, which is {timer.stage.state}"
    open_alerts = Alert.objects.filter(acknowledged_at=None, timer__load=None)
    rings = open_alerts.select_related("timer__case", "timer__stage")
    for alert in rings:
        timer = alert.timer
        rung_for = {"running"} if timer.kind == "forgotten" else {"planned"}
        rung_for = DOUGH_RINGS if timer.kind in DOUGH else rung_for
        if timer.case.state != "open" or timer.stage.state not in rung_for:
            yield f"{timer} rings for {timer.stage}, which is {timer.stage.state}"
        elif timer.kind == "wait-over" and timer.stage.ready_at != timer.due_at:
            yield f"{timer} rings for a wait that is no longer so"


def _concessions() -> Iterator[str]:
    """Nobody accepts the failed check of their own work."""
    for row in Concession.objects.select_related("item__stage"):
        own = WorkSpan.objects.filter(
            run__stage=row.item.stage,
            run__attempt=row.attempt,
            person_id=row.by_id,
            began_at__lte=row.at,
        ).exists()
        if own:
            yield f"{row} was conceded by who did the work"


def _boxes(stages: list[CaseStage]) -> Iterator[str]:
    """What is packed is finished and in one box, what is sent left in it, twins together."""
    rows = list(ShipmentCase.objects.select_related("shipment", "case__twin"))
    boxes: dict[int, list[ShipmentCase]] = {}
    for row in rows:
        boxes.setdefault(row.case_id, []).append(row)
    inside = {(row.shipment_id, row.case_id) for row in rows}
    for case_id, held in boxes.items():
        if len(held) > 1:
            yield f"case {case_id} is in {len(held)} boxes"
        row = held[0]
        if row.shipment.sent_at is not None and row.case.state != "sent":
            yield f"{row.case} left in {row.shipment} and is {row.case.state}"
        twin = row.case.twin
        alone = twin is not None and (row.shipment_id, twin.pk) not in inside
        if alone and twin.state not in {"sent", "cancelled"} and not row.alone_reason.strip():
            yield f"{row.case} lies in {row.shipment} without its twin, and nobody said why"
    for case in Case.objects.filter(state__in=["packed", "sent"]):
        if case.pk not in boxes:
            yield f"{case} is {case.state} and in no box"
        elif case.state == "sent" and boxes[case.pk][0].shipment.sent_at is None:
            yield f"{case} is sent and its box is here"
        last = {"send"} if case.state == "packed" else set()
        for stage in stages:
            over = stage.state in {"done", "skipped", "dropped"} or stage.key in last
            if stage.case_id == case.pk and not over:
                yield f"{case} is {case.state} and {stage.key} is {stage.state}"


def _rests() -> Iterator[str]:
    """A flask that is gathered for a load rests as the program of that load asks."""
    for one in LoadFlask.objects.filter(
        left_at=None, load__state="gathering", case__state="open", stage__state="planned"
    ).select_related("load__program"):
        rest = one.load.program.document["bench_rest_minutes"]
        waits = CaseEdge.objects.filter(
            case=one.case_id, before__in=["clamp", "pack"], after="cure"
        ).values_list("min_wait", flat=True)
        # A program that states none leaves what the route says.
        if rest and rest not in waits:
            yield f"{one} waits {list(waits)} minutes, and its program asks for {rest}"


def _tablets() -> Iterator[str]:
    """A tablet in use has one person at most, who works here; one out of use has nobody."""
    rows = list(BenchSession.objects.filter(closed_at=None).select_related("tablet", "person"))
    for tablet_id, count in Counter(row.tablet_id for row in rows).items():
        if count > 1:
            yield f"tablet {tablet_id} has {count} people"
    for row in rows:
        if row.tablet.revoked_at is not None or not row.person.active:
            yield f"{row} is open"


def _managers() -> Iterator[str]:
    """Somebody can always let the others in."""
    if not Person.objects.filter(is_manager=True, active=True, user__isnull=False).exists():
        yield "there is no manager who can sign in"
