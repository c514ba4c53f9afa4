"""The record of a bath for one load: read as a person confirmed it, judged, and kept."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass, replace
from datetime import UTC, date, datetime, timedelta
from functools import partial
from typing import Any, Final, cast
from zoneinfo import ZoneInfo

from django.db.models import Max
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from cases.domain.cure.bad_readings import BadReadings
from cases.domain.cure.cells import first_row
from cases.domain.cure.chart import thinned
from cases.domain.cure.heat_columns import HeatColumn
from cases.domain.cure.instants import FORMS, tells_zone
from cases.domain.cure.night import on_the_wall
from cases.domain.cure.program import Program, as_json
from cases.domain.cure.quality import FAHRENHEIT_ABOVE_C, Flag, gaps
from cases.domain.cure.time_columns import Rows, TimeColumn
from cases.domain.cure.trace import Reading, read
from cases.domain.cure.verdict import Assessment, Position, Probe, assess
from cases.domain.cure.window import Window
from cases.models import BathRecord, Lab, Load
from cases.selectors.cure_settings import probe_check, program_here
from cases.services.another_bath import refuse_another_baths
from cases.services.bath_judging import judged
from cases.services.bath_raw import Raw, raw_of
from cases.services.bath_table import rows_of
from cases.services.record import Recorder, Refusal, verb

POSITIONS: Final[dict[str, str]] = {
    "bath": gettext_noop("in the bath"),
    "flask": gettext_noop("in a flask of the load"),
    "dummy": gettext_noop("in a dummy flask"),
}
CLOCK_SLACK: Final = timedelta(minutes=5)
"""How far the clock of a logger may be ahead of the lab's. Judgement."""


@dataclass(frozen=True)
class Choice:
    """How a person said that a table is to be read.

    ``began`` is the first instant where the file does not say it, on the lab's wall; its clock
    is left out of account where the file has the time of day. ``leave_out``: rows of bad readings,
    from 1.
    """

    form: str
    columns: tuple[int, ...]
    column: int
    unit: str
    clock_back: bool = False
    began: str = ""
    leave_out: Sequence[int] = ()


@dataclass(frozen=True)
class Understood:
    """A table as read: its samples, and the first instant.

    ``hour_left_out``: on the wall's clock the hour that spring leaves out fell between two of its
    readings, and no time is credited for it.
    """

    reading: Reading
    started: datetime
    hour_left_out: bool = False


def load_of(number: int) -> Load | None:
    """Return a load with what judging a record of it asks for."""
    wanted = Load.objects.select_related("bath", "program__resin")
    return wanted.filter(number=number).first()


def zone() -> ZoneInfo:
    """Return the zone of the clock on the lab's wall."""
    return ZoneInfo(Lab.objects.values_list("zone", flat=True).first() or "UTC")


def understand(rows: Rows, choice: Choice, wall: ZoneInfo, *, as_kept: bool = False) -> Understood:
    """Read a table as a person confirmed it; ``as_kept``: it was read so and kept before.

    Raises
    ------
    Refusal
        The choice does not fit the table, the table does not read, or nobody said when it began.
    """
    try:
        first = first_row(rows)
        time, heat = _chosen(rows, first, choice)
        reading = read(
            rows, first, time, heat, clock_back=choice.clock_back,
            leave_out=choice.leave_out, as_kept=as_kept,
        )  # fmt: skip
    except BadReadings as error:
        raise Refusal("bad-readings", str(error), field="leave_out") from error
    except ValueError as error:
        raise Refusal("no-record", str(error), field="time") from error
    started = _started(rows[first], time, reading, choice, wall)
    form = FORMS[time.form]
    if not (form.dated or form.wraps) or started.tzinfo is not wall:
        return Understood(reading, started)
    lived = on_the_wall(reading.samples, started)
    return Understood(replace(reading, samples=lived), started, lived is not reading.samples)


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
        universal = tells_zone(FORMS[time.form], [row[n] for n in time.columns])
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


def in_the_bath(load: Load, now: datetime) -> tuple[datetime, datetime]:
    """Return from when to when the flasks of a load were heated, as far as ``now``.

    Raises
    ------
    Refusal
        ``not-in-the-bath``: it never was.
    """
    since = load.starts_at or load.placed_at
    if since is None or load.state not in {"running", "over"}:
        raise Refusal(
            "not-in-the-bath", _("This load has not been in the bath: there is nothing to judge.")
        )
    if load.state == "running":
        return since, max(now, since)
    # A flask that was taken out of the load before the start left nothing.
    put_in = load.flasks.filter(left_at__gt=load.placed_at or since)
    left = put_in.aggregate(last=Max("left_at"))["last"]
    return since, max(left or load.ends_at or now, since)


def _window(load: Load, program: Program, understood: Understood, now: datetime) -> Window:
    """Return which part of a record is of a load.

    Refuse a record of another time than the load's own, and one of a time to come.
    """
    since, until = in_the_bath(load, now)
    begins = understood.started.astimezone(UTC)
    ends = begins + timedelta(seconds=understood.reading.samples.end_s)
    if begins >= until or ends <= since:
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
    if ends > now + CLOCK_SLACK:
        raise Refusal(
            "to-come",
            _(
                "This record runs to %(ends)s, which is still to come. Is its day, its clock or "
                "its zone another one? Choose again how its time is read, or say when it began."
            )
            % {"ends": _said(ends)},
            field="time",
        )
    return window_of(load, program, begins, now)


