"""The moves of the manager for the laboratory: profile, hours, stations, things, route."""

from __future__ import annotations

import copy
from dataclasses import replace
from datetime import timedelta

from cases.domain.cure.program import LONG, Hold, as_json
from cases.models import (
    Bath,
    ClosedDay,
    CureProgram,
    Resin,
    RouteVersion,
    Skill,
    Station,
    Thing,
)
from cases.services import cure_limits, lab, probes, resins, route_edit, rule_limits
from cases.services.record import VERBS
from tests.machine.driver import Driver
from tests.machine.registry import move


@move(1)
def profile(m: Driver) -> None:
    """Change the profile; a lab without a name is none."""
    m.send(
        lab.change_profile,
        m.who("pavo"),
        name=m.words("Test bench"),
        address="",
        zone="Europe/Vienna",
        notation=m.pick.choice(["fdi", "universal", "runes"]),
        paper="a5",
        required_profile="longest",
        idle_lock_minutes=m.pick.choice([5, 6, 0]),
        lock_puts_down=m.pick.random() < 0.8,
        nudge_after_minutes=45,
        altitude_m=m.pick.choice([0, 450]),
    )


@move(1)
def hours(m: Driver) -> None:
    """Set the opening hours; a lab that never opens promises nothing."""
    closes = m.pick.choice(["17:00", "18:00"])
    open_days = m.pick.choice([5, 5, 5, 0])
    m.send(lab.set_hours, m.who("pavo"), hours=[[day, "08:00", closes] for day in range(open_days)])


@move(2)
def closed_days(m: Driver) -> None:
    """Close on a day, or open on it again."""
    row = m.one(list(ClosedDay.objects.order_by("pk")))
    if m.pick.random() < 0.5:
        m.send(lab.remove_closed_day, m.who("pavo"), closed_day=row.pk if row else 0)
        return
    day = (m.now + timedelta(days=m.pick.choice([1, 4, 30]))).date().isoformat()
    m.send(lab.add_closed_days, m.who("pavo"), days=m.pick.choice([[[day, "inventory"]], []]))


@move(1)
def skill(m: Driver) -> None:
    """Add a skill or rename one."""
    row = m.one([None, *Skill.objects.order_by("pk")])
    name = m.words(m.pick.choice(["Soldering", "Engraving"]))
    m.send(lab.save_skill, m.who("pavo"), name=name, skill=row.pk if row else None)


@move(1)
def station(m: Driver) -> None:
    """Add a station or change one."""
    row = m.one([None, *Station.objects.order_by("pk")])
    name = m.words(row.name if row else "Annex")
    number = row.pk if row else None
    count = m.pick.choice([1, 4, 0])
    m.send(lab.save_station, m.who("pavo"), name=name, count=count, station=number)


@move(1)
def bath(m: Driver) -> None:
    """Add a bath or change one."""
    row = m.one([None, *Bath.objects.order_by("pk")])
    m.send(
        lab.save_bath,
        m.who("pavo"),
        name=m.words(row.name if row else "Bath 2"),
        capacity=m.pick.choice([6, 4, 0]),
        active=m.pick.random() < 0.8,
        bath=row.pk if row else None,
    )


@move(2)
def own_things(m: Driver) -> None:
    """Buy flasks, or take one out of use; not while a case is in it."""
    if m.pick.random() < 0.5:
        labels = m.pick.choice([["1"], ["20"], ["21", "22"], []])
        m.send(lab.add_things, m.who("pavo"), kind="flask", labels=labels)
        return
    rows = list(Thing.objects.filter(case=None).order_by("pk"))
    spare = [row for row in rows if row.label.startswith("2")]
    m.send(lab.retire_thing, m.who("pavo"), thing=m.one(spare or rows).pk)


@move(1)
def limits(m: Driver) -> None:
    """Change a limit of a design rule, or put it back; beyond its bounds there is none."""
    tilt = m.pick.choice([8.0, 10.0, 12.0, 90.0])
    m.send(rule_limits.change_rule_limits, m.who("pavo"), values={"PATH-1": {"tilt": tilt}})


@move(1)
def limits_of_the_cure(m: Driver) -> None:
    """Change when a stage counts as complete, or put it back; without a reason nobody does."""
    complete = m.pick.choice([98.0, 99.5, 95.0, 85.0])
    reason = m.pick.choice([m.words("the leaflet says so"), ""])
    m.send(
        cure_limits.change_cure_limits,
        m.who("pavo"),
        values={"complete_percent": complete},
        reason=reason,
    )


@move(1)
def save_route(m: Driver) -> None:
    """Save the route with other minutes; open cases keep theirs."""
    newest = RouteVersion.objects.order_by("-version")[0]
    document = copy.deepcopy(newest.document)
    document["stages"][0]["minutes"]["*"]["fixed"] = m.pick.choice([4, 5, 6])
    base = newest.version - (m.pick.random() < 0.1)
    m.send(
        route_edit.save_route,
        m.who("pavo"),
        base=base,
        document=document,
        reason=m.words("it takes longer"),
    )


@move(1)
def set_up_again(m: Driver) -> None:
    """Set the laboratory up although it stands; refused always."""
    if m.pick.random() < 0.3:
        m.send(
            VERBS["lab.set-up"],
            None,
            profile={},
            manager="",
            username="",
            password_hash="",
            email="",
        )


@move(1)
def resin(m: Driver) -> None:
    """Add a resin or change one; a ratio in another unit is refused."""
    row = m.one([None, *Resin.objects.order_by("pk")])
    m.send(
        resins.save_resin,
        m.who("pavo"),
        name=m.words(row.name if row else "Rosewood base"),
        ratio_low=m.pick.choice([2.2, None, 23.0]),
        resin=row.pk if row else None,
    )


@move(2)
def program(m: Driver) -> None:
    """Save a program or a further version of one, or take one out of use."""
    rows = list(CureProgram.objects.order_by("pk"))
    if rows and m.pick.random() < 0.4:
        m.send(resins.retire_program, m.who("pavo"), program=m.one(rows).pk)
        return
    base = m.one([None, *rows])
    found = m.one(list(Resin.objects.order_by("pk")))
    minutes = m.pick.choice([480.0, 540.0, 0.0])
    m.send(
        resins.save_program,
        m.who("pavo"),
        resin=base.resin_id if base else found.pk if found else 0,
        program=as_json(replace(LONG, stages=(Hold(74.0, minutes),))),
        base=base.version if base else 0,
        reason=m.words("the leaflet says so"),
    )


@move(1)
def probe(m: Driver) -> None:
    """Check a probe of a bath; one that is far off is replaced."""
    m.send(
        probes.check_probe,
        m.who("pavo"),
        bath=m.one(list(Bath.objects.order_by("pk"))).pk,
        probe="P1",
        checked_on=m.now.date().isoformat(),
        reads_high_k=m.pick.choice([0.5, -1.0, 90.0]),
        against=m.words("glass thermometer"),
    )
