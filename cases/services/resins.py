"""Resins and the programs of their makers: a program is changed by a further version only."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime
from typing import Any
from zoneinfo import ZoneInfo

from django.utils.translation import gettext as _

from cases.domain.cure.dough import COLDEST_ROOM_C, HOTTEST_ROOM_C
from cases.domain.cure.program import Program, as_json, problems_by_entry, read_program
from cases.models import CureProgram, Lab, Resin
from cases.services.lab import the_lab
from cases.services.record import Recorder, Refusal, verb

RATIO = (0.5, 5.0)
"""Grams of powder to a millilitre of liquid: beyond it somebody has mistaken a unit. Judgement."""
DOUGH = (0.0, 240.0)
BPO = (0.05, 5.0)
ROOM = (COLDEST_ROOM_C, HOTTEST_ROOM_C)
BY_THE_MAKER = (
    "source", "ratio_low", "ratio_high", "dough_from", "dough_until", "room_c", "bpo_percent",
    "resumable",
)  # fmt: skip
"""What of a resin is compared with its maker's instructions."""


def _between(value: float | None, span: tuple[float, float], entry: str, sentence: str) -> None:
    if value is not None and not span[0] <= value <= span[1]:
        raise Refusal("bad-number", sentence, field=entry)


def _pair(low: float | None, high: float | None, entry: str, sentence: str) -> None:
    if low is not None and high is not None and low > high:
        raise Refusal("crossed", sentence, field=entry)


def past_day(text: str, lab: Lab, now: datetime, entry: str) -> date:
    """Return the day that ``text`` names.

    Raises
    ------
    Refusal
        Beside ``entry`` for what is no day, or a day that the lab's wall does not show yet.
    """
    try:
        day = date.fromisoformat(text)
    except ValueError:
        raise Refusal("bad-day", _("Enter a day, such as 2026-12-09."), field=entry) from None
    if day > now.astimezone(ZoneInfo(lab.zone)).date():
        raise Refusal("day-ahead", _("This day lies ahead. Enter the day it was."), field=entry)
    return day


def _compared_since(before: date | None, day: date | None, lab: Lab, now: datetime) -> None:
    """Refuse a day of comparison that was left standing while what was compared was changed."""
    today = now.astimezone(ZoneInfo(lab.zone)).date()
    if day is not None and day == before and day < today:
        raise Refusal(
            "compared-before",
            _(
                "The numbers or their source were changed since that day. Enter the day on which "
                "you compared them, or leave it empty."
            ),
            field="compared_on",
        )


@verb("resin.save", may="settings")
def save_resin(
    record: Recorder,
    *,
    name: str,
    source: str = "",
    compared_on: str = "",
    ratio_low: float | None = None,
    ratio_high: float | None = None,
    dough_from: float | None = None,
    dough_until: float | None = None,
    room_c: float | None = None,
    bpo_percent: float | None = None,
    resumable: bool = False,
    active: bool = True,
    resin: int | None = None,
) -> dict[str, Any]:
    """Add a resin with what its maker's instructions say, change it, or take it out of use."""
    lab, name, source = the_lab(), name.strip()[:60], source.strip()[:200]
    if not name:
        raise Refusal("no-name", _("Enter a name."), field="name")
    if Resin.objects.filter(name__iexact=name).exclude(pk=resin or 0).exists():
        raise Refusal("name-taken", _("There is a resin with this name."), field="name")
    day = past_day(compared_on, lab, record.now, "compared_on") if compared_on else None
    if day and not source:
        raise Refusal(
            "no-source",
            _("Name the maker's instructions that these numbers were compared with."),
            field="source",
        )
    for entry, value in (("ratio_low", ratio_low), ("ratio_high", ratio_high)):
        _between(value, RATIO, entry, _("Grams to a millilitre: between 0.5 and 5."))
    for entry, value in (("dough_from", dough_from), ("dough_until", dough_until)):
        _between(value, DOUGH, entry, _("Minutes from the beginning of the mix: 0 to 240."))
    _between(room_c, ROOM, "room_c", _("A room is at 5 to 45 °C."))
    _between(bpo_percent, BPO, "bpo_percent", _("Percent of the powder: between 0.05 and 5."))
    _pair(ratio_low, ratio_high, "ratio_high", _("The highest ratio lies below the lowest."))
    _pair(dough_from, dough_until, "dough_until", _("The dough ends before it begins."))
    values = {
        "name": name, "source": source, "compared_on": day, "ratio_low": ratio_low,
        "ratio_high": ratio_high, "dough_from": dough_from, "dough_until": dough_until,
        "room_c": room_c, "bpo_percent": bpo_percent, "resumable": resumable, "active": active,
    }  # fmt: skip
    if resin is None:
        record.event("resin.added", subject=name)
        return {"resin": record.create(Resin, **values).pk}
    row = _resin(resin)
    if any(getattr(row, key) != values[key] for key in BY_THE_MAKER):
        _compared_since(row.compared_on, day, lab, record.now)
    record.event("resin.changed", subject=name)
    record.change(row, **values)
    return {"resin": row.pk}


