"""What people decide about the plan: who does a stage, from when; how the planner weighs."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from cases.models import Bath, CaseStage, Lab, Person, PlanPin
from cases.selectors.hours import lab_calendar
from cases.services.access import lock_stage
from cases.services.people import LONGEST_OVERTIME
from cases.services.record import Recorder, Refusal, verb
from cases.services.stage import has_skill, own_work

PINNABLE = ("planned", "paused")
LATEST_PIN = timedelta(days=60)
"""Nobody can say from when so far ahead. Judgement."""
LONGEST_BUDGET = 600
MOST_WEIGHT = 20


def _person(person: int | None, stage: CaseStage) -> Person | None:
    if person is None:
        return None
    row = Person.objects.filter(pk=person, active=True).first()
    if row is None:
        raise Refusal("no-person", _("Choose somebody who works here."), field="person")
    if not has_skill(row, stage):
        raise Refusal(
            "no-skill",
            _("%(worker)s does not have the skill for %(stage)s.")
            % {"worker": row.name, "stage": _(stage.name)},
            field="person",
        )
    if not (row.is_technician or row.skills.exists()):
        raise Refusal(
            "no-person",
            _("%(worker)s does not work at a bench.") % {"worker": row.name},
            field="person",
        )
    done = own_work(stage.case, stage, row.pk)
    if done is not None:
        raise Refusal(
            "own-work",
            _(
                "%(stage)s wants a second pair of eyes: %(worker)s did “%(done)s”. Choose "
                "somebody else."
            )
            % {"stage": _(stage.name), "worker": row.name, "done": _(done.name)},
            field="person",
        )
    return row


def _begins(text: str, now: datetime) -> datetime | None:
    if not text:
        return None
    try:
        begins = datetime.fromisoformat(text)
    except ValueError:
        raise Refusal("bad-time", _("Enter a day and a time."), field="begins_at") from None
    if begins.tzinfo is None:
        begins = begins.replace(tzinfo=lab_calendar().zone)
    begins = begins.astimezone(UTC)
    if not now <= begins <= now + LATEST_PIN:
        raise Refusal("bad-time", _("Enter a time to come, within 60 days."), field="begins_at")
    return begins


@verb("plan.pin", may="assign")
def pin_stage(
    record: Recorder, *, stage: int, person: int | None = None, begins_at: str = ""
) -> dict[str, Any]:
    """Decide who does a stage, from when, or both, before the planner does.

    Parameters
    ----------
    begins_at
        ISO; the lab's time where no zone is said. Empty: the planner finds the time.

    Raises
    ------
    Refusal
        ``not-pinnable``, ``nothing-pinned``, ``no-person``, ``no-skill``, ``own-work``,
        ``bad-time``.
    """
    case, row = lock_stage(stage)
    if row.state not in PINNABLE or case.state != "open":
        raise Refusal(
            "not-pinnable",
            _("%(stage)s is not waiting any more; there is nothing to plan.")
            % {"stage": _(row.name)},
        )
    worker = _person(person, row)
    begins = _begins(begins_at.strip(), record.now)
    if worker is None and begins is None:
        raise Refusal("nothing-pinned", _("Choose a person, a time, or both."), field="person")
    record.event("plan.pinned", case=case, subject=row.key, to=person, begins_at=begins)
    _lift(record, row)
    pin = record.create(
        PlanPin, stage=row, person=worker, begins_at=begins, by=record.actor, at=record.now
    )
    return {"pin": pin.pk, "stage": row.pk}


@verb("plan.pin-load", may="assign")
def pin_load(record: Recorder, *, stages: list[int], bath: int, begins_at: str) -> dict[str, Any]:
    """Decide a load before the planner does: which pieces, in which bath, from when.

    Parameters
    ----------
    stages
        The cures of its pieces. Each other decision about them is lifted.
    begins_at
        ISO; the lab's time where no zone is said.

    Raises
    ------
    Refusal
        ``no-pieces``, ``not-pinnable``, ``no-bath``, ``too-many``, ``bad-time``.
    """
    if not stages:
        raise Refusal("no-pieces", _("Choose one flask at least."), field="stages")
    # The case first, then its rows, in the order of their keys: as everybody locks.
    wanted = sorted(set(stages))
    held = [lock_stage(pk) for pk in wanted]
    for case, row in held:
        if row.kind != "load" or row.state not in PINNABLE or case.state != "open":
            raise Refusal(
                "not-pinnable",
                _("%(number)s does not wait for a bath any more. Load the page again.")
                % {"number": case.number},
                field="stages",
            )
    into = Bath.objects.filter(pk=bath, active=True).first()
    if into is None:
        raise Refusal("no-bath", _("Choose a bath that is in use."), field="bath")
    if len(wanted) > into.capacity:
        raise Refusal(
            "too-many",
            ngettext(
                "%(bath)s takes %(n)s flask. Choose fewer.",
                "%(bath)s takes %(n)s flasks. Choose fewer.",
                into.capacity,
            )
            % {"bath": into.name, "n": into.capacity},
            field="stages",
        )
    begins = _begins(begins_at.strip(), record.now)
    if begins is None:
        raise Refusal("bad-time", _("Enter a day and a time."), field="begins_at")
    pins = []
    for case, row in held:
        record.event("plan.pinned", case=case, subject=row.key, bath=into.pk, begins_at=begins)
        _lift(record, row)
        pin = record.create(
            PlanPin, stage=row, begins_at=begins, bath=into, by=record.actor, at=record.now
        )
        pins.append(pin.pk)
    return {"pins": pins}


@verb("plan.unpin-load", may="assign")
def lift_load(record: Recorder, *, stages: list[int]) -> dict[str, Any]:
    """Leave the pieces of a load to the planner again.

    Raises
    ------
    Refusal
        ``not-pinned`` where nothing is decided about any of them.
    """
    found = 0
    for pk in sorted(set(stages)):
        case, row = lock_stage(pk)
        record.event("plan.unpinned", case=case, subject=row.key)
        found += _lift(record, row)
    if not found:
        raise Refusal("not-pinned", _("Nothing is decided about this load."))
    return {"lifted": found}


def _lift(record: Recorder, stage: CaseStage) -> int:
    found = 0
    for pin in PlanPin.objects.select_for_update().filter(stage=stage, lifted_at__isnull=True):
        record.change(pin, lifted_at=record.now, lifted_by=record.person)
        found += 1
    return found


@verb("plan.unpin", may="assign")
def lift_pin(record: Recorder, *, stage: int) -> dict[str, Any]:
    """Leave a stage to the planner again.

    Raises
    ------
    Refusal
        ``not-pinned``.
    """
    case, row = lock_stage(stage)
    record.event("plan.unpinned", case=case, subject=row.key)
    if not _lift(record, row):
        raise Refusal("not-pinned", _("Nothing is decided about this stage."))
    return {"stage": row.pk}


@verb("lab.plan-settings", may="settings")
def set_plan_settings(
    record: Recorder,
    *,
    plan_seconds: int,
    plan_overtime: bool,
    plan_overtime_minutes: int,
    rush_weight: float,
    remake_weight: float,
) -> dict[str, Any]:
    """Say how long the planner may think, whether it may plan overtime, and how it weighs.

    Raises
    ------
    Refusal
        ``no-lab``, ``bad-seconds``, ``bad-minutes``, ``bad-weight``.
    """
    lab = Lab.objects.select_for_update().first()
    if lab is None:
        raise Refusal("no-lab", _("Set the lab up first."))
    if not 0 <= plan_seconds <= LONGEST_BUDGET:
        raise Refusal("bad-seconds", _("Enter seconds between 0 and 600."), field="plan_seconds")
    if not 1 <= plan_overtime_minutes <= LONGEST_OVERTIME:
        raise Refusal(
            "bad-minutes", _("Enter minutes between 1 and 240."), field="plan_overtime_minutes"
        )
    for name, weight in (("rush_weight", rush_weight), ("remake_weight", remake_weight)):
        if not 1 <= weight <= MOST_WEIGHT:
            raise Refusal("bad-weight", _("Enter a number between 1 and 20."), field=name)
    record.event("lab.plan-settings")
    record.change(
        lab,
        plan_seconds=plan_seconds,
        plan_overtime=plan_overtime,
        plan_overtime_minutes=plan_overtime_minutes,
        rush_weight=rush_weight,
        remake_weight=remake_weight,
    )
    return {}
