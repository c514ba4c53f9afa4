"""Start, pause, resume, finish and skip a stage."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django.utils.timezone import localtime
from django.utils.translation import gettext as _

from cases.domain.reasons import SKIP
from cases.domain.route import nearest_open
from cases.models import (
    Case,
    CaseStage,
    CheckPhoto,
    File,
    Person,
    PersonSkill,
    Skill,
    StageRun,
    WorkSpan,
)
from cases.selectors.rows import find, read
from cases.services import things
from cases.services.access import changed_words, lock_stage, refuse_held, refuse_packed
from cases.services.check import enter_all, in_the_way
from cases.services.cure_rest import rest_from
from cases.services.cure_shut import OPEN, refuse_shut
from cases.services.progress import ENDED, refresh
from cases.services.record import Recorder, Refusal, verb

NEVER_SKIPPED = frozenset({"survey", "pack", "cure", "deflask", "inspect", "send"})
"""Without these there is no piece, or nobody has looked at it. Judgement."""
SKIP_REASONS = frozenset(reason.key for reason in SKIP.reasons)
ONE_TAP = frozenset({"unattended", "external"})
"""Kinds without hands: finished by one entry, never started."""
DESK_SKILL = "desk"


def has_skill(person: Person, stage: CaseStage) -> bool:
    """Tell whether ``person`` has the skill that ``stage`` asks for.

    The desk's own stages are the daily work of desk and manager: no skill row is needed.
    """
    if stage.skill == DESK_SKILL and (person.is_desk or person.is_manager):
        return True
    if not stage.skill:
        return True
    skill = tuple(pk for (pk,) in read(Skill, ("id",), key=stage.skill))
    return bool(read(PersonSkill, ("id",), person_id=person.pk, skill_id=skill))


def _need_skill(record: Recorder, stage: CaseStage) -> None:
    if not has_skill(record.actor, stage):
        raise Refusal(
            "no-skill",
            _(
                "%(stage)s needs a skill that you do not have here. Hand it to somebody who "
                "has it, or ask the manager."
            )
            % {"stage": _(stage.name)},
        )


def _need_ready(record: Recorder, case: Case, stage: CaseStage) -> None:
    if stage.ready_at is None:
        # Also what is open behind a stage that was left standing: an agreement asked for late.
        rows = list(case.stages.defer("spec").order_by("position"))
        still_open = {one.key for one in rows if one.state not in {*ENDED, "dropped"}}
        edges = case.edges.values_list("before", "after")
        waits = nearest_open(edges, still_open, stage.key)
        names = [_(other.name) for other in rows if other.key in waits]
        raise Refusal(
            "not-ready",
            _("%(stage)s comes after: %(before)s. Finish that first.")
            % {"stage": _(stage.name), "before": ", ".join(names)},
        )
    if (stage.may_from or stage.ready_at) > record.now:
        raise Refusal(
            "waiting",
            _(
                "%(stage)s may begin at %(at)s, when the wait before it is over. Take another "
                "case until then."
            )
            % {
                "stage": _(stage.name),
                "at": f"{localtime(stage.may_from or stage.ready_at):%H:%M}",
            },
            until=stage.may_from,
        )


def own_work(case: Case, stage: CaseStage, person: int) -> CaseStage | None:
    """Return what a person did and this stage is a second pair of eyes on, if others can do it."""
    key = stage.spec.get("other_than", "")
    done = case.stages.filter(key=key).first() if key else None
    if done is None or done.worker_id != person:
        return None
    others = Person.objects.filter(active=True, is_technician=True, is_student=False)
    if stage.skill:
        others = others.filter(skills__skill__key=stage.skill)
    return done if others.exclude(pk=person).exists() else None


def _need_other_hands(record: Recorder, case: Case, stage: CaseStage) -> None:
    done = own_work(case, stage, record.actor.pk)
    if done is not None:
        raise Refusal(
            "own-work",
            _(
                "%(stage)s wants a second pair of eyes: you did “%(done)s” yourself. Hand it "
                "to somebody else."
            )
            % {"stage": _(stage.name), "done": _(done.name)},
        )


def _need_photograph(case: Case, stage: CaseStage, photo: int | None) -> None:
    """Ask for a photograph before a point of no return, unless one was just taken."""
    if not stage.spec.get("photo_before"):
        return
    if photo is not None:
        if not File.objects.filter(pk=photo, case=case).exists():
            raise Refusal(
                "no-file", _("The photograph did not arrive. Take it again."), field="photo"
            )
        return
    before = case.edges.filter(after=stage.key).values_list("before", flat=True)
    for earlier in case.stages.filter(key__in=list(before)):
        if CheckPhoto.objects.filter(item__stage=earlier, attempt=earlier.attempt).exists():
            return
    raise Refusal(
        "photograph-first",
        _("Photograph it first: %(why)s") % {"why": _(stage.spec["photo_before"])},
        field="photo",
    )


def _open_run(record: Recorder, stage: CaseStage) -> StageRun:
    return record.create(
        StageRun,
        stage=stage,
        attempt=stage.attempt,
        begun_at=record.now,
        begun_by=record.person,
    )


def open_span(record: Recorder, run: StageRun, *, since: datetime | None = None) -> None:
    """Open hands on a run, from when it happened unless ``since`` says otherwise."""
    record.create(WorkSpan, run=run, person=record.actor, began_at=since or record.happened_at)


def current_run(stage: CaseStage) -> StageRun:
    """Return the open run of a stage that is in hand."""
    [run] = find(StageRun, stage_id=stage.pk, ended_at=None)
    return run


def close_span(
    record: Recorder, run: StageRun, *, ended_how: str = "", at: datetime | None = None
) -> None:
    """End the open span of a run, if any; ``ended_how`` when not the hands themselves did it."""
    for span in find(WorkSpan, run_id=run.pk, ended_at=None):
        ended = max(at or record.happened_at, span.began_at)
        record.change(span, ended_at=ended, ended_how=ended_how, to_check=bool(ended_how))


@verb("stage.start", may="work")
def start_stage(
    record: Recorder,
    *,
    stage: int,
    version: int,
    things_used: dict[str, str] | None = None,
    photo: int | None = None,
) -> dict[str, Any]:
    """Begin a stage with the actor's hands.

    Parameters
    ----------
    stage, version
        Primary key and version of the stage as the form showed it.
    things_used
        Engraved numbers by kind (``{"flask": "7"}``) where the stage takes one.
    photo
        Primary key of the photograph before a point of no return.

    Raises
    ------
    Refusal
        With who or what stands in the way.
    """
    case, row = lock_stage(stage, version=version)
    return begin(record, case, row, things_used or {}, photo)


def begin(
    record: Recorder, case: Case, row: CaseStage, things_used: dict[str, str], photo: int | None
) -> dict[str, Any]:
    """Do what ``start_stage`` does on rows that are locked already."""
    if row.state != "planned" or row.kind in ONE_TAP:
        raise Refusal("not-startable", changed_words(case, row))
    _need_skill(record, row)
    refuse_held(case, row.key)
    _need_ready(record, case, row)
    refuse_shut(case, row, record.now)
    _need_other_hands(record, case, row)
    things.cast_free_at(case, row)
    things.cast_setting_until(case, row, record.now)
    _need_photograph(case, row, photo)
    record.event("stage.started", case=case, subject=row.key, attempt=row.attempt, photo=photo)
    things.take(record, case, row, things_used)
    run = _open_run(record, row)
    open_span(record, run)
    record.change(
        row,
        state="running",
        worker=record.actor,
        assignee=record.actor,
        started_at=record.now,
        version=row.version + 1,
    )
    refresh(record, case)
    return {"stage": row.pk, "version": row.version, "state": row.state}


@verb("stage.pause", may="work")
def pause_stage(record: Recorder, *, stage: int, version: int) -> dict[str, Any]:
    """Put a running stage down; its minutes stop."""
    case, row = lock_stage(stage, version=version)
    if row.state != "running":
        raise Refusal(
            "not-running",
            _("%(stage)s is not running, so it cannot be paused.") % {"stage": _(row.name)},
        )
    record.event("stage.paused", case=case, subject=row.key)
    close_span(record, current_run(row))
    record.change(row, state="paused", version=row.version + 1)
    refresh(record, case)
    return {"stage": row.pk, "version": row.version, "state": row.state}


@verb("stage.resume", may="work")
def resume_stage(record: Recorder, *, stage: int, version: int) -> dict[str, Any]:
    """Take a paused stage up again, by the same or another person."""
    case, row = lock_stage(stage, version=version)
    refuse_resume(record, case, row)
    record.event("stage.resumed", case=case, subject=row.key)
    in_hand_again(record, case, row)
    return {"stage": row.pk, "version": row.version, "state": row.state}


def refuse_resume(record: Recorder, case: Case, row: CaseStage) -> None:
    """Raise Refusal when the actor may not take the stage up again now."""
    if row.state != "paused":
        raise Refusal(
            "not-paused",
            _("%(stage)s is not paused, so it cannot be resumed.") % {"stage": _(row.name)},
        )
    _need_skill(record, row)
    refuse_held(case, row.key)
    things.cast_free_at(case, row)


def in_hand_again(
    record: Recorder, case: Case, row: CaseStage, *, since: datetime | None = None
) -> None:
    """Put a paused stage into the actor's hands, under the event that stands open."""
    open_span(record, current_run(row), since=since)
    record.change(
        row, state="running", worker=record.actor, assignee=record.actor, version=row.version + 1
    )
    refresh(record, case)