def window_of(load: Load, program: Program, begins: datetime, now: datetime) -> Window:
    """Return when a load was in its bath, on the clock of a record whose first instant is given."""
    since, until = in_the_bath(load, now)
    began_s = (since - begins).total_seconds()
    due = load.ends_at or since + timedelta(minutes=program.bath_minutes)
    return Window(
        since_s=began_s,
        until_s=(until - begins).total_seconds(),
        due_s=(due - begins).total_seconds(),
        reach_s=began_s + 60 * program.reach_minute,
    )


def _of_a_water_bath(assessment: Assessment) -> None:
    """Refuse what is hotter than any water bath: a verdict on it would be one on a wrong unit."""
    if any(flag.code == "fahrenheit" for flag in assessment.findings):
        raise Refusal(
            "no-water-bath",
            _(
                "Read like this the record goes above %(most)d °C, which no water bath does: "
                "choose the other unit or another column, or send the record of a probe that was "
                "in the bath."
            )
            % {"most": FAHRENHEIT_ABOVE_C},
            field="heat",
        )


def _said(instant: datetime) -> str:
    return timezone.localtime(instant).strftime("%Y-%m-%d %H:%M")


def day_of(load: Load, now: datetime) -> date:
    """Return the day on the lab's wall on which the heating of a load began."""
    return in_the_bath(load, now)[0].astimezone(zone()).date()


def _probe(load: Load, name: str, position: str, day: date) -> Probe:
    check = probe_check(load.bath_id, name, day) if name else None
    return Probe(
        position=cast(Position, position),
        checked_on=check.checked_on if check else None,
        read_on=day,
        reads_high_k=check.reads_high_k if check else 0.0,
    )


def _left_out(reading: Reading) -> tuple[Flag, ...]:
    """Say which bad readings are not in a verdict; a gap that they leave has its own flag."""
    words = _("%(fact)s It is left out, as whoever read the record said.")
    return tuple(
        Flag("left_out", words % {"fact": one.words}, doubts=False) for one in reading.left_out
    )


def _verdict(
    assessment: Assessment, understood: Understood, program: Program, altitude: int, probe: Probe,
    window: Window,
) -> dict[str, Any]:  # fmt: skip
    """Return what is kept of a verdict: everything a page shows, and what it was judged by."""
    return {
        "verdict": assessment.verdict,
        "stages": [asdict(stage) for stage in assessment.stages],
        "flags": [asdict(flag) for flag in (*assessment.findings, *_left_out(understood.reading))],
        "equivalent_minutes": assessment.equivalent_minutes,
        "program_equivalent_minutes": assessment.program_equivalent_minutes,
        "kinetics": assessment.kinetics,
        "limits": asdict(assessment.limits),
        "gaps": [list(gap) for gap in gaps(window.near(understood.reading.samples))],
        "program": as_json(program),
        "program_at_s": window.since_s,
        "window": asdict(window),
        "altitude_m": altitude,
        "probe": {
            "checked_on": probe.checked_on.isoformat() if probe.checked_on else "",
            "reads_high_k": probe.reads_high_k,
        },
        "skipped": understood.reading.skipped,
        "left_out": [asdict(one) for one in understood.reading.left_out],
        "from_end": understood.reading.from_end,
        "hour_left_out": understood.hour_left_out,
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
        ``no-load``, ``no-raw``, ``no-record``, ``bad-readings``, ``no-beginning``,
        ``not-in-the-bath``, ``another-time``, ``to-come``, ``another-bath``, ``no-verdict``,
        ``no-water-bath`` for what is hotter than water gets; nothing is kept then.
    """
    found = load_of(load)
    if found is None:
        raise Refusal("no-load", _("There is no such load. Look the number up again."))
    raw = raw_of(sha256)
    if raw is None:
        raise Refusal("no-raw", _("That file is not here any more. Send it again."))
    if probe_at not in POSITIONS:
        raise Refusal("no-position", _("Say where the probe was."), field="probe_at")
    chosen = Choice(**{**choice, "columns": tuple(choice["columns"])})
    understood = understand(_rows(raw), chosen, zone())
    program, altitude = program_here(found.program)
    window = _window(found, program, understood, record.now)
    refuse_another_baths(
        found, sha256, chosen.column, understood.reading.samples, understood.started
    )
    held = _probe(found, probe, probe_at, day_of(found, record.now))
    samples = understood.reading.samples
    try:
        # What the maker states is kept minutes at a temperature; the way up is not asked for.
        assessment, lag = judged(partial(assess, samples), found, program, held, window)
    except ValueError as error:
        raise Refusal("no-verdict", str(error), field="time") from error
    _of_a_water_bath(assessment)
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
        points=thinned(window.near(samples)),
        verdict=_verdict(assessment, understood, program, altitude, held, window)
        | {"lag_minutes": lag},
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
