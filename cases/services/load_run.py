"""A load in the bath: put in, called for in time, taken out; a flask opened before its time.

Locks as in ``services.load``.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import Any

from django.utils.translation import gettext as _

from cases.domain.cure.program import Program
from cases.domain.cure.settings import usual_filling
from cases.domain.cure.timing import LONGEST_DELAY, steps
from cases.domain.route import reachable
from cases.models import Alert, Bath, Case, CaseEdge, CaseStage, Load, Timer
from cases.selectors.cure_limits import cure_limits
from cases.selectors.cure_settings import program_here
from cases.selectors.filling import filling_of
from cases.selectors.loads import rests_until
from cases.services.access import holds_over, lock_case, lock_stage
from cases.services.cure_shut import COOL, OPEN, SAME, why_shut
from cases.services.entered import instant
from cases.services.load import (
    CURE,
    lock_load,
    refuse_changed,
    refuse_gathered,
    refuse_student,
    refuse_too_hot,
)
from cases.services.progress import edges_of, refresh
from cases.services.record import Recorder, Refusal, verb
from cases.services.stage import begin, end
from cases.services.when import when

RUNG = frozenset({"heat", "raise", "boil", "take-out"})


def _starts(record: Recorder, starts_at: str) -> datetime:
    if not starts_at.strip():
        return record.now
    found = instant(starts_at, "starts_at")
    if not record.now - timedelta(minutes=5) <= found <= record.now + LONGEST_DELAY:
        raise Refusal(
            "bad-time", _("The heating starts now or within 24 hours."), field="starts_at"
        )
    return max(found, record.now)


@verb("load.start", may="work")
def start_load(
    record: Recorder,
    *,
    load: int,
    version: int,
    starts_at: str = "",
    words: str = "",
    rest_words: str = "",
) -> dict[str, Any]:
    """Note that the flasks are in the bath and the program runs, or will by itself.

    Parameters
    ----------
    starts_at
        When the heating begins (ISO, the lab's time where no zone is said); empty for now.
    words
        Why it goes in although the estimate says *high*, could not be made, or leaves out a flask
        that nobody measured.
    rest_words
        Why flasks go in that have not rested as long as the program asks, and who decided.

    Raises
    ------
    Refusal
        ``bath-in-use``; ``no-bath``, ``too-hot`` and ``bath-full`` for a bath that was changed
        meanwhile; ``ask-first``, ``say-why``, ``not-rested``, ``may-not-decide`` for a student
        who gives a reason for a short rest, what `refuse_changed` says of a flask, or what a
        single start would refuse, with the case named; nothing is started then.
    """
    row = lock_load(load, version)
    refuse_gathered(row)
    placed = row.flasks.filter(left_at=None).select_related("case", "stage")
    flasks = list(placed.order_by("case_id", "pk"))
    if not flasks:
        raise Refusal("empty", _("Add the flasks first."), field="label")
    # Two loads of one bath that start at once: the second waits here, and then sees the first.
    bath = Bath.objects.select_for_update().get(pk=row.bath_id)
    busy = Load.objects.filter(bath=row.bath_id, state="running").first()
    if busy is not None:
        raise Refusal(
            "bath-in-use",
            _("%(bath)s is taken by load %(number)d. Take that out first, or use another bath.")
            % {"bath": row.bath.name, "number": busy.number},
        )
    program = program_here(row.program)[0]
    _may_heat(bath, program, len(flasks))
    _asked(row, words)
    begins = _starts(record, starts_at)
    ends = begins + timedelta(minutes=program.bath_minutes)
    locked = [lock_stage(flask.stage_id) for flask in flasks]
    refuse_changed(row, flasks)
    _asked_of_this(row, program, [flask.case_id for flask in flasks])
    _rested(record, locked, begins, rest_words)
    for case, stage in locked:
        _into_bath(record, case, stage, ends, program)
    record.event("load.started", subject=f"load {row.number}", risk=row.sound["risk"])
    record.change(
        row,
        state="running",
        placed_at=record.now,
        placed_by=record.person,
        starts_at=begins,
        ends_at=ends,
        open_from=ends + timedelta(minutes=program.cooling_minutes),
        words=words.strip()[:400],
        version=row.version + 1,
    )
    set_timers(record, row, program)
    return {"load": row.number, "version": row.version}


def _may_heat(bath: Bath, program: Program, flasks: int) -> None:
    """Refuse a bath that went out of use, or got a limit, while its load was gathered."""
    if not bath.active:
        raise Refusal(
            "no-bath",
            _("%(bath)s is out of use. Give this load up and make one for another bath.")
            % {"bath": bath.name},
        )
    refuse_too_hot(bath, program)
    if flasks > bath.capacity:
        raise Refusal(
            "bath-full",
            _("%(bath)s takes %(most)d by now, and %(n)d are in this load. Take flasks out of it.")
            % {"bath": bath.name, "most": bath.capacity, "n": flasks},
        )


def _asked_of_this(load: Load, program: Program, cases: list[int]) -> None:
    """Refuse a load that the estimate was not made for: another mix, or water that boils elsewhere.

    That the lab changed its limits since is told on the page and refuses nothing.
    """
    kept = load.sound.get("filling")
    if not kept:
        return
    filling, _ratio_from = filling_of(load, cases, usual=usual_filling(cure_limits()))
    now = (filling.powder_liquid_g_ml, filling.bpo_percent)
    points = [list(point) for point in program.points()]
    if now != (kept["powder_liquid_g_ml"], kept["bpo_percent"]) or points != load.sound["program"]:
        raise Refusal(
            "ask-first",
            _(
                "The mix, the resin's peroxide or the altitude of the laboratory was changed since "
                "the program was looked at for this load. Let it be looked at again."
            ),
        )


def _asked(load: Load, words: str) -> None:
    if not load.sound:
        raise Refusal("ask-first", _("Let the program be looked at for this load first."))
    if words.strip():
        return
    if load.sound["risk"] in {"high", "none"}:
        raise Refusal(
            "say-why",
            _("The estimate warns, or could not be made. Say why it goes in all the same."),
            field="words",
        )
    # The estimate is of the thickest that was measured; another may be thicker.
    if load.sound["unknown"]:
        raise Refusal(
            "say-why",
            _("Nobody measured each flask of this load. Say why it goes in all the same."),
            field="words",
        )


def _rested(
    record: Recorder, locked: Sequence[tuple[Case, CaseStage]], begins: datetime, words: str
) -> None:
    """Refuse flasks that have not rested long enough by when their heat begins, or concede it.

    In a bath that is cold until then a flask goes on resting. That one rested longer than it should
    is noted: nothing can be mended there, and leaving it out would make it later still.
    """
    rests = {stage.pk: rests_until(stage, record.now) for _case, stage in locked}
    short = [one for one in locked if (rests[one[1].pk] or begins) > begins]
    if short and not words.strip():
        told = ", ".join(
            _("%(number)s from %(at)s")
            % {"number": case.number, "at": when(rests[stage.pk] or begins)}
            for case, stage in short
        )
        raise Refusal(
            "not-rested",
            _(
                "Not every flask has rested under its clamp as long as it should before this "
                "program. Its heat may begin: %(told)s. Wait, start later, or say why it goes in "
                "earlier."
            )
            % {"told": told},
            field="rest_words",
        )
    if short:
        refuse_student(record)
    for case, stage in locked:
        if stage.latest_at is not None and stage.latest_at < begins:
            record.event("load.rested-long", case=case, subject=CURE)
        if (case, stage) in short:
            _concede(record, case, stage, words)
        elif rests[stage.pk] is not None:
            record.event("load.rests-in-bath", case=case, subject=CURE)
            _cut_waits(record, case, stage)


def _into_bath(
    record: Recorder, case: Case, stage: CaseStage, ends: datetime, program: Program
) -> None:
    """Pass the stage *cure* of one case; what follows waits for the program and the cooling."""
    try:
        if stage.state == "planned":
            begin(record, case, stage, {}, None)
        else:
            record.event("load.case-placed", case=case, subject=CURE)
        _waits(record, case, ends - record.now, program)
        answer = end(record, case, stage, [], {})
    except Refusal as refusal:
        sentence = refusal.sentence
        if case.number not in sentence:
            sentence = f"{case.number}: {sentence}"
        raise Refusal(
            refusal.code, _("%(sentence)s Nothing was stored.") % {"sentence": sentence}
        ) from refusal
    if not answer["finished"]:
        raise Refusal(
            "checks-open",
            _("%(number)s: a check of the cure is open. Answer it on its page first.")
            % {"number": case.number},
        )


def _waits(record: Recorder, case: Case, bath: timedelta, program: Program) -> None:
    """Let the cooling wait for the program and the opening for the cooling.

    A case without a stage *cool* waits for both before its flask is opened.
    """
    minutes = bath.total_seconds() / 60
    if first_of(case) == COOL:
        _wait(record, case, CURE, COOL, minutes)
        if program.cooling_minutes:
            _wait(record, case, COOL, OPEN, program.cooling_minutes)
    else:
        _wait(record, case, CURE, OPEN, minutes + program.cooling_minutes)


def first_of(case: Case) -> str:
    """Return the stage that comes after the bath: the opening where the route has no cooling."""
    cools = case.stages.filter(key=COOL).exclude(state__in=["dropped", "skipped"])
    return COOL if cools.exists() else OPEN


def held_from(case: Case, after: str, until: datetime) -> tuple[datetime, list[CaseEdge]] | None:
    """Return when the cure was noted and the edges by which a stage waits until then or longer.

    None where no edge does: one that ends earlier was conceded by a person, and stays so.
    """
    done = case.stages.filter(key=CURE, state="done").first()
    if done is None or done.ended_at is None:
        return None
    if case.state != "open" or not case.stages.filter(key=after, state="planned").exists():
        return None
    known = CaseEdge.objects.select_for_update().filter(case=case, before=CURE, after=after)
    edges = [
        edge for edge in known if done.ended_at + timedelta(minutes=edge.min_wait) >= until - SAME
    ]
    return (done.ended_at, edges) if edges else None


def _wait(record: Recorder, case: Case, before: str, after: str, minutes: float) -> None:
    edges = list(CaseEdge.objects.filter(case=case, before=before, after=after))
    for edge in edges:
        record.change(edge, min_wait=minutes, least_wait=minutes)
    # The lab may have put a stage of its own between them: the wait is counted beside it.
    if not edges and after in reachable(edges_of(case), before):
        record.create(
            CaseEdge, case=case, before=before, after=after, min_wait=minutes, least_wait=minutes
        )


def set_timers(record: Recorder, load: Load, program: Program) -> None:
    """Create the timers of a load in its bath that are still to come.

    Parameters
    ----------
    program
        As the load runs it, with what was added to its stages.
    """
    if load.starts_at is None:
        return
    wanted = []
    for step in steps(program):
        due = load.starts_at + timedelta(minutes=step.minute)
        by_itself = load.bath.starts_itself and step.kind in {"heat", "raise", "boil"}
        # That a flask may be opened is told case by case, by the wait of its own stage.
        if due > record.now and not by_itself and step.kind in RUNG:
            wanted.append(Timer(load=load, step=step.stage, kind=step.kind, due_at=due))
    record.create_many(wanted)


@verb("load.take-out", may="work")
def take_out(record: Recorder, *, load: int, version: int) -> dict[str, Any]:
    """Note that the flasks left the bath and cool; the bath is free again.

    Raises
    ------
    Refusal
        ``not-running``, or ``waiting`` while the program runs.
    """
    row = lock_load(load, version)
    if row.state != "running" or row.ends_at is None:
        raise Refusal("not-running", _("This load is not in the bath."))
    if record.now < row.ends_at:
        raise Refusal(
            "waiting",
            _("The program runs until %(at)s. Leave the flasks in.") % {"at": when(row.ends_at)},
        )
    flasks = row.flasks.filter(left_at=None).order_by("case_id", "pk")
    placed, told = list(flasks), row.open_from
    for flask in placed:
        case = lock_case(flask.case_id)
        stage = case.stages.select_for_update().filter(key=COOL).first()
        if stage is not None and _may_cool(case, stage):
            begin(record, case, stage, {}, None)
            end(record, case, stage, [], {})
    record.event("load.taken-out", subject=f"load {row.number}")
    for flask in flasks.all():
        record.change(flask, left_at=record.now)
    program = program_here(row.program)[0]
    opens = record.now + timedelta(minutes=program.cooling_minutes)
    record.change(row, state="over", open_from=opens, version=row.version + 1)
    _cool_from(record, row, program)
    if told is not None:
        for case in dict.fromkeys(flask.case for flask in placed):
            _open_later(record, case, told, opens)
    return {"load": row.number, "version": row.version}


def _open_later(record: Recorder, case: Case, told: datetime, opens: datetime) -> None:
    """Let the opening of a case without a cooling wait from when its load really left the bath."""
    held = held_from(case, OPEN, told) if first_of(case) == OPEN else None
    if held is None:
        return
    cured_at, edges = held
    waits = (opens - cured_at).total_seconds() / 60
    for edge in edges:
        record.change(edge, min_wait=waits, least_wait=waits)
    refresh(record, case)


def _may_cool(case: Case, stage: CaseStage) -> bool:
    """Tell whether the cooling of a case begins with its load: not of one closed or on hold."""
    planned = stage.state == "planned" and stage.ready_at is not None
    return planned and case.state == "open" and not holds_over(case, stage.key)


def _cool_from(record: Recorder, load: Load, program: Program) -> None:
    """Put the timers of the cooling where the flasks really left the bath; still the others."""
    pending = list(Timer.objects.select_for_update().filter(load=load, state="pending"))
    for timer in pending:
        timer.state = "cancelled"
    record.change_many(pending, ["state"])
    heard = Alert.objects.filter(timer__load=load, acknowledged_at=None)
    for alert in heard.select_for_update(of=("self",)):
        record.change(alert, acknowledged_at=record.now)
    if program.bench_cool_minutes and program.water_cool_minutes:
        due = record.now + timedelta(minutes=program.bench_cool_minutes)
        record.create(Timer, load=load, kind="to-water", due_at=due)


@verb("wait.shorten", may="countersign")
def shorten_wait(record: Recorder, *, stage: int, version: int, words: str) -> dict[str, Any]:
    """Concede that a flask is taken out or opened before its time; the reason stands in the record.

    Raises
    ------
    Refusal
        The stage does not wait for a cure or its cooling, or no reason was given.
    """
    case, row = lock_stage(stage, version=version)
    if row.key not in {COOL, OPEN} or row.state != "planned" or row.ready_at is None:
        raise Refusal("no-wait", _("Nothing is waiting here that could be shortened."))
    waits = (row.may_from or row.ready_at) > record.now
    if not waits and why_shut(case, row, record.now) is None:
        raise Refusal("wait-over", _("The wait is over already. Begin."))
    if not words.strip():
        raise Refusal(
            "no-reason", _("Say why it is opened before its time, and who decided."), field="words"
        )
    _concede(record, case, row, words)
    return {"stage": row.pk, "version": row.version}


def _concede(record: Recorder, case: Case, row: CaseStage, words: str) -> None:
    """Let a stage begin now although its wait is not over; who conceded it and why is kept."""
    record.event("wait.shortened", case=case, subject=row.key)
    record.change(row, words=words.strip()[:200], version=row.version + 1)
    _cut_waits(record, case, row)


def _cut_waits(record: Recorder, case: Case, row: CaseStage) -> None:
    """Let what a stage waits for be over now."""
    done = {one.key: one.ended_at for one in case.stages.all() if one.ended_at}
    for edge in CaseEdge.objects.filter(case=case, after=row.key, before__in=done):
        passed = (record.now - done[edge.before]).total_seconds() / 60
        if passed < edge.min_wait:
            record.change(edge, min_wait=passed, least_wait=passed)
    refresh(record, case)
    row.refresh_from_db(fields=["ready_at", "may_from", "latest_at"])
