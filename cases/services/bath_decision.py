"""What is done about the record of a bath: decided once, with the reason; more time moves the load.

Locks: the load first, then its record, then its cases by primary key.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta
from math import ceil
from typing import Any, Final

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from cases.domain.cure.longer import stage_at
from cases.models import BathRecord, Case, Load
from cases.selectors.concerned import cured_in
from cases.selectors.loads import as_run
from cases.services.cure_again import BACK_TO, back, empty, on_each_case, tell_late
from cases.services.load import lock_load, refuse_student
from cases.services.load_longer import (
    checked_minutes,
    hot_from,
    move_end,
    refuse_longer,
    refuse_out,
)
from cases.services.record import Recorder, Refusal, verb
from cases.services.when import when

DECISIONS: Final[dict[str, str]] = {
    "accept": gettext_noop("Accept the cure"),
    "extend": gettext_noop("Extend it now, as the maker allows"),
    "repeat": gettext_noop("Repeat the cure"),
    "inspect": gettext_noop("Go on, and inspect closely at deflasking"),
    "scrap": gettext_noop("Scrap the resin and pack anew"),
}
REASON: Final = "cure-record"
KINDS: Final = ("load.record-decided", "load.record-came-late")
STALE = timedelta(minutes=30)
"""A record that ended so long ago does not say what the bath does now. Judgement."""


def may_extend(row: BathRecord) -> bool:
    """Tell whether the verdict offered to make a stage up by more time, and the load is in yet."""
    return short_stage(row) is not None and row.load.state == "running"


def short_stage(row: BathRecord) -> int | None:
    """Return the number, from 0, of the stage that the verdict offered to make up."""
    for n, stage in enumerate(row.verdict["stages"]):
        if stage["extend_minutes"]:
            return n
    return None


def minutes_offered(row: BathRecord) -> int | None:
    """Return the whole minutes that the verdict offered, or None."""
    n = short_stage(row)
    return None if n is None else ceil(row.verdict["stages"][n]["extend_minutes"])


@verb("bath-record.decide", may="countersign")
def decide_bath_record(
    record: Recorder,
    *,
    row: int,
    decision: str,
    words: str = "",
    minutes: float | None = None,
    hot_at: str = "",
    goes_back: list[int] | None = None,
    tell: bool = False,
) -> dict[str, Any]:
    """Set what is done about a record, once, with the reason.

    To extend moves the load's end. To repeat lets the cases that are still in their flasks go
    back to the cure, to scrap back to the packing; a load that is in its bath yet ends with it.
    What is out of its flask stays where it is, and its history says so.

    Parameters
    ----------
    minutes
        To extend: how long the short stage is still held; None for what the verdict offered.
    hot_at
        To extend: from when on (ISO, the lab's time where no zone is said); empty for now.
    goes_back
        To repeat or scrap: the cases that the page said would go back; None for whichever do.
    tell
        To repeat or scrap: write to the practices whose cases cannot leave as promised any more.

    Raises
    ------
    Refusal
        ``no-record``, ``may-not-decide`` for a student, ``decided``, ``no-decision``,
        ``no-extension``, ``no-reason``; ``moved-on`` where other cases would go back than the page
        said; to extend also ``not-running``, ``read-again``,
        ``bad-minutes``, ``bad-time``, ``not-longer``. Nothing is moved then.
    """
    number = BathRecord.objects.filter(pk=row).values_list("load__number", flat=True).first()
    if number is None:
        raise Refusal("no-record", _("There is no such record. Look at the load again."))
    load = lock_load(number)
    found = BathRecord.objects.select_for_update().get(pk=row)
    refuse_student(record)
    if found.decision:
        raise Refusal(
            "decided",
            _("This was decided already by %(who)s. Read the record anew to decide otherwise.")
            % {"who": found.decided_by.name if found.decided_by else ""},
        )
    if decision not in DECISIONS:
        raise Refusal("no-decision", _("Choose what is to be done."), field="decision")
    plain = decision == "accept" and found.verdict["verdict"] == "complete"
    stage, until = 0, record.now
    if decision == "extend":
        stage, until = _extension(record, load, found, minutes, hot_at)
    if not plain and not words.strip():
        raise Refusal("no-reason", _("Say why, in a few words."), field="words")
    record.event("bath-record.decided", subject=f"load {number}", decision=decision)
    record.change(
        found,
        decision=decision,
        decision_words=words.strip()[:400],
        decided_by=record.actor,
        decided_at=record.now,
    )
    if decision == "extend":
        move_end(record, load, stage, until, "record", words, because=found, field="minutes")
    done: dict[str, Any] = {"record": found.pk, "load": number, "back": [], "told": []}
    if plain:
        return done
    reason = found.decision_words
    cases = on_each_case(
        record, cured_in(load), KINDS, reason, load=number, decision=decision, bath_record=found.pk
    )
    if decision not in BACK_TO:
        return done
    _refuse_others(cases.shut, goes_back)
    if load.state == "running":
        empty(record, load)
    for case in cases.shut:
        back(record, case, BACK_TO[decision], REASON, reason)
    text = _("The work was delayed: a part of it is done again. A new date follows.")
    told = tell_late(record, cases.shut, text) if tell else []
    return {**done, "back": [case.number for case in cases.shut], "told": told}


def _refuse_others(cases: Sequence[Case], said: list[int] | None) -> None:
    """Raise Refusal where other cases would go back than were said before."""
    if said is not None and set(said) != {case.pk for case in cases}:
        raise Refusal(
            "moved-on",
            _("Some of these cases have moved on meanwhile. See below which go back now."),
            field="decision",
        )


def _extension(
    record: Recorder, load: Load, row: BathRecord, minutes: float | None, hot_at: str
) -> tuple[int, datetime]:
    """Return which stage is held longer, and until when."""
    stage = short_stage(row)
    if stage is None:
        raise Refusal(
            "no-extension",
            _("No extension is offered for this record. Choose something else."),
            field="decision",
        )
    refuse_out(load)
    refuse_longer(load, as_run(load), stage, "decision")
    _refuse_old(record, load, row, stage)
    offered = row.verdict["stages"][stage]["extend_minutes"]
    wanted = checked_minutes(offered if minutes is None else minutes)
    return stage, hot_from(record, hot_at, "hot_at") + timedelta(minutes=wanted)


def _refuse_old(record: Recorder, load: Load, row: BathRecord, stage: int) -> None:
    """Raise Refusal for a record that ended long before the bath went on to its next stage."""
    ends = datetime.fromisoformat(row.started) + timedelta(seconds=row.points[-1][0])
    begins = load.starts_at or record.now
    here = stage_at(as_run(load), (record.now - begins).total_seconds() / 60)
    if here > stage and record.now - ends > STALE:
        raise Refusal(
            "read-again",
            _(
                "This record ends at %(at)s, and by its program the bath has gone on to stage "
                "%(number)d since. Read the record up to now first."
            )
            % {"at": when(ends), "number": here + 1},
            field="decision",
        )
