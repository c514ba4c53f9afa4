"""The record of a bath for one load: read as a person confirmed it, judged, and decided upon."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from datetime import UTC, datetime, timedelta
from typing import Any, Final, cast
from zoneinfo import ZoneInfo

from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from cases.domain.cure.chart import thinned
from cases.domain.cure.instants import FORMS
from cases.domain.cure.program import Program, as_json
from cases.domain.cure.quality import gaps
from cases.domain.cure.trace import HeatColumn, Reading, Rows, TimeColumn, read, recognise
from cases.domain.cure.verdict import Assessment, Position, Probe, assess
from cases.models import BathRecord, Lab, Load, ProbeCheck
from cases.selectors.cure_settings import program_here
from cases.services.bath_raw import Raw, raw_of
from cases.services.bath_table import rows_of
from cases.services.record import Recorder, Refusal, verb

POSITIONS: Final[dict[str, str]] = {
    "bath": gettext_noop("in the bath"),
    "flask": gettext_noop("in a flask of the load"),
    "dummy": gettext_noop("in a dummy flask"),
}
DECISIONS: Final[dict[str, str]] = {
    "accept": gettext_noop("Accept the cure"),
    "extend": gettext_noop("Extend it now, as the maker allows"),
    "repeat": gettext_noop("Repeat the cure"),
    "inspect": gettext_noop("Go on, and inspect closely at deflasking"),
    "scrap": gettext_noop("Scrap the resin and pack anew"),
}


@dataclass(frozen=True)
class Choice:
    """How a person said that a table is to be read.

    ``began`` is the first instant where the file does not say it, on the lab's wall; its clock
    is left out of account where the file has the time of day.
    """

    form: str
    columns: tuple[int, ...]
    column: int
    unit: str
    clock_back: bool = False
    began: str = ""


@dataclass(frozen=True)
class Understood:
    """A table as read: its samples, and the first instant."""

    reading: Reading
    started: datetime


def load_of(number: int) -> Load | None:
    """Return a load with what judging a record of it asks for."""
    wanted = Load.objects.select_related("bath", "program__resin")
    return wanted.filter(number=number).first()


def zone() -> ZoneInfo:
    """Return the zone of the clock on the lab's wall."""
    return ZoneInfo(Lab.objects.values_list("zone", flat=True).first() or "UTC")


def understand(rows: Rows, choice: Choice, wall: ZoneInfo) -> Understood:
    """Read a table as a person confirmed it.

    Raises
    ------
    Refusal
        The choice does not fit the table, the table does not read, or nobody said when it began.
    """
    try:
        found = recognise(rows)
        time, heat = _chosen(rows, found.first_row, choice)
        reading = read(rows, found.first_row, time, heat, clock_back=choice.clock_back)
    except ValueError as error:
        raise Refusal("no-record", str(error), field="time") from error
    started = _started(rows[found.first_row], time, reading, choice, wall)
    return Understood(reading, started)


def _chosen(rows: Rows, first: int, choice: Choice) -> tuple[TimeColumn, HeatColumn]:
    width = len(rows[first])
    form = FORMS.get(choice.form)
    fits = all(0 <= n < width for n in (*choice.columns, choice.column))
    if form is None or len(choice.columns) != form.cells or not fits or choice.unit not in "CF":
        raise ValueError(_("These columns are not in the file. Choose them again."))
    time = TimeColumn(choice.form, tuple(choice.columns), "")
    return time, HeatColumn(choice.column, "F" if choice.unit == "F" else "C", True, "")


def _started(
    row: Any, time: TimeColumn, reading: Reading, choice: Choice, wall: ZoneInfo
) -> datetime:
    if reading.started:
        bare = datetime.fromisoformat(reading.started)
        universal = time.form.startswith("unix") or _tells_zone(row[time.columns[0]])
        return bare.replace(tzinfo=UTC if universal else wall)
    if not choice.began:
        raise Refusal(
            "no-beginning",
            _("The file does not say on which day it began. Enter when the first reading was."),
            field="began_on",
        )
    began = datetime.fromisoformat(choice.began)
    if FORMS[time.form].wraps:
        clock = timedelta(seconds=FORMS[time.form].seconds([row[time.columns[0]]]))
        began = datetime.combine(began.date(), datetime.min.time()) + clock
    return began.replace(tzinfo=wall)


def _tells_zone(cell: str) -> bool:
    try:
        return datetime.fromisoformat(cell.strip().replace(",", ".")).tzinfo is not None
    except ValueError:
        return False


def _of_this_load(load: Load, understood: Understood, now: datetime) -> None:
    """Refuse a record of another time than the load's own."""
    since = load.starts_at or load.placed_at
    if since is None or load.state not in {"running", "over"}:
        raise Refusal(
            "not-in-the-bath", _("This load has not been in the bath: there is nothing to judge.")
        )
    until = max(load.ends_at or now, since + timedelta(minutes=1))
    begins = understood.started
    ends = begins + timedelta(seconds=understood.reading.samples.end_s)
    if begins < until and ends > since:
        return
    raise Refusal(
        "another-time",
        _(
            "This record runs from %(begins)s to %(ends)s, but load %(number)s was in the bath "
            "from %(since)s to %(until)s. Is it of another day or another bath?"
        )
        % {
            "begins": _said(begins), "ends": _said(ends), "number": load.number,
            "since": _said(since), "until": _said(until),
        },
        field="time",
    )  # fmt: skip


def _said(instant: datetime) -> str:
    return timezone.localtime(instant).strftime("%Y-%m-%d %H:%M")


