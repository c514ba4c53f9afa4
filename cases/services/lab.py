"""The laboratory's own data: profile, hours, closed days, stations, baths and things."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, time
from itertools import pairwise
from typing import Any

from django.utils.text import slugify
from django.utils.translation import gettext as _

from cases.domain.cure.program import COLDEST_HOLD_C, HIGHEST_M, HOTTEST_HOLD_C, LOWEST_M
from cases.models import Bath, ClosedDay, Lab, OpenHours, Skill, Station, Thing
from cases.services.record import Recorder, Refusal, verb
from cases.services.setup import clean_profile, set_up

THING_KINDS = ("flask", "articulator", "clamp")
"""Kinds that the shop owns; a cast belongs to its case."""


def the_lab() -> Lab:
    """Return the laboratory, locked.

    Raises
    ------
    Refusal
        ``no-lab`` before it is set up.
    """
    lab = Lab.objects.select_for_update().first()
    if lab is None:
        raise Refusal("no-lab", _("Set the laboratory up first."))
    return lab


@verb("lab.profile", may="settings")
def change_profile(
    record: Recorder,
    *,
    name: str,
    address: str,
    zone: str,
    notation: str,
    paper: str,
    required_profile: str,
    idle_lock_minutes: int,
    lock_puts_down: bool,
    nudge_after_minutes: int,
    altitude_m: int,
) -> dict[str, Any]:
    """Change the laboratory's name, address, zone and usages."""
    lab = the_lab()
    clean_profile(
        name=name, zone=zone, notation=notation, paper=paper, required_profile=required_profile
    )
    if not 1 <= idle_lock_minutes <= 120:
        raise Refusal(
            "bad-idle", _("A tablet locks after 1 to 120 minutes."), field="idle_lock_minutes"
        )
    if not 10 <= nudge_after_minutes <= 600:
        raise Refusal(
            "bad-nudge", _("Enter between 10 and 600 minutes."), field="nudge_after_minutes"
        )
    if not LOWEST_M <= altitude_m <= HIGHEST_M:
        raise Refusal(
            "bad-altitude",
            _("Metres above the sea: between −430 and 5000."),
            field="altitude_m",
        )
    record.event("lab.profile-changed")
    record.change(
        lab,
        name=name.strip(),
        address=address.strip(),
        zone=zone,
        notation=notation,
        paper=paper,
        required_profile=required_profile,
        idle_lock_minutes=idle_lock_minutes,
        lock_puts_down=lock_puts_down,
        nudge_after_minutes=nudge_after_minutes,
        altitude_m=altitude_m,
    )
    return {"lab": lab.pk}


def read_spans(spans: Sequence[Sequence[Any]]) -> list[tuple[int, time, time]]:
    """Return ``[[weekday, "08:00", "12:00"], …]`` as weekday and times, in order.

    Raises
    ------
    Refusal
        ``bad-hours`` naming the weekday's field (``day-0`` …) for spans that run backwards or
        overlap.
    """
    read = sorted(
        (int(day), time.fromisoformat(begins), time.fromisoformat(ends))
        for day, begins, ends in spans
    )
    for day, begins, ends in read:
        if not 0 <= day <= 6 or begins >= ends:
            raise Refusal("bad-hours", _("Each span must end after it begins."), field=f"day-{day}")
    for earlier, later in pairwise(read):
        if earlier[0] == later[0] and earlier[2] > later[1]:
            raise Refusal(
                "bad-hours", _("The spans of one day overlap. Mend one."), field=f"day-{later[0]}"
            )
    return read


@verb("lab.hours", may="settings")
def set_hours(record: Recorder, *, hours: list[list[Any]]) -> dict[str, Any]:
    """Set the opening hours of the week anew: ``[[weekday, "08:00", "17:00"], …]``."""
    the_lab()
    read = read_spans(hours)
    if not read:
        raise Refusal(
            "never-open", _("Enter hours for one day at least; no date could be promised.")
        )
    record.event("lab.hours-set")
    wanted = set(read)
    for row in OpenHours.objects.all():
        span = (row.weekday, row.opens, row.closes)
        if span in wanted:
            wanted.remove(span)
        else:
            record.remove(row)
    for weekday, opens, closes in sorted(wanted):
        record.create(OpenHours, weekday=weekday, opens=opens, closes=closes)
    return {"spans": len(read)}


@verb("lab.closed-days", may="settings")
def add_closed_days(record: Recorder, *, days: list[list[str]]) -> dict[str, Any]:
    """Close the laboratory on days: ``[["2026-12-24", "Christmas Eve"], …]``.

    Days that are closed already are left as they are.
    """
    the_lab()
    if not days:
        raise Refusal("no-days", _("Choose one day at least."), field="days")
    known = set(ClosedDay.objects.values_list("day", flat=True))
    record.event("lab.closed-days-added")
    added = 0
    for text, words in days:
        day = date.fromisoformat(text)
        if day not in known:
            known.add(day)
            record.create(ClosedDay, day=day, words=words.strip()[:80] or _("Closed"))
            added += 1
    return {"added": added}


@verb("lab.closed-day-removed", may="settings")
def remove_closed_day(record: Recorder, *, closed_day: int) -> dict[str, Any]:
    """Open the laboratory on a day again."""
    row = ClosedDay.objects.select_for_update().filter(pk=closed_day).first()
    if row is None:
        raise Refusal("no-day", _("This day was opened again already."))
    record.event("lab.closed-day-removed", subject=row.day.isoformat())
    record.remove(row)
    return {"day": row.day}