def _need_design(case: Case, stage: CaseStage) -> None:
    if stage.key != "survey":
        return
    if case.design is None or case.design.data.get("provisional"):
        raise Refusal(
            "no-design",
            _("Draw the design before the survey is passed: teeth, clasps, bar, block-out."),
        )
    if case.design.data.get("draft"):
        raise Refusal(
            "design-draft",
            _("The design is a draft. Finish drawing it before the survey is passed."),
        )


@verb("stage.finish", may="work")
def finish_stage(
    record: Recorder,
    *,
    stage: int,
    version: int,
    checks: list[dict[str, Any]] | None = None,
    things_used: dict[str, str] | None = None,
) -> dict[str, Any]:
    """Enter the checks given and, when none is open or failed, pass the stage on.

    Parameters
    ----------
    checks
        ``[{"item": pk, "yes": true | false | null, "values": {"edge": 4.1},
        "words": {"agent": "…"}}]``.
    things_used
        Engraved numbers by kind, for a stage of one tap that takes one (the clamp).

    Returns
    -------
    dict
        ``finished`` tells whether the stage was passed; when it was not, the entries are
        stored all the same and ``open`` and ``failed`` hold the check keys in the way.
    """
    case, row = lock_stage(stage, version=version)
    return end(record, case, row, checks or [], things_used or {})