def _probe(load: Load, name: str, position: str, started: datetime) -> Probe:
    check = ProbeCheck.objects.filter(bath=load.bath, probe=name).first() if name else None
    return Probe(
        position=cast(Position, position),
        checked_on=check.checked_on if check else None,
        read_on=timezone.localtime(started).date(),
        reads_high_k=check.reads_high_k if check else 0.0,
    )


def _verdict(
    assessment: Assessment, understood: Understood, program: Program, altitude: int, probe: Probe,
    program_at_s: float,
) -> dict[str, Any]:  # fmt: skip
    """Return what is kept of a verdict: everything a page shows, and what it was judged by."""
    return {
        "verdict": assessment.verdict,
        "stages": [asdict(stage) for stage in assessment.stages],
        "flags": [asdict(flag) for flag in assessment.findings],
        "equivalent_minutes": assessment.equivalent_minutes,
        "program_equivalent_minutes": assessment.program_equivalent_minutes,
        "kinetics": assessment.kinetics,
        "limits": asdict(assessment.limits),
        "gaps": [list(gap) for gap in gaps(understood.reading.samples)],
        "program": as_json(program),
        "program_at_s": program_at_s,
        "altitude_m": altitude,
        "probe": {
            "checked_on": probe.checked_on.isoformat() if probe.checked_on else "",
            "reads_high_k": probe.reads_high_k,
        },
        "skipped": understood.reading.skipped,
    }


@verb("bath-record.keep", may="note")
def keep_bath_record(
    record: Recorder, *, load: int, sha256: str, choice: dict[str, Any], probe_at: str,
    probe: str = "", file_name: str = "",
) -> dict[str, Any]:  # fmt: skip
    """Read a record that was sent, judge it against the program of its load, and keep both.

    ``choice`` is a ``Choice``. The verdict is stored with the model's version and is never
    reckoned anew.

    Raises
    ------
    Refusal
        ``no-load``, ``no-raw``, ``no-record``, ``no-beginning``, ``not-in-the-bath``,
        ``another-time``; nothing is kept then.
    """
    found = load_of(load)
    if found is None:
        raise Refusal("no-load", _("There is no such load. Look the number up again."))
    raw = raw_of(sha256)
    if raw is None:
        raise Refusal("no-raw", _("That file is not here any more. Send it again."))
    if probe_at not in POSITIONS:
        raise Refusal("no-position", _("Say where the probe was."), field="probe_at")
    understood = understand(
        _rows(raw), Choice(**{**choice, "columns": tuple(choice["columns"])}), zone()
    )
    _of_this_load(found, understood, record.now)
    program, altitude = program_here(found.program)
    held = _probe(found, probe, probe_at, understood.started)
    samples = understood.reading.samples
    try:
        # What the maker states is kept minutes at a temperature; the way up is not asked for.
        assessment = assess(
            samples, program.holds, probe=held, resumable=found.program.resin.resumable
        )
    except ValueError as error:
        raise Refusal("no-verdict", str(error), field="time") from error
    begins = found.starts_at or found.placed_at or understood.started
    program_at_s = (begins - understood.started).total_seconds()
    record.event("bath-record.kept", subject=f"load {found.number}", verdict=assessment.verdict)
    row = record.create(
        BathRecord,
        load=found,
        how=raw.how,
        sha256=sha256,
        file_name=file_name[:120],
        layout={**choice, "probe": probe},
        probe_at=probe_at,
        started=understood.started.isoformat(),
        points=thinned(samples),
        verdict=_verdict(assessment, understood, program, altitude, held, program_at_s),
        model_version=assessment.model_version,
        by=record.actor,
        at=record.now,
    )
    return {"record": row.pk, "verdict": assessment.verdict}


def _rows(raw: Raw) -> Rows:
    try:
        return rows_of(raw.data, typed=raw.how == "typed")
    except ValueError as error:
        raise Refusal("no-record", str(error)) from error


def may_extend(row: BathRecord) -> bool:
    """Tell whether the verdict offered to make a stage up by more time."""
    return any(stage["extend_minutes"] for stage in row.verdict["stages"])


@verb("bath-record.decide", may="countersign")
def decide_bath_record(
    record: Recorder, *, row: int, decision: str, words: str = ""
) -> dict[str, Any]:
    """Set what is done about a record, once, with the reason.

    Raises
    ------
    Refusal
        ``no-record``, ``may-not-decide`` for a student, ``decided``, ``no-decision``,
        ``no-extension``, ``no-reason``.
    """
    found = BathRecord.objects.select_for_update().filter(pk=row).first()
    if found is None:
        raise Refusal("no-record", _("There is no such record. Look at the load again."))
    if record.actor.is_student:
        raise Refusal("may-not-decide", _("A student does not decide this. Ask a colleague."))
    if found.decision:
        raise Refusal(
            "decided",
            _("This was decided already by %(who)s. Read the record anew to decide otherwise.")
            % {"who": found.decided_by.name if found.decided_by else ""},
        )
    if decision not in DECISIONS:
        raise Refusal("no-decision", _("Choose what is to be done."), field="decision")
    if decision == "extend" and not may_extend(found):
        raise Refusal(
            "no-extension",
            _("No extension is offered for this record. Choose something else."),
            field="decision",
        )
    plain = decision == "accept" and found.verdict["verdict"] == "complete"
    if not plain and not words.strip():
        raise Refusal("no-reason", _("Say why, in a few words."), field="words")
    record.event("bath-record.decided", subject=f"load {found.load.number}", decision=decision)
    record.change(
        found,
        decision=decision,
        decision_words=words.strip()[:400],
        decided_by=record.actor,
        decided_at=record.now,
    )
    return {"record": found.pk, "load": found.load.number}
