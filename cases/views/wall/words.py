"""What a bath does now and what hands do next, in words with the clock's time."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from django.utils import timezone
from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from cases.domain.cure.course import Part, after, cooling, in_the_bath, part_at
from cases.domain.cure.dough import WARN_BEFORE
from cases.domain.cure.program import Program
from cases.models import Case, Load, Mix
from cases.selectors.loads import as_written
from cases.selectors.wall import BathOnTheWall, flasks_of
from cases.views.load.heat import HeatWords

SAME_NIGHT = timedelta(hours=18)
"""A time so near is said without its day: "06:30" at ten in the evening. Judgement."""


@dataclass(frozen=True)
class LoadWords:
    """One load of a bath as the wall says it.

    ``state`` and ``tag`` are the word and the shape of its state; ``now`` what happens,
    ``next`` what hands do then, ``due`` the instant of it, ``closed`` before when the flasks
    stay shut. ``flasks`` says which load it is and how many lie in it, ``cases`` their numbers.
    """

    state: str
    tag: str
    now: str
    next: str = ""
    due: datetime | None = None
    closed: str = ""
    flasks: str = ""
    cases: tuple[str, ...] = ()


@dataclass(frozen=True)
class BathWords:
    """A bath as the wall says it; without loads it is empty, with a feed it has a temperature."""

    name: str
    loads: tuple[LoadWords, ...]
    empty: bool
    heat: HeatWords | None = None


def bath_words(found: BathOnTheWall, heat: HeatWords | None, now: datetime) -> BathWords:
    """Say what a bath does at ``now``; ``heat`` is what its feed tells, None without one."""
    loads = [_load(load, now) for load in found.loads]
    if heat is not None and heat.fault:
        # By its clock it heats; by its feed it does not.
        loads = [
            replace(one, state=_("should heat"), tag="held") if one.tag == "running" else one
            for one in loads
        ]
    return BathWords(found.bath.name, tuple(loads), empty=not found.running, heat=heat)


@dataclass(frozen=True)
class DoughWords:
    """The dough of a packing as the wall says it; ``due`` is when that changes."""

    case: Case
    now: str
    due: datetime
    late: bool


def dough_words(mix: Mix, now: datetime) -> DoughWords:
    """Say where the dough of a case is at ``now``; its window has an end."""
    opens, closes = mix.opens_at, mix.closes_at or now
    if opens is not None and now < opens:
        return DoughWords(mix.case, _("Not dough yet"), opens, late=False)
    words = _("Dough: close for the last time") if now < closes else _("Dough past its time")
    return DoughWords(mix.case, words, closes, late=now >= closes - WARN_BEFORE)


def clock(at: datetime, now: datetime) -> str:
    """Return the clock's time in the lab's zone, with its day where that is not plain."""
    near = abs(at - now) < SAME_NIGHT
    return date_format(timezone.localtime(at), "H:i" if near else "D H:i")


def _load(load: Load, now: datetime) -> LoadWords:
    flasks = flasks_of(load)
    count = ngettext("%(n)s flask", "%(n)s flasks", len(flasks)) % {"n": len(flasks)}
    return replace(
        _state(load, len(flasks), now),
        flasks=_("Load %(number)s, %(flasks)s") % {"number": load.number, "flasks": count},
        cases=tuple(dict.fromkeys(flask.case.number for flask in flasks)),
    )


def _state(load: Load, flasks: int, now: datetime) -> LoadWords:
    if load.state == "gathering":
        room = max(0, load.bath.capacity - flasks)
        free = ngettext("Room for %(n)s more flask", "Room for %(n)s more flasks", room)
        words = free % {"n": room} if room else _("The bath is full")
        return LoadWords(_("being gathered"), "held", words)
    program = as_written(load)
    if load.state == "over":
        return _cooling(load, program, now)
    return _in_the_bath(load, program, now)


def _in_the_bath(load: Load, program: Program, now: datetime) -> LoadWords:
    starts, ends = load.starts_at, load.ends_at
    if starts is None or ends is None:
        return LoadWords(_("in the bath"), "running", _("Its time is not known"))
    closed = _closed(load, now)
    if now < starts:
        words = _("Waits for its heat until %(at)s") % {"at": clock(starts, now)}
        step = _start(load, clock(starts, now))
        return LoadWords(_("in the bath"), "held", words, step, starts, closed)
    parts = in_the_bath(program, (ends - starts).total_seconds() / 60)
    part = part_at(parts, (now - starts).total_seconds() / 60)
    if part is None or now >= ends:
        words = _("The program is over since %(at)s") % {"at": clock(ends, now)}
        step = _("Take out now, let cool")
        return LoadWords(_("over"), "late", words, step, ends, closed)
    words = _heat(part, clock(starts + timedelta(minutes=part.ends), now))
    step, due = _next(load, parts, part, now)
    return LoadWords(_("heats"), "running", words, step, due, closed)


def _start(load: Load, at: str) -> str:
    if load.bath.starts_itself:
        return _("The bath starts by itself at %(at)s") % {"at": at}
    return _("Start the heating at %(at)s") % {"at": at}


def _heat(part: Part, at: str) -> str:
    told = {"celsius": f"{part.celsius:g}", "at": at}
    if part.kind == "rise":
        if part.boil:
            return _("On the way to the boil until %(at)s") % told
        return _("On the way to %(celsius)s °C until %(at)s") % told
    if part.boil:
        return _("Boils until %(at)s") % told
    return _("%(celsius)s °C until %(at)s") % told


def _next(
    load: Load, parts: tuple[Part, ...], part: Part, now: datetime
) -> tuple[str, datetime | None]:
    """Return what hands do next and when; a bath with its own clock is only emptied."""
    starts, ends = load.starts_at, load.ends_at
    if starts is None or ends is None:
        return "", None
    # On the way up the stage's own hold follows, which no hand begins.
    held = after(parts, part) if part.kind == "rise" else part
    following = after(parts, held) if held else None
    if following is None or held is None or load.bath.starts_itself:
        return _("Take out at %(at)s") % {"at": clock(ends, now)}, ends
    due = starts + timedelta(minutes=held.ends)
    told = {"celsius": f"{following.celsius:g}", "at": clock(due, now)}
    if following.boil:
        return _("Bring to the boil at %(at)s") % told, due
    return _("Raise to %(celsius)s °C at %(at)s") % told, due


def _closed(load: Load, now: datetime) -> str:
    if load.open_from is None or load.open_from <= now:
        return ""
    return _("Do not open before %(at)s") % {"at": clock(load.open_from, now)}


def _cooling(load: Load, program: Program, now: datetime) -> LoadWords:
    closed = _closed(load, now)
    opens = load.open_from or now
    left = opens - timedelta(minutes=program.cooling_minutes)
    part = part_at(parts := cooling(program), (now - left).total_seconds() / 60)
    if part is None:
        return LoadWords(_("cools"), "running", _("Cools"), closed=closed)
    due = left + timedelta(minutes=part.ends)
    at = {"at": clock(due, now)}
    words = _("In tap water until %(at)s") if part.kind == "water" else _("In air until %(at)s")
    step = (
        _("Put into tap water at %(at)s") if after(parts, part) else _("May be opened from %(at)s")
    )
    return LoadWords(_("cools"), "running", words % at, step % at, due, closed)
