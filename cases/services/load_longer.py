"""A load held longer than its program: its end, its timers and what waits for it move together.

Locks as in ``services.load``.
"""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

from django.utils.translation import gettext as _

from cases.domain.cure.longer import end_minute, stage_at, why_not_longer, wrong_minutes
from cases.domain.cure.program import Program
from cases.domain.cure.timing import steps
from cases.models import Alert, BathRecord, Load, LoadExtension, PowerCut, Timer
from cases.selectors.loads import as_run
from cases.services.access import lock_case
from cases.services.cure_shut import OPEN
from cases.services.entered import instant
from cases.services.load import CURE, lock_load, refuse_student
from cases.services.load_run import first_of, held_from, set_timers
from cases.services.progress import refresh
from cases.services.record import Recorder, Refusal, verb
from cases.services.when import when

SAME = timedelta(seconds=1)
FURTHEST = timedelta(hours=12)
"""So far from now, before or after, a bath may be said to be hot again. Judgement."""


def hot_from(record: Recorder, text: str, field: str) -> datetime:
    """Return from when on a bath is at its temperature again; now where nothing is said.

    Raises
    ------
    Refusal
        ``no-time``, or ``bad-time`` for one that is more than ``FURTHEST`` from now.
    """
    if not text.strip():
        return record.now
    found = instant(text, field)
    if abs(found - record.now) > FURTHEST:
        raise Refusal("bad-time", _("That is more than 12 hours from now."), field=field)
    return found


def refuse_out(load: Load) -> None:
    """Raise Refusal when a load is not in its bath, or its heating has not begun."""
    if load.state != "running" or load.ends_at is None or load.starts_at is None:
        raise Refusal(
            "not-running",
            _("Load %(number)d is not in its bath: nothing can be held longer there.")
            % {"number": load.number},
        )


def refuse_longer(load: Load, program: Program, stage: int, field: str = "") -> None:
    """Raise Refusal when the maker does not let a stage be held longer, or it is a boil."""
    resumable = load.program.resin.resumable
    why = why_not_longer(program.stages[stage], stage + 1, resumable=resumable)
    if why:
        raise Refusal("no-extension", why, field=field)


def checked_minutes(minutes: float, field: str = "minutes") -> float:
    """Return minutes that somebody entered.

    Raises
    ------
    Refusal
        ``bad-minutes`` for none, or an absurd number of them.
    """
    wrong = wrong_minutes(minutes)
    if wrong:
        raise Refusal("bad-minutes", wrong, field=field)
    return minutes


@verb("load.hold-longer", may="countersign")
def hold_longer(
    record: Recorder, *, load: int, version: int, minutes: float, words: str
) -> dict[str, Any]:
    """Have the present stage of a load in its bath held longer than the program says.

    Parameters
    ----------
    minutes
        Added to the end of the stage; to now where the program is over and the flasks still in.

    Raises
    ------
    Refusal
        ``not-running``, ``not-begun``, ``no-extension`` (the maker's instructions, or a boil),
        ``bad-minutes``, ``no-reason``, ``may-not-decide``, ``load-changed``.
    """
    row = lock_load(load, version)
    refuse_student(record)
    refuse_out(row)
    program = as_run(row)
    begins, ends = _heats(row)
    if record.now < begins:
        raise Refusal(
            "not-begun",
            _("The heating has not begun, so no stage runs that could be held longer."),
        )
    stage = stage_at(program, (record.now - begins).total_seconds() / 60)
    refuse_longer(row, program, stage)
    checked_minutes(minutes)
    if not words.strip():
        raise Refusal("no-reason", _("Say why, in a few words."), field="words")
    until = begins + timedelta(minutes=end_minute(program, stage))
    late = max(record.now - ends, timedelta())
    move_end(record, row, stage, until + late + timedelta(minutes=minutes), "longer", words)
    return {"load": row.number, "version": row.version}