def _free_key(model: type[Skill] | type[Station], name: str) -> str:
    base = slugify(name)[:26] or "x"
    key, number = base, 2
    while model.objects.filter(key=key).exists():
        key, number = f"{base}-{number}", number + 1
    return key


def _named(name: str) -> str:
    name = name.strip()
    if not name:
        raise Refusal("no-name", _("Enter a name."), field="name")
    return name[:60]


@verb("skill.save", may="settings")
def save_skill(record: Recorder, *, name: str, skill: int | None = None) -> dict[str, Any]:
    """Add a skill, or rename one."""
    name = _named(name)
    if Skill.objects.filter(name__iexact=name).exclude(pk=skill or 0).exists():
        raise Refusal("name-taken", _("There is a skill with this name."), field="name")
    if skill is None:
        record.event("skill.added")
        row = record.create(Skill, key=_free_key(Skill, name), name=name)
    else:
        row = Skill.objects.select_for_update().get(pk=skill)
        record.event("skill.changed", subject=row.key)
        record.change(row, name=name)
    return {"skill": row.pk, "key": row.key}


@verb("station.save", may="settings")
def save_station(
    record: Recorder, *, name: str, count: int, station: int | None = None
) -> dict[str, Any]:
    """Add a station, or change its name and how many people can work there at once."""
    name = _named(name)
    if not 1 <= count <= 99:
        raise Refusal("bad-count", _("Enter how many people fit: 1 to 99."), field="count")
    if Station.objects.filter(name__iexact=name).exclude(pk=station or 0).exists():
        raise Refusal("name-taken", _("There is a station with this name."), field="name")
    if station is None:
        record.event("station.added")
        row = record.create(Station, key=_free_key(Station, name), name=name, count=count)
    else:
        row = Station.objects.select_for_update().get(pk=station)
        record.event("station.changed", subject=row.key)
        record.change(row, name=name, count=count)
    return {"station": row.pk, "key": row.key}


@verb("bath.save", may="settings")
def save_bath(
    record: Recorder,
    *,
    name: str,
    capacity: int,
    highest_c: float | None = None,
    starts_itself: bool = False,
    active: bool = True,
    bath: int | None = None,
) -> dict[str, Any]:
    """Add a curing bath, change it, or take it out of use.

    ``highest_c`` is the hottest that it holds (None: it boils).
    """
    name = _named(name)[:40]
    if not 1 <= capacity <= 99:
        raise Refusal("bad-count", _("Enter how many flasks it takes: 1 to 99."), field="capacity")
    if Bath.objects.filter(name__iexact=name).exclude(pk=bath or 0).exists():
        raise Refusal("name-taken", _("There is a bath with this name."), field="name")
    if highest_c is not None and not COLDEST_HOLD_C <= highest_c <= HOTTEST_HOLD_C:
        raise Refusal(
            "bad-heat",
            _("A curing bath holds 65 to 103 °C at its hottest. Leave it empty if it boils."),
            field="highest_c",
        )
    values = {
        "name": name, "capacity": capacity, "highest_c": highest_c,
        "starts_itself": starts_itself, "active": active,
    }  # fmt: skip
    if bath is None:
        record.event("bath.added")
        row = record.create(Bath, **values)
    else:
        row = Bath.objects.select_for_update().get(pk=bath)
        record.event("bath.changed")
        record.change(row, **values)
    return {"bath": row.pk}


@verb("thing.add", may="settings")
def add_things(record: Recorder, *, kind: str, labels: list[str]) -> dict[str, Any]:
    """Add flasks, articulators or clamps by the numbers or names engraved on them."""
    if kind not in THING_KINDS:
        raise Refusal("bad-kind", _("Choose what it is."), field="kind")
    wanted = list(dict.fromkeys(label.strip().upper() for label in labels if label.strip()))
    if not wanted:
        raise Refusal("no-label", _("Enter the numbers, such as 1-8 or 1, 2, 5."), field="labels")
    too_long = [label for label in wanted if len(label) > 40]
    if too_long:
        raise Refusal("long-label", _("A number has at most 40 signs."), field="labels")
    there = Thing.objects.filter(kind=kind, case=None, label__in=wanted).exclude(state="gone")
    taken = ", ".join(there.values_list("label", flat=True))
    if taken:
        raise Refusal(
            "label-taken",
            _("%(labels)s: already there. Leave these out.") % {"labels": taken},
            field="labels",
        )
    record.event("things.added", subject=kind)
    for label in wanted:
        record.create(Thing, kind=kind, label=label)
    return {"added": len(wanted)}


@verb("thing.retire", may="settings")
def retire_thing(record: Recorder, *, thing: int) -> dict[str, Any]:
    """Take a flask, articulator or clamp out of use; refused while a case occupies it."""
    row = Thing.objects.select_for_update().filter(pk=thing, case=None).first()
    if row is None or row.state == "gone":
        raise Refusal("no-thing", _("This is out of use already."))
    held = row.occupations.select_related("case").filter(freed_at__isnull=True).first()
    if held is not None:
        raise Refusal(
            "occupied",
            _("%(case)s occupies it. Wait until it is free, or take the case out of it first.")
            % {"case": held.case.number},
        )
    record.event("thing.retired", subject=f"{row.kind} {row.label}")
    record.change(row, state="gone")
    return {"thing": row.pk}


__all__ = [
    "add_closed_days",
    "add_things",
    "change_profile",
    "read_spans",
    "remove_closed_day",
    "retire_thing",
    "save_bath",
    "save_skill",
    "save_station",
    "set_hours",
    "set_up",
]
