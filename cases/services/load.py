"""Loads of a bath: flasks that share a program, from the first ticket to the last one out.

Locks: the load first, then its cases by primary key, then their rows.
"""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

from django.utils.dateparse import parse_datetime
from django.utils.timezone import is_naive, localtime, make_aware
from django.utils.translation import gettext as _

from cases.domain.cure.program import Program, boiling_c, read_program
from cases.domain.cure.timing import steps
from cases.models import (
    Alert,
    Bath,
    Case,
    CaseEdge,
    CaseStage,
    CheckItem,
    CureProgram,
    Lab,
    Load,
    LoadFlask,
    Occupied,
    Timer,
)
from cases.services.access import holds_over, lock_case, lock_open_case, lock_stage
from cases.services.numbering import next_in
from cases.services.progress import refresh
from cases.services.record import Recorder, Refusal, verb
from cases.services.soundness import sound
from cases.services.stage import begin, end

CURE, COOL, OPEN = "cure", "cool", "deflask"
WAX_CHECK = 34
RUNG = frozenset({"heat", "raise", "boil", "take-out"})
LONGEST_DELAY = timedelta(hours=24)
"""A flask that waits longer for its heat has waited too long under the clamp. Judgement."""


def _lock(number: int, version: int | None = None) -> Load:
    load = (
        Load.objects.select_for_update(of=("self",))
        .select_related("bath", "program__resin")
        .filter(number=number)
        .first()
    )
    if load is None:
        raise Refusal("no-load", _("There is no such load. Look at the list of loads."))
    if version is not None and load.version != version:
        raise Refusal(
            "load-changed",
            _("Load %(number)d was changed by somebody else meanwhile. Look at it again.")
            % {"number": load.number},
        )
    return load


def _gathering(load: Load) -> None:
    if load.state != "gathering":
        raise Refusal(
            "not-gathering",
            _("Load %(number)d is in the bath already, or was given up. Make a new one.")
            % {"number": load.number},
        )


def program_of(load: Load) -> Program:
    """Return the load's program with its boils as they are at the lab's altitude."""
    lab = Lab.objects.first()
    return read_program(load.program.document).at_altitude(lab.altitude_m if lab else 0)


@verb("load.make", may="work")
def make_load(record: Recorder, *, bath: int, program: int) -> dict[str, Any]:
    """Begin to gather flasks for a bath and a program.

    Raises
    ------
    Refusal
        The bath or the program is out of use, or the bath cannot get so hot.
    """
    tub = Bath.objects.filter(pk=bath, active=True).first()
    if tub is None:
        raise Refusal("no-bath", _("Choose a bath that is in use."), field="bath")
    chosen = CureProgram.objects.filter(pk=program, retired_at=None, resin__active=True).first()
    if chosen is None:
        raise Refusal("no-program", _("Choose a program that is in use."), field="program")
    newer = CureProgram.objects.filter(
        resin=chosen.resin_id, name=chosen.name, version__gt=chosen.version
    )
    if newer.exists():
        raise Refusal(
            "old-program",
            _("There is a newer version of this program. Load the page again."),
            field="program",
        )
    _reaches(tub, read_program(chosen.document))
    record.event("load.made", subject=tub.name)
    row = record.create(
        Load,
        number=next_in("load"),
        bath=tub,
        program=chosen,
        made_at=record.now,
        made_by=record.person,
    )
    return {"load": row.pk, "number": row.number}


def _reaches(bath: Bath, program: Program) -> None:
    lab = Lab.objects.first()
    here = boiling_c(lab.altitude_m if lab else 0)
    wanted = max(min(hold.celsius, here) if hold.boil else hold.celsius for hold in program.stages)
    if bath.highest_c is not None and wanted > bath.highest_c + 0.5:
        raise Refusal(
            "too-hot",
            _("%(bath)s holds %(most)s °C at most; this program asks for %(wanted)s °C.")
            % {"bath": bath.name, "most": f"{bath.highest_c:g}", "wanted": f"{wanted:.0f}"},
            field="bath",
        )


def _case_of(label: str) -> Case:
    """Return the open case that a flask's number, or a case's own number, stands for."""
    held = (
        Occupied.objects.filter(
            thing__kind="flask", thing__label__iexact=label, freed_at__isnull=True
        )
        .select_related("case")
        .first()
    )
    found = held.case if held else Case.objects.filter(number__iexact=label).first()
    if found is None:
        raise Refusal(
            "no-flask",
            _("No case is in flask %(label)s, and none has this number. Read it again.")
            % {"label": label},
            field="label",
        )
    return found


def waxed_mm(stage: CaseStage) -> float | None:
    """Return the thickest wax that was measured at wax-up, in millimetres."""
    items = CheckItem.objects.filter(case=stage.case_id, number=WAX_CHECK).exclude(state="dropped")
    for item in items:
        value = (item.values.get("values") or {}).get("thickest")
        if value:
            return float(value)
    return None