def _resin(pk: int) -> Resin:
    row = Resin.objects.select_for_update().filter(pk=pk).first()
    if row is None:
        raise Refusal("no-resin", _("There is no such resin. Look at the list of resins."))
    return row


def _read(document: dict[str, Any], lab: Lab) -> Program:
    """Return the program that a document holds, if it may be saved.

    Raises
    ------
    Refusal
        ``no-program`` for what is none, ``bad-program`` beside the first entry that is wrong.
    """
    try:
        program = read_program(document)
    except ValueError as wrong:
        raise Refusal("no-program", str(wrong)) from wrong
    for entry, sentence in problems_by_entry(program, lab.altitude_m):
        raise Refusal("bad-program", sentence, field=entry)
    return program


def _still_compared(old: Program, new: Program, lab: Lab, now: datetime) -> None:
    """Refuse the day on which an earlier version was compared, where more than its note is new."""

    def compared(program: Program) -> Program:
        return replace(program, compared_on="", note="", status="")

    if new.compared_on and compared(old) != compared(new):
        before = date.fromisoformat(old.compared_on) if old.compared_on else None
        _compared_since(before, date.fromisoformat(new.compared_on), lab, now)


@verb("program.save", may="settings")
def save_program(
    record: Recorder,
    *,
    resin: int,
    program: dict[str, Any],
    base: int = 0,
    reason: str = "",
) -> dict[str, Any]:
    """Save a program as a further version of its name; the first one is version 1.

    ``base`` is the version that was changed (0: a new name). From the second on a reason is
    asked. Loads keep the version that they ran by.
    """
    lab, row = the_lab(), _resin(resin)
    read = _read(program, lab)
    name, reason = read.name.strip(), reason.strip()[:200]
    if len(name) > 60:
        raise Refusal("long-name", _("A name has at most 60 signs."), field="name")
    if read.compared_on:
        past_day(read.compared_on, lab, record.now, "compared_on")
    newest = CureProgram.objects.filter(resin=row, name=name).first()
    if newest is None and base:
        raise Refusal(
            "renamed", _("A program keeps its name. Begin a new one instead."), field="name"
        )
    if newest is not None and not base:
        raise Refusal(
            "name-taken",
            _("This resin has a program of this name. Change that one, or choose another name."),
            field="name",
        )
    if newest is not None and newest.version != base:
        raise Refusal(
            "newer-version",
            _("Version %(n)d was saved meanwhile. Look at it, then change that one.")
            % {"n": newest.version},
        )
    if newest is not None:
        if read_program(newest.document) == read and newest.retired_at is None:
            raise Refusal("same-program", _("Nothing was changed. Change something first."))
        _still_compared(read_program(newest.document), read, lab, record.now)
        if not reason:
            raise Refusal("no-reason", _("Say why it is changed."), field="reason")
    version = newest.version + 1 if newest else 1
    record.event("program.saved", subject=f"{name} {version}", resin=row.name)
    made = record.create(
        CureProgram,
        resin=row,
        name=name,
        version=version,
        document=as_json(read),
        reason=reason,
        saved_by=record.actor,
        saved_at=record.now,
    )
    return {"program": made.pk, "version": version}


@verb("program.retire", may="settings")
def retire_program(record: Recorder, *, program: int) -> dict[str, Any]:
    """Take a program out of use: no further load is made for it. A new version brings it back."""
    row = CureProgram.objects.select_for_update().filter(pk=program).first()
    if row is None:
        raise Refusal("no-program", _("There is no such program. Look at its resin."))
    later = CureProgram.objects.filter(
        resin=row.resin_id, name=row.name, version__gt=row.version
    ).exists()
    if later or row.retired_at is not None:
        raise Refusal("out-of-use", _("This version is out of use already."))
    record.event("program.retired", subject=f"{row.name} {row.version}")
    record.change(row, retired_at=record.now)
    return {"program": row.pk}