def end(
    record: Recorder,
    case: Case,
    row: CaseStage,
    checks: list[dict[str, Any]],
    things_used: dict[str, str],
) -> dict[str, Any]:
    """Do what ``finish_stage`` does on rows that are locked already."""
    one_tap = row.kind in ONE_TAP and row.state == "planned"
    if row.state != "running" and not one_tap:
        raise Refusal(
            "not-running",
            _("%(stage)s is not running. Start or resume it first.") % {"stage": _(row.name)},
        )
    if not one_tap:
        _need_skill(record, row)
    refuse_held(case, row.key)
    if one_tap:
        _need_ready(record, case, row)
    if one_tap or row.key == OPEN:
        refuse_shut(case, row, record.now)
    enter_all(record, case, row, checks)
    missing, failed = in_the_way(row)
    answer: dict[str, Any] = {"stage": row.pk, "open": missing, "failed": failed}
    if missing or failed:
        return {**answer, "finished": False, "version": row.version, "state": row.state}
    _need_design(case, row)
    state = _state_after(record, case, row)
    record.event("stage.finished", case=case, subject=row.key, attempt=row.attempt, state=state)
    if one_tap:
        things.take(record, case, row, things_used)
        run = _open_run(record, row)
        record.change(row, started_at=record.now, worker=record.person)
    else:
        run = current_run(row)
        close_span(record, run)
    record.change(run, ended_at=record.now, ended_by=record.person, outcome="done")
    _close(record, case, row, run, state)
    return {**answer, "finished": True, "version": row.version, "state": row.state}