@verb("load.add", may="work")
def add_flask(
    record: Recorder,
    *,
    load: int,
    version: int,
    label: str,
    thickest_mm: float | None = None,
) -> dict[str, Any]:
    """Add one flask by its engraved number, or by the number of its case.

    Parameters
    ----------
    thickest_mm
        Its thickest place, where nobody measured the wax.

    Raises
    ------
    Refusal
        The flask is unknown, full, cured already, too thick, or in another load.
    """
    row = _lock(load, version)
    _gathering(row)
    label = label.strip()
    if not label:
        raise Refusal("no-label", _("Enter the number of the flask, or scan it."), field="label")
    case = lock_open_case(_case_of(label).pk)
    stage = case.stages.filter(key=CURE).exclude(state="dropped").first()
    if stage is None or stage.state not in {"planned", "running"}:
        raise Refusal(
            "not-to-cure",
            _("%(number)s has nothing to cure now. Open the case and look.")
            % {"number": case.number},
            field="label",
        )
    _room(row, stage)
    thick = waxed_mm(stage)
    if thick is None:
        thick = thickest_mm
    _not_too_thick(row, case, thick)
    flask = (
        Occupied.objects.filter(case=case, thing__kind="flask", freed_at__isnull=True)
        .values_list("thing__label", flat=True)
        .first()
    )
    record.event("load.flask-added", case=case, subject=CURE, load=row.number)
    record.create(
        LoadFlask,
        load=row,
        case=case,
        stage=stage,
        attempt=stage.attempt,
        flask=flask or "",
        thickest_mm=thick,
        added_at=record.now,
    )
    record.change(row, version=row.version + 1, sound={})
    return {"load": row.number, "case": case.number, "version": row.version}


def _room(load: Load, stage: CaseStage) -> None:
    other = LoadFlask.objects.filter(stage=stage, left_at=None).select_related("load").first()
    if other is not None:
        raise Refusal(
            "in-a-load",
            _("It is in load %(number)d already.") % {"number": other.load.number},
            field="label",
        )
    if load.flasks.filter(left_at=None).count() >= load.bath.capacity:
        raise Refusal(
            "bath-full",
            _("%(bath)s takes %(n)d flasks, and so many are in this load. Make another load.")
            % {"bath": load.bath.name, "n": load.bath.capacity},
            field="label",
        )


def _not_too_thick(load: Load, case: Case, thick: float | None) -> None:
    most = load.program.document.get("largest_mm")
    if thick is not None and not 0 < thick <= 60:
        raise Refusal(
            "bad-thickness", _("The thickest place is 0.5 to 60 mm."), field="thickest_mm"
        )
    if most and thick and thick > most:
        raise Refusal(
            "too-thick",
            _(
                "%(number)s is %(thick)s mm thick at one place; the maker allows %(most)s mm for "
                "this program. Take a longer program."
            )
            % {"number": case.number, "thick": f"{thick:g}", "most": f"{most:g}"},
            field="label",
        )


@verb("load.remove", may="work")
def remove_flask(record: Recorder, *, load: int, version: int, flask: int) -> dict[str, Any]:
    """Take a flask out of a load that is still being gathered."""
    row = _lock(load, version)
    _gathering(row)
    found = row.flasks.filter(pk=flask, left_at=None).select_related("case").first()
    if found is None:
        raise Refusal("no-flask", _("This flask is not in the load any more."))
    record.event("load.flask-removed", case=found.case, subject=CURE, load=row.number)
    record.change(found, left_at=record.now)
    record.change(row, version=row.version + 1, sound={})
    return {"load": row.number, "version": row.version}


@verb("load.cancel", may="work")
def cancel_load(record: Recorder, *, load: int, version: int) -> dict[str, Any]:
    """Give a load up that was never put in."""
    row = _lock(load, version)
    _gathering(row)
    record.event("load.cancelled", subject=f"load {row.number}")
    for flask in row.flasks.filter(left_at=None):
        record.change(flask, left_at=record.now)
    record.change(row, state="cancelled", version=row.version + 1)
    return {"load": row.number}


@verb("load.estimate", may="work")
def estimate(record: Recorder, *, load: int, version: int) -> dict[str, Any]:
    """Ask the heat model about the program and the thickest flask; the answer stays as it is."""
    row = _lock(load, version)
    _gathering(row)
    flasks = list(row.flasks.filter(left_at=None))
    if not flasks:
        raise Refusal("empty", _("Add the flasks first."), field="label")
    known = [flask.thickest_mm for flask in flasks if flask.thickest_mm]
    found = sound(program_of(row), max(known, default=None), len(flasks) - len(known), record.now)
    record.event("load.estimated", subject=f"load {row.number}", risk=found["risk"])
    record.change(row, sound=found, version=row.version + 1)
    return {"load": row.number, "risk": found["risk"], "version": row.version}