def _heats(load: Load) -> tuple[datetime, datetime]:
    if load.starts_at is None or load.ends_at is None:
        raise LookupError(f"{load} was never put in.")
    return load.starts_at, load.ends_at


def move_end(
    record: Recorder,
    load: Load,
    stage: int,
    until: datetime,
    how: str,
    words: str,
    *,
    because: BathRecord | PowerCut | None = None,
    field: str = "",
) -> LoadExtension:
    """Let a stage of a locked load end at ``until``; what comes after it moves by as much.

    Timers of the load are set anew, alarms that are no longer so fall silent, and in each case
    the cooling waits until the new end. A flask that somebody had taken out before its time
    stays as it was conceded.

    Parameters
    ----------
    stage
        Its number, from 0.
    because
        The record or the power cut that was decided on.
    field
        Beside which entry it is refused.

    Raises
    ------
    Refusal
        ``not-longer``: the stage runs as long anyway.
    """
    program = as_run(load)
    begins, ends = _heats(load)
    planned = begins + timedelta(minutes=end_minute(program, stage))
    more = until - planned
    if more < SAME:
        raise Refusal(
            "not-longer",
            _(
                "Stage %(number)d of load %(load)d runs until %(at)s anyway, which is not earlier: "
                "nothing is added."
            )
            % {
                "number": stage + 1,
                "load": load.number,
                "at": when(planned),
            },
            field=field,
        )
    minutes = more.total_seconds() / 60
    record.event(
        "load.held-longer", subject=f"load {load.number}", minutes=minutes, stage=stage, how=how
    )
    row = record.create(
        LoadExtension,
        load=load,
        stage=stage,
        minutes=minutes,
        how=how,
        record=because if isinstance(because, BathRecord) else None,
        cut=because if isinstance(because, PowerCut) else None,
        words=words.strip()[:400],
        by=record.actor,
        at=record.now,
    )
    cooling = timedelta(minutes=program.cooling_minutes)
    record.change(
        load,
        ends_at=ends + more,
        open_from=ends + more + cooling,
        more_minutes=load.more_minutes + minutes,
        version=load.version + 1,
    )
    still_timers(record, load)
    set_timers(record, load, as_run(load))
    for case_id in load.flasks.filter(left_at=None).order_by("case_id").values_list("case_id"):
        _cool_later(record, case_id[0], load, ends, ends + more)
    return row


def still_timers(record: Recorder, load: Load, *, all_of_them: bool = False) -> None:
    """Cancel the timers of a load that wait, and still what rings and is no longer so.

    Parameters
    ----------
    all_of_them
        Still everything that rings for the load, whether or not its step is still to come.
    """
    pending = list(Timer.objects.select_for_update().filter(load=load, state="pending"))
    for timer in pending:
        timer.state = "cancelled"
    record.change_many(pending, ["state"])
    coming = set()
    if load.starts_at is not None:
        coming = {
            (step.kind, step.stage)
            for step in steps(as_run(load))
            if load.starts_at + timedelta(minutes=step.minute) > record.now
        }
    rings = Alert.objects.filter(timer__load=load, acknowledged_at=None).select_related("timer")
    for alert in rings.select_for_update(of=("self",)).order_by("pk"):
        if all_of_them or (alert.timer.kind, alert.timer.step) in coming:
            record.change(alert, acknowledged_at=record.now)


def _cool_later(
    record: Recorder, case_id: int, load: Load, before: datetime, ends: datetime
) -> None:
    """Let the cooling of one case, or its opening where it has none, wait for the new end."""
    case = lock_case(case_id)
    after = first_of(case)
    cooling = timedelta(minutes=as_run(load).cooling_minutes if after == OPEN else 0)
    held = held_from(case, after, before + cooling)
    if held is None:
        return
    cured_at, edges = held
    waits = (ends + cooling - cured_at).total_seconds() / 60
    record.event("load.case-held-longer", case=case, subject=CURE, load=load.number, until=ends)
    for edge in edges:
        record.change(edge, min_wait=waits, least_wait=waits)
    refresh(record, case)
