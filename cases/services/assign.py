"""Give work to people, hand it over, take care of absences, correct minutes."""

from __future__ import annotations

from typing import Any

from django.utils.translation import gettext as _

from cases.models import CaseStage, Note, Person, TimeCorrection, WorkSpan
from cases.services.access import lock_case, lock_stage
from cases.services.progress import refresh
from cases.services.record import Recorder, Refusal, verb
from cases.services.stage import close_span, has_skill

GIVABLE = ("planned", "paused")


def _worker(person: int | None) -> Person | None:
    if person is None:
        return None
    row = Person.objects.filter(pk=person, active=True, is_technician=True).first()
    if row is None:
        raise Refusal("no-person", _("Choose a technician who works here."), field="person")
    return row


@verb("stage.assign", may="assign")
def assign_stage(
    record: Recorder, *, stage: int, version: int, person: int | None
) -> dict[str, Any]:
    """Give a stage to a person, or to nobody."""
    case, row = lock_stage(stage, version=version)
    worker = _worker(person)
    if row.state not in GIVABLE:
        raise Refusal(
            "not-givable",
            _("%(stage)s is %(state)s; it cannot be given away now.")
            % {"stage": _(row.name), "state": row.state},
        )
    if worker is not None and not has_skill(worker, row):
        raise Refusal(
            "no-skill",
            _("%(worker)s does not have the skill for %(stage)s.")
            % {"worker": worker.name, "stage": _(row.name)},
            field="person",
        )
    record.event("stage.assigned", case=case, subject=row.key, to=person)
    record.change(row, assignee=worker, version=row.version + 1)
    return {"stage": row.pk, "version": row.version}


@verb("stage.hand-over", may="work")
def hand_over(
    record: Recorder, *, stage: int, version: int, words: str, person: int | None = None
) -> dict[str, Any]:
    """Put a stage down for somebody else, with one line that says where it stands."""
    case, row = lock_stage(stage, version=version)
    if row.state not in {"running", "paused", "planned"}:
        raise Refusal(
            "not-givable",
            _("%(stage)s is %(state)s; there is nothing to hand over.")
            % {"stage": _(row.name), "state": row.state},
        )
    if not words.strip():
        raise Refusal("no-words", _("Say in one line where it stands."), field="words")
    worker = _worker(person)
    if worker is not None and not has_skill(worker, row):
        raise Refusal(
            "no-skill",
            _("%(worker)s does not have the skill for %(stage)s.")
            % {"worker": worker.name, "stage": _(row.name)},
            field="person",
        )
    record.event("stage.handed-over", case=case, subject=row.key, to=person)
    if row.state == "running":
        for run in row.runs.filter(ended_at__isnull=True):
            close_span(record, run)
        record.change(row, state="paused")
    record.change(row, assignee=worker, version=row.version + 1)
    record.create(
        Note,
        case=case,
        text=words.strip(),
        kind="hand-over",
        to_person=worker,
        by=record.person,
        at=record.now,
    )
    refresh(record, case)
    return {"stage": row.pk, "version": row.version}


@verb("person.away", may="assign")
def hand_on_work(record: Recorder, *, person: int, to: int | None = None) -> dict[str, Any]:
    """Hand on everything a person has on the list, in one action.

    Running stages are paused. ``to`` gives all of it to one person (what needs a skill that
    they lack goes to nobody); without it the work is free for anybody who has the skill.
    """
    target = _worker(to)
    found = CaseStage.objects.filter(
        assignee_id=person,
        state__in=["planned", "paused", "running"],
        case__state__in=["open", "packed"],
    )
    moved = 0
    for case_id in sorted(set(found.values_list("case_id", flat=True))):
        case = lock_case(case_id)
        record.event("work.handed-on", case=case, subject=f"from {person}", to=to)
        for row in found.filter(case=case).select_for_update():
            if row.state == "running":
                for run in row.runs.filter(ended_at__isnull=True):
                    close_span(record, run, ended_how="handed-on")
                record.change(row, state="paused")
            fit = target if target is not None and has_skill(target, row) else None
            record.change(row, assignee=fit, version=row.version + 1)
            moved += 1
        refresh(record, case)
    return {"moved": moved}


@verb("time.correct", may="work")
def correct_own_time(record: Recorder, *, span: int, minutes: float, reason: str) -> dict[str, Any]:
    """Correct the minutes of one's own span; both values stay."""
    return _correct(record, span, minutes, reason, own=True)


@verb("time.correct-any", may="correct-times")
def correct_any_time(record: Recorder, *, span: int, minutes: float, reason: str) -> dict[str, Any]:
    """Correct the minutes of anybody's span; both values stay."""
    return _correct(record, span, minutes, reason, own=False)


def _correct(
    record: Recorder, span: int, minutes: float, reason: str, *, own: bool
) -> dict[str, Any]:
    found = WorkSpan.objects.filter(pk=span).values_list("run__stage__case_id", flat=True).first()
    if found is None:
        raise Refusal("no-span", _("There is no such entry. Load the page again."))
    case = lock_case(found)
    row = WorkSpan.objects.select_for_update().select_related("run__stage").get(pk=span)
    if own and row.person_id != record.actor.pk:
        raise Refusal("not-yours", _("These are somebody else's minutes. Ask the manager."))
    if row.ended_at is None:
        raise Refusal("still-running", _("It still runs. Pause or finish it first."))
    if not 0 <= minutes <= 24 * 60:
        raise Refusal("bad-minutes", _("Enter minutes between 0 and 1440."), field="minutes")
    if not reason:
        raise Refusal("no-reason", _("Choose why the time is corrected."), field="reason")
    record.event("time.corrected", case=case, subject=row.run.stage.key, reason=reason)
    enter_minutes(record, row, minutes, reason)
    return {"span": row.pk, "minutes": minutes}


def enter_minutes(record: Recorder, row: WorkSpan, minutes: float, reason: str) -> None:
    """Store corrected minutes beside those that stood before, under the event that is open."""
    earlier = row.time_corrections.order_by("-pk").first()
    ended = row.ended_at or record.now
    measured = (ended - row.began_at).total_seconds() / 60
    record.create(
        TimeCorrection,
        span=row,
        minutes_before=earlier.minutes if earlier else measured,
        minutes=minutes,
        reason=reason,
        by=record.actor,
        at=record.now,
    )
    record.change(row, to_check=False)