def _state_after(record: Recorder, case: Case, row: CaseStage) -> str:
    """Return ``done``, ``away``, or ``countersign`` before a point of no return."""
    if row.spec.get("at_practice"):
        return "away"
    if _students_work(record, row) and _before_no_return(case, row):
        return "countersign"
    return "done"


def _students_work(record: Recorder, row: CaseStage) -> bool:
    """Tell whether a student had hands on this attempt, whoever says that it is finished."""
    if record.person is not None and record.person.is_student:
        return True
    runs = tuple(run for (run,) in read(StageRun, ("id",), stage_id=row.pk, attempt=row.attempt))
    people = {person for (person,) in read(WorkSpan, ("person_id",), run_id=runs)}
    return bool(read(Person, ("id",), id=tuple(people), is_student=True))


def _before_no_return(case: Case, row: CaseStage) -> bool:
    """Tell whether the next stage is a point of no return."""
    after = case.edges.filter(before=row.key).values_list("after", flat=True)
    following = case.stages.filter(key__in=list(after))
    return any(later.spec.get("photo_before") for later in following)


def _close(record: Recorder, case: Case, row: CaseStage, run: StageRun, state: str) -> None:
    record.change(
        row,
        state=state,
        ended_at=record.now if state == "done" else None,
        version=row.version + 1,
    )
    if state == "countersign":
        record.create(
            row.countersigns.model, stage=row, run=run, asked_by=record.actor, asked_at=record.now
        )
    if state == "done":
        things.release(record, case, row.key)
        things.casts_from(record, case, row)
        rest_from(record, case, row)
    refresh(record, case)


@verb("stage.came-back", may="see-cases")
def stage_came_back(record: Recorder, *, stage: int, version: int) -> dict[str, Any]:
    """Note that a piece which was at the practice is here again."""
    case, row = lock_stage(stage, version=version)
    if row.state != "away":
        raise Refusal("not-away", _("%(stage)s is not at the practice.") % {"stage": _(row.name)})
    record.event("stage.came-back", case=case, subject=row.key)
    record.change(row, state="done", ended_at=record.now, version=row.version + 1)
    things.release(record, case, row.key)
    refresh(record, case)
    return {"stage": row.pk, "version": row.version, "state": row.state}


def _need_skippable(record: Recorder, case: Case, row: CaseStage, reason: str) -> None:
    refuse_packed(case)
    if row.key in NEVER_SKIPPED:
        raise Refusal("not-skippable", _("%(stage)s is never skipped.") % {"stage": _(row.name)})
    if row.key == "disinfect" and reason != "done-by-practice":
        raise Refusal(
            "not-skippable",
            _("It is disinfected here, unless the practice did it: then say so as the reason."),
            field="reason",
        )
    if record.actor.is_student and _before_no_return(case, row):
        raise Refusal(
            "student",
            _("%(stage)s stands before a point of no return. Ask a colleague to skip it.")
            % {"stage": _(row.name)},
        )


@verb("stage.skip", may="skip")
def skip_stage(
    record: Recorder, *, stage: int, version: int, reason: str, words: str = ""
) -> dict[str, Any]:
    """Leave a stage out, with a reason that stands on the case."""
    case, row = lock_stage(stage, version=version)
    if row.state != "planned":
        raise Refusal(
            "not-skippable",
            _("%(stage)s has begun; it cannot be skipped any more.") % {"stage": _(row.name)},
        )
    if not reason:
        raise Refusal("no-reason", _("Choose why this stage is skipped."), field="reason")
    if reason not in SKIP_REASONS:
        raise Refusal("no-reason", _("Choose one of the reasons."), field="reason")
    _need_skippable(record, case, row, reason)
    record.event("stage.skipped", case=case, subject=row.key, reason=reason)
    record.change(
        row,
        state="skipped",
        ended_at=record.now,
        words=(words or reason)[:200],
        version=row.version + 1,
    )
    things.release(record, case, row.key)
    refresh(record, case)
    return {"stage": row.pk, "version": row.version, "state": row.state}