def _starts(record: Recorder, starts_at: str) -> datetime:
    if not starts_at.strip():
        return record.now
    found = parse_datetime(starts_at.strip())
    if found is None:
        raise Refusal("no-time", _("Enter when the heating starts, or nothing for now."),
                      field="starts_at")  # fmt: skip
    if is_naive(found):
        found = make_aware(found)
    if not record.now - timedelta(minutes=5) <= found <= record.now + LONGEST_DELAY:
        raise Refusal(
            "bad-time", _("The heating starts now or within 24 hours."), field="starts_at"
        )
    return max(found, record.now)


@verb("load.start", may="work")
def start_load(
    record: Recorder, *, load: int, version: int, starts_at: str = "", words: str = ""
) -> dict[str, Any]:
    """Note that the flasks are in the bath and the program runs, or will by itself.

    Parameters
    ----------
    starts_at
        When the heating begins (ISO, the lab's time where no zone is said); empty for now.
    words
        Why it goes in although the estimate says *high* or could not be made.

    Raises
    ------
    Refusal
        ``bath-in-use``, ``ask-first``, ``say-why``, or what a single start would refuse, with
        the case named; nothing is started then.
    """
    row = _lock(load, version)
    _gathering(row)
    flasks = list(row.flasks.filter(left_at=None).order_by("case_id", "pk"))
    if not flasks:
        raise Refusal("empty", _("Add the flasks first."), field="label")
    busy = Load.objects.filter(bath=row.bath_id, state="running").first()
    if busy is not None:
        raise Refusal(
            "bath-in-use",
            _("%(bath)s is taken by load %(number)d. Take that out first, or use another bath.")
            % {"bath": row.bath.name, "number": busy.number},
        )
    _asked(row, words)
    begins = _starts(record, starts_at)
    program = program_of(row)
    ends = begins + timedelta(minutes=program.bath_minutes)
    for flask in flasks:
        case, stage = lock_stage(flask.stage_id)
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
    _set_timers(record, row, program)
    return {"load": row.number, "version": row.version}


def _asked(load: Load, words: str) -> None:
    if not load.sound:
        raise Refusal("ask-first", _("Let the program be looked at for this load first."))
    if load.sound["risk"] in {"high", "none"} and not words.strip():
        raise Refusal(
            "say-why",
            _("The estimate warns, or could not be made. Say why it goes in all the same."),
            field="words",
        )


def _into_bath(
    record: Recorder, case: Case, stage: CaseStage, ends: datetime, program: Program
) -> None:
    """Pass the stage *cure* of one case; what follows waits for the program and the cooling."""
    try:
        if stage.state == "planned":
            begin(record, case, stage, {}, None)
        else:
            record.event("load.case-placed", case=case, subject=CURE)
        _wait(record, case, CURE, COOL, (ends - record.now).total_seconds() / 60)
        if program.cooling_minutes:
            _wait(record, case, COOL, OPEN, program.cooling_minutes)
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


def _wait(record: Recorder, case: Case, before: str, after: str, minutes: float) -> None:
    for edge in CaseEdge.objects.filter(case=case, before=before, after=after):
        record.change(edge, min_wait=minutes, least_wait=minutes)


def _set_timers(record: Recorder, load: Load, program: Program) -> None:
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
    row = _lock(load, version)
    if row.state != "running" or row.ends_at is None:
        raise Refusal("not-running", _("This load is not in the bath."))
    if record.now < row.ends_at:
        raise Refusal(
            "waiting",
            _("The program runs until %(at)s. Leave the flasks in.")
            % {"at": f"{localtime(row.ends_at):%H:%M}"},
        )
    flasks = row.flasks.filter(left_at=None).order_by("case_id", "pk")
    for flask in list(flasks):
        case = lock_case(flask.case_id)
        stage = case.stages.select_for_update().filter(key=COOL).first()
        if stage is not None and _may_cool(case, stage):
            begin(record, case, stage, {}, None)
            end(record, case, stage, [], {})
    record.event("load.taken-out", subject=f"load {row.number}")
    for flask in flasks.all():
        record.change(flask, left_at=record.now)
    program = program_of(row)
    opens = record.now + timedelta(minutes=program.cooling_minutes)
    record.change(row, state="over", open_from=opens, version=row.version + 1)
    _cool_from(record, row, program)
    return {"load": row.number, "version": row.version}


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
    if (row.may_from or row.ready_at) <= record.now:
        raise Refusal("wait-over", _("The wait is over already. Begin."))
    if not words.strip():
        raise Refusal(
            "no-reason", _("Say why it is opened before its time, and who decided."), field="words"
        )
    record.event("wait.shortened", case=case, subject=row.key)
    done = {one.key: one.ended_at for one in case.stages.all() if one.ended_at}
    for edge in CaseEdge.objects.filter(case=case, after=row.key, before__in=done):
        passed = (record.now - done[edge.before]).total_seconds() / 60
        if passed < edge.min_wait:
            record.change(edge, min_wait=passed, least_wait=passed)
    record.change(row, words=words.strip()[:200], version=row.version + 1)
    refresh(record, case)
    return {"stage": row.pk, "version": row.version}
