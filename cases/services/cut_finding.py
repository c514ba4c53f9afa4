"""What a power cut did to a load: from its trace where there is one, or from what somebody saw."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from datetime import datetime, timedelta
from functools import partial
from math import ceil
from typing import Any, cast

from django.utils.translation import gettext as _

from cases.domain.cure.cut import Advice, AfterCut, advise, after_cut, as_seen
from cases.domain.cure.longer import stage_at, why_not_longer
from cases.domain.cure.program import Program
from cases.domain.cure.samples import Points, Samples
from cases.domain.cure.verdict import MODEL_VERSION, Limits, Position, Probe
from cases.domain.cure.window import Window
from cases.models import BathRecord, Load
from cases.selectors.cure_settings import probe_check, program_here
from cases.selectors.cuts import Span
from cases.selectors.feeds import readings
from cases.selectors.loads import as_run
from cases.services.bath_judging import judged
from cases.services.bath_raw import raw_of
from cases.services.bath_record import (
    Choice,
    day_of,
    in_the_bath,
    understand,
    window_of,
    zone,
)
from cases.services.bath_table import rows_of
from cases.services.record import Refusal

FEW = 2
"""So many readings make a line."""


@dataclass(frozen=True)
class Finding:
    """How one load stands after a cut.

    Attributes
    ----------
    source
        ``live`` (the feed of the bath), ``record`` (a record that was read), ``seen`` (by the
        program until the power went), ``nothing`` (nobody knows), ``unheated`` (the heating
        should have begun while there was no power), ``before`` or ``after`` (the cut was over
        before the heating, or began when the program was over).
    stage
        The stage, from 0, that the advice is about.
    choice, minutes, words
        What is advised; an empty choice: nothing is, a person judges.
    stages
        Each stage in words, with its state.
    limits
        What the stages were judged by; None where nothing was reckoned.
    """

    load: Load
    source: str
    stage: int
    choice: str
    minutes: float | None
    words: str
    stages: tuple[dict[str, str], ...] = ()
    record: BathRecord | None = None
    limits: Limits | None = None

    @property
    def offers(self) -> tuple[str, ...]:
        """Return what may be decided at all, by the maker's program and where the load is."""
        if self.load.state != "running":
            return ("as-is", "again", "scrap")
        if self.source in {"before", "after"}:
            return ("as-is", "scrap")
        if self.source == "unheated":
            return ("as-is", "repeat", "scrap")
        resumable = self.load.program.resin.resumable
        hold = as_run(self.load).stages[self.stage]
        longer = not why_not_longer(hold, self.stage + 1, resumable=resumable)
        found = ["as-is", *(["longer"] if longer else []), *(["repeat"] if resumable else [])]
        return (*found, "again", "scrap")

    def as_json(self) -> dict[str, Any]:
        """Return what is kept of it with the decision."""
        return {
            "model_version": MODEL_VERSION,
            "source": self.source,
            "choice": self.choice,
            "minutes": self.minutes,
            "words": self.words,
            "stages": list(self.stages),
            "limits": asdict(self.limits) if self.limits else None,
        }


@dataclass(frozen=True)
class _Trace:
    """What is known of a bath: from where, its line, and which part of it is the load's.

    Of what a person saw all is the load's own, and no probe read it.
    """

    source: str
    line: Points | Samples
    window: Window | None = None
    probe: Probe | None = None
    record: BathRecord | None = None


def finding(load: Load, span: Span, found_c: float | None) -> Finding:
    """Say how a load stands after a cut. Nothing is written.

    Parameters
    ----------
    found_c
        What the bath's thermometer said when the power was back, or when somebody looked, °C.
    """
    program = as_run(load)
    begins = load.starts_at or load.placed_at or span.now
    ends = load.ends_at or span.now
    clock = stage_at(program, (span.now - begins).total_seconds() / 60)
    plain = _without_heat(load, span, begins, ends, program)
    if plain is not None:
        return plain
    # What was added after an earlier cut is no part of what the maker asks for.
    asked = program_here(load.program)[0]
    trace = _trace(load, span, program, asked, found_c)
    if trace is None:
        return Finding(load, "nothing", clock, "", None, _why_nothing(load, span))
    try:
        after, _lag = judged(partial(after_cut, trace.line), load, asked, trace.probe, trace.window)
    except ValueError as error:
        return Finding(load, "nothing", clock, "", None, str(error))
    return _told(load, trace.source, after, advise(after, asked.holds, clock), trace.record)


