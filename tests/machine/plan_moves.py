"""The moves of the plan: who does a stage, from when; how the planner weighs."""

from __future__ import annotations

from datetime import timedelta

from cases.models import Bath, CaseStage, PlanPin
from cases.services import plan
from tests.machine.driver import Driver
from tests.machine.registry import move


@move(2)
def pin(m: Driver) -> None:
    """Decide who does a stage, when, or neither, which is nothing; or think better of it, twice."""
    pinned = m.one(list(PlanPin.objects.order_by("pk")))
    if pinned is not None and m.pick.random() < 0.4:
        m.send(plan.lift_pin, m.who("pavo", "mara"), stage=pinned.stage_id)
        return
    row = m.stage("planned", "paused")
    if row is None:
        return
    who = m.pick.choice(["mara", "oren", "teo", "noor", ""])
    hours = m.pick.choice([None, 1, 20, 70, -1])
    done = m.send(
        plan.pin_stage,
        m.who("pavo"),
        stage=row.pk,
        person=m.shop.people[who].pk if who else None,
        begins_at="" if hours is None else (m.now + timedelta(hours=hours)).isoformat(),
    )
    if done and m.pick.random() < 0.4:
        for _ in range(2):
            m.send(plan.lift_pin, "pavo", stage=row.pk)


@move(3)
def pin_load(m: Driver) -> None:
    """Decide a load of what waits for a bath, or of what does not; or think better of it."""
    waiting = list(CaseStage.objects.filter(kind="load", state="planned").order_by("pk")[:6])
    baths = list(Bath.objects.order_by("pk"))
    if not waiting or not baths:
        return
    stages = [row.pk for row in waiting[: m.pick.choice([0, 1, 2, 6])]]
    hours = m.pick.choice([1, 24, 70, -1])
    done = m.send(
        plan.pin_load,
        m.who("pavo", "mara"),
        stages=stages,
        bath=m.pick.choice([0, *(bath.pk for bath in baths)]),
        begins_at=(m.now + timedelta(hours=hours)).isoformat(),
    )
    if done:
        for _ in range(2):
            m.send(plan.lift_load, "pavo", stages=stages)


@move(1)
def settings(m: Driver) -> None:
    """Say how the planner weighs; now and then a rush that counts less than nothing."""
    m.send(
        plan.set_plan_settings,
        m.who("pavo"),
        plan_seconds=m.pick.choice([0, 20, 900]),
        plan_overtime=m.pick.random() < 0.5,
        plan_overtime_minutes=m.pick.choice([60, 30, 0]),
        rush_weight=m.pick.choice([1.0, 4.0, 0.0]),
        remake_weight=2.0,
    )
