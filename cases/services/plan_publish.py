"""Storing a plan as the one in force, once the independent check finds no fault with it."""

from __future__ import annotations

import logging
from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import NamedTuple

from django.db import transaction
from django.utils.translation import gettext as _

from cases.domain.planning.problem import Leaves
from cases.domain.planning.verify import verify
from cases.domain.planning.why import Wait
from cases.domain.planning.why_words import say_link, say_stage
from cases.models import Plan, PlanCase, Planner, PlanStage
from cases.selectors.planning.people import person_pk
from cases.selectors.planning.places import bath_pk
from cases.selectors.planning.work import case_pk, stage_pk
from cases.services.plan_think import Made
from cases.services.rows import insert_many

log = logging.getLogger(__name__)

PLANS_KEPT, ROWS_KEPT = 200, 3
WAITS_SAID = 3
TOLD_AT_ONCE = 30
"""Of so many late cases, the latest, the reasons are told when a plan is stored: hands wait for it.
Those of the others follow with what would save them (``plan_remedies``). Judgement."""
SAID_AHEAD = timedelta(days=4)
"""Why a later stage waits is not said yet: until then there will be many other plans."""
SHOWN_CHANGED = timedelta(days=2)
"""Changes later than that concern nobody yet."""
MOVED = timedelta(hours=1)
"""A stage that begins so much earlier or later than it was said to is marked. Judgement."""


def row() -> Planner:
    """Return the planner's row."""
    return Planner.objects.get_or_create(pk=1)[0]


@transaction.atomic
def publish(
    made: Made, now: datetime, *, seconds: float, lease: datetime | None = None
) -> Plan | None:
    """Store a plan as the one in force; return None, and say why, when it breaks a rule.

    Parameters
    ----------
    lease
        Until when whoever made it has the planner's turn; who has lost it stores nothing.
    """
    state = Planner.objects.select_for_update().get(pk=row().pk)
    if lease is not None and state.busy_until != lease:
        log.warning("plan %s dropped: another worker has the turn", made.how)
        return None
    broken = verify(made.problem, made.plan)
    if broken:
        log.error("A plan was refused: %s", broken[0])
        Planner.objects.filter(pk=state.pk).update(fault=_refused(made, broken[0]))
        return None
    before = Plan.objects.first()
    stored = Plan.objects.create(
        made_at=now,
        how=made.how,
        lateness=made.plan.lateness,
        moves=made.plan.moves,
        flow=made.plan.flow,
        seconds=round(seconds, 3),
        up_to_event=made.up_to,
        unplanned=[
            {"stage": stage_pk(key), "words": made.built.said(words)}
            for key, words in made.plan.unplanned
        ],
        words=list(made.words),
    )
    rows = _rows(stored, made, before)
    insert_many(PlanStage, PlanStageRow._fields, rows)
    told = _told(made.plan.leaves)
    PlanCase.objects.bulk_create(
        PlanCase(
            plan=stored,
            case_id=case_pk(one.case),
            leaves_at=made.built.clock.instant(one.at),
            late_minutes=one.late,
            why=why_then(made, one.case) if one.case in told else [],
        )
        for one in made.plan.leaves
    )
    Planner.objects.filter(pk=state.pk).update(fault="")
    _tidy()
    return stored


def _refused(made: Made, rule: str) -> str:
    words = _("The last plan was refused by its check, and the one before stands: %(rule)s")
    return (words % {"rule": made.built.named(rule)})[:400]


def _longest(waits: Sequence[Wait]) -> tuple[Wait, ...]:
    """Return the longest waits of a stage in their order: the others explain nothing."""
    longest = sorted(waits, key=lambda wait: -wait.minutes)[:WAITS_SAID]
    return tuple(wait for wait in waits if wait in longest)


def why_then(made: Made, case: str) -> list[str]:
    """Return why a case leaves when it does: each stage that it hangs on, and what that waits for,
    the van first and then from now on."""
    van = made.reasons.van(case)
    steps = [step for step in made.reasons.path(case) if step.waits]
    return ([say_link(van, made.built.name)] if van is not None else []) + [
        say_stage(step.stage, _longest(step.waits), made.built.name) for step in steps
    ]


def _told(leaves: Sequence[Leaves]) -> set[str]:
    """Return the late cases whose reasons are told at once."""
    late = sorted((one for one in leaves if one.late), key=lambda one: (-one.late, one.at))
    return {one.case for one in late[:TOLD_AT_ONCE]}


class Was(NamedTuple):
    """What the plan before said of a stage."""

    person_id: int | None
    begins_at: datetime


class PlanStageRow(NamedTuple):
    """A row of ``PlanStage`` to be written; the columns are named alike."""

    plan_id: int
    stage_id: int
    person_id: int | None
    bath_id: int | None
    begins_at: datetime
    ends_at: datetime
    together: str
    signer_id: int | None
    signed_from: datetime | None
    was_person_id: int | None
    was_from: datetime | None
    why: str


def _rows(stored: Plan, made: Made, before: Plan | None) -> list[PlanStageRow]:
    clock = made.built.clock
    said = PlanStage.objects.filter(plan=before).order_by()
    was = {
        stage: Was(person, begins)
        for stage, person, begins in said.values_list("stage_id", "person_id", "begins_at")
    }
    running = {stage.key for stage in made.problem.stages if stage.running is not None}
    rows = []
    for one in sorted(made.plan.planned, key=lambda two: (two.start, two.stage)):
        stage, person, begins = stage_pk(one.stage), person_pk(one.person), clock.instant(one.start)
        waits: tuple[Wait, ...] = ()
        if begins <= stored.made_at + SAID_AHEAD:
            waits = _longest(made.reasons.of(one.stage))
        changed = None
        if one.stage not in running:
            changed = _changed(Was(person, begins), was.get(stage), stored.made_at)
        rows.append(
            PlanStageRow(
                plan_id=stored.pk,
                stage_id=stage,
                person_id=person,
                bath_id=bath_pk(one.bath),
                begins_at=begins,
                ends_at=clock.instant(one.end),
                together=one.together,
                signer_id=person_pk(one.signer),
                signed_from=clock.instant(one.signed_from) if one.signer else None,
                was_person_id=changed.person_id if changed else None,
                was_from=changed.begins_at if changed else None,
                why=say_stage(one.stage, waits, made.built.name) if waits else "",
            )
        )
    return rows


def _changed(is_: Was, was: Was | None, now: datetime) -> Was | None:
    """Return what the plan before said of a stage where people must be told that it differs.

    The person stands in it only where it is another one now.
    """
    if was is None or min(is_.begins_at, was.begins_at) > now + SHOWN_CHANGED:
        return None
    if was.person_id != is_.person_id:
        return was
    if abs(was.begins_at - is_.begins_at) > MOVED:
        return Was(None, was.begins_at)
    return None


def _tidy() -> None:
    """Drop the rows of old plans, and old plans."""
    numbers = list(Plan.objects.values_list("pk", flat=True)[: PLANS_KEPT + 1])
    for model in (PlanStage, PlanCase):
        if len(numbers) > ROWS_KEPT:
            model._default_manager.filter(plan__lte=numbers[ROWS_KEPT]).delete()
    if len(numbers) > PLANS_KEPT:
        Plan.objects.filter(pk__lte=numbers[PLANS_KEPT]).delete()