def _without_heat(
    load: Load, span: Span, begins: datetime, ends: datetime, program: Program
) -> Finding | None:
    """Return what is plain without reckoning: the cut met no heating of this load."""
    if span.on_at is not None and span.on_at <= begins:
        words = _(
            "The power was back before its heating began. Check that the clock of the bath is "
            "right, or that somebody starts it."
        )
        return Finding(load, "before", 0, "as-is", None, words)
    if span.off_at is not None and span.off_at >= ends:
        words = _("Its program was over before the power went. Only its cooling was concerned.")
        return Finding(load, "after", len(program.stages) - 1, "as-is", None, words)
    if span.off_at is not None and span.off_at <= begins and load.state == "running":
        words = _(
            "The power was away when its heating should have begun. Run the program from its "
            "first stage, if the maker allows so long a rest before it."
        )
        return Finding(load, "unheated", 0, "repeat", program.stages[0].minutes, words)
    return None


def _trace(
    load: Load, span: Span, program: Program, asked: Program, found_c: float | None
) -> _Trace | None:
    """Return what is known of the bath; None where nothing is."""
    begins, left = in_the_bath(load, span.now)
    live = readings(load.bath_id, begins - timedelta(minutes=5), left)
    if sum(at >= begins for at, _celsius in live) >= FEW and live[-1][0] >= span.since:
        line = [((at - begins).total_seconds(), celsius) for at, celsius in live]
        window = window_of(load, asked, begins, span.now)
        return _Trace("live", line, window, _live_probe(load, span.now))
    for row in load.records.order_by("-pk"):
        ends = datetime.fromisoformat(row.started) + timedelta(seconds=row.points[-1][0])
        found = _read_again(row, load, asked, span.now) if ends >= span.since else None
        if found is not None:
            return found
    if span.off_at is None or _strayed(load):
        return None
    minutes = [(at - begins).total_seconds() / 60 for at in (span.off_at, span.until)]
    try:
        return _Trace("seen", as_seen(program.points(), minutes[0], minutes[1], found_c))
    except ValueError:
        return None


def _strayed(load: Load) -> bool:
    """Tell whether a load was cut before, so that its program no longer says what the bath did."""
    return load.cuts.exists() or load.extensions.filter(how="record").exists()


def _why_nothing(load: Load, span: Span) -> str:
    if span.off_at is not None and _strayed(load):
        return _(
            "This load was cut short before, so its program does not say any more what the bath "
            "did. Read its record, or inspect the pieces, ask the resin's maker, and decide."
        )
    return _(
        "No record says what this bath did, and nobody knows when the power went: nothing of its "
        "heating is sure. Read its record, or inspect the pieces, ask the resin's maker, and "
        "decide."
    )


def _read_again(row: BathRecord, load: Load, asked: Program, now: datetime) -> _Trace | None:
    """Return what a kept record shows while its load was heated, from its file.

    None where the file is gone, or shows nothing of that time.
    """
    raw = raw_of(row.sha256)
    if raw is None:
        return None
    told = {name: value for name, value in row.layout.items() if name != "probe"}
    choice = Choice(**{**told, "columns": tuple(told["columns"])})
    try:
        rows = rows_of(raw.data, typed=raw.how == "typed")
        found = understand(rows, choice, zone(), as_kept=True)
        window = window_of(load, asked, found.started, now)
        window.part(found.reading.samples)
    except (ValueError, Refusal):
        return None
    probe = Probe(
        position=cast(Position, row.probe_at), reads_high_k=row.verdict["probe"]["reads_high_k"]
    )
    return _Trace("record", found.reading.samples, window, probe, row)


def _live_probe(load: Load, now: datetime) -> Probe | None:
    """Return the probe that sends the live temperatures, as it was checked for the load's day."""
    feed = load.bath.feeds.filter(ended_at__isnull=True).first()
    check = probe_check(load.bath_id, feed.probe, day_of(load, now)) if feed else None
    return Probe(reads_high_k=check.reads_high_k) if check else None


def _told(
    load: Load, source: str, after: AfterCut, advice: Advice, record: BathRecord | None
) -> Finding:
    stages = tuple({"words": one.words, "state": one.state} for one in after.stages)
    whole = float(ceil(advice.minutes)) if advice.minutes is not None else None
    limits = after.assessment.limits
    return Finding(
        load, source, advice.stage, advice.choice, whole, advice.words, stages, record, limits
    )
