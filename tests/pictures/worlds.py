"""The labs that are photographed: with cases, without, just set up, and with the longest words.

Everything in them is made by the services, at the instant that the tests pass in, so that two runs
photograph the same.
"""

from __future__ import annotations

from copy import deepcopy
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

from django.conf import settings
from django.contrib.auth.tokens import default_token_generator
from django.utils.encoding import force_bytes
from django.utils.http import urlsafe_base64_encode

from cases.domain.cure.program import Hold, Program, as_json
from cases.domain.order import Item
from cases.models import (
    Alert,
    Bath,
    Case,
    CaseStage,
    Heartbeat,
    Load,
    Person,
    Resin,
    RouteVersion,
    Shipment,
    Skill,
    Station,
    Tablet,
)
from cases.services.accounts import invite
from cases.services.alarms import acknowledge, fire_due, ring
from cases.services.check import enter_checks
from cases.services.close_case import report_mishap, write_note
from cases.services.cure_limits import change_cure_limits
from cases.services.dispatch import pack
from cases.services.dough import note_mix
from cases.services.hold import ask_practice, hold_case
from cases.services.load import add_flask, estimate, make_load
from cases.services.load_run import start_load
from cases.services.planner import mend
from cases.services.record import Envelope
from cases.services.remedies import reckon_wanted
from cases.services.resins import save_program, save_resin
from cases.services.setup import set_up
from cases.services.stage import start_stage
from cases.services.tablets import close_bench, open_bench
from cases.views.lab.route_draft import KEY as DRAFT
from tests.factories import NOW, PIN, Shop, answers, make_case, make_shop
from tests.pictures.long_words import LONG, lengthen, lengthen_route
from tests.rights.objects import named
from tests.rights.scene import make_scene, picture
from tests.walk import Clock, do_stage, photograph, walk

BEGAN = {"new": 0, "trim": 1, "block-out": 2, "wax": 5, "clamp": 6, "inspect": 7, "send": 9,
         "boil-out": 6, "separate": 6}  # fmt: skip
"""The cases that pages are opened for: how far each has come, and how many days ago it began."""
REPLACES = ((36, 37, 46, 47), (45,), (34, 35, 36), (41, 31))
FAST = Program("Fast", (Hold(100.0, 60.0, ramp_minutes=30.0, boil=True),), "leaflet of 2026")
WORDS = "The bar has to be shorter on the left."
MEASURED = "Measured in three flasks; the maker asks for nearly every minute."


@dataclass
class World:
    """A lab: the people in it by name, and what may stand in an address, by name.

    ``sessions`` holds what somebody's session has in it besides the sign-in.
    """

    people: dict[str, Person]
    objects: dict[str, Any] = field(default_factory=dict)
    sessions: dict[str, dict[str, Any]] = field(default_factory=dict)


def make_world(kind: str) -> World:
    """Make the lab of a kind: ``data``, ``long``, ``empty``, or ``fresh`` (just set up)."""
    if kind == "fresh":
        made = _fresh()
    elif kind == "empty":
        made = _of_shop(make_shop(NOW - timedelta(days=2)))
    else:
        made = _with_cases(long=kind == "long")
    _keep_photograph()
    for name in ("sweep", "plan"):
        Heartbeat.objects.create(name=name, at=NOW + timedelta(hours=2))
    if kind in {"data", "long"}:
        mend(NOW)
    _add_drafts(made)
    return made


def _keep_photograph() -> None:
    """Keep a picture where ``tests.walk`` says that its photographs lie."""
    path = Path(settings.MEDIA_ROOT) / "00" / f"{'0' * 64}.jpg"
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(picture().getvalue())


def _fresh() -> World:
    """Return a lab that its first manager has set up a minute ago."""
    made = set_up(
        Envelope("web", NOW - timedelta(minutes=1)), name="Test bench", manager="Pavo Zirbenthal",
        username="pavo", password="a long enough word", email="pavo@lab.example",
    )  # fmt: skip
    manager = Person.objects.get(pk=made.result["manager"])
    return World({"pavo": manager}, {"manager": manager.pk, **_of_the_route()})


def _of_the_route() -> dict[str, Any]:
    """Return what every lab has from its first minute."""
    skill, station = Skill.objects.order_by("pk").first(), Station.objects.order_by("pk").first()
    assert skill is not None
    assert station is not None
    return {"skill": skill.pk, "station": station.pk, "route version": 1,
            "stage key": "wax", "check number": 12}  # fmt: skip


def _of_shop(shop: Shop) -> World:
    """Return a lab with people and a practice, in which nothing has happened yet."""
    user = shop.people["vega"].user  # signs in nowhere, which would end the link
    assert user is not None
    _, invitation = invite(shop.envelope("pavo", now=NOW), person=shop.people["remy"].pk)
    objects = {
        "technician": shop.people["mara"].pk,
        "manager": shop.people["pavo"].pk,
        "practice": shop.practice.pk,
        "user": urlsafe_base64_encode(force_bytes(user.pk)),
        "reset token": default_token_generator.make_token(user),
        "invitation": invitation,
        "nobody": "bm9ib2R5",
        "nothing": "no-token",
        **_of_the_route(),
    }
    return World(dict(shop.people), objects)


def _with_cases(*, long: bool) -> World:
    """Return a lab with a case in each kind of state that pages tell apart."""
    shop = make_shop(NOW - timedelta(days=20))
    if long:
        lengthen_route(shop)
    cases = {
        until: _walked(shop, until, n, ref=f"REF-2026-0000/{n:02d}" if long else f"Q-11{n:02d}")
        for n, until in enumerate(BEGAN)
    }
    objects = named(make_scene(shop))
    objects["packed box"] = _packed(shop)
    objects |= _at_the_baths(shop, cases, why=(LONG + " ") * 4 if long else MEASURED)
    objects |= _in_hand(shop, cases, words=(LONG + " ") * 4 if long else WORDS)
    if long:
        lengthen(shop)
    objects |= {f"{until} case": case.number for until, case in cases.items()}
    objects |= {"bench case": objects["case"], "own words": 0}
    base = _of_shop(shop)
    return World(base.people, {**objects, **base.objects})


def _walked(shop: Shop, until: str, n: int, *, ref: str) -> Case:
    """Return a case that has come as far as ``until``."""
    began = NOW - timedelta(days=BEGAN[until], minutes=90 - n)
    case = make_case(
        shop, now=began, ref=ref, appointment_on=(NOW + timedelta(days=6 + n)).date(),
        ordered_on=(began - timedelta(days=1)).date(), replaces=REPLACES[n % 4],
    )  # fmt: skip
    if until != "new":
        walk(shop, case, Clock(began), until=until)
    case.refresh_from_db()
    return case


def _packed(shop: Shop) -> str:
    """Pack an adjustment; its box has not left. Return the box's number."""
    began = NOW - timedelta(days=2)
    case = make_case(
        shop, now=began, ref="Q-1121", kind="adjustment", description="Sore spot, lower right",
        items=(Item("old-piece"),), replaces=(), shade_how="", mould_how="", bite="",
        appointment_on=(NOW + timedelta(days=5)).date(),
        ordered_on=(began - timedelta(days=1)).date(),
    )  # fmt: skip
    walk(shop, case, Clock(began), until="soak")
    entry = {"case": case.pk, "checks": answers(case.stages.get(key="pack-out"))}
    made = pack(
        shop.envelope("noor", now=NOW), practice=shop.practice.pk, cases=[entry],
        ship_on=NOW.date().isoformat(),
    )  # fmt: skip
    return Shipment.objects.get(pk=made.result["shipment"]).number


def _at_the_baths(shop: Shop, cases: dict[str, Case], *, why: str) -> dict[str, Any]:
    """Let a load run, the heat model warn of another, and dough wait to be packed.

    The limits of the cure were changed after both loads were estimated.
    """
    resin = Resin.objects.get(active=True, name="Test resin")
    by = shop.envelope
    save_resin(
        by("pavo", now=NOW - timedelta(days=1)), resin=resin.pk, name=resin.name,
        source=resin.source, ratio_low=2.2, ratio_high=2.4, dough_from=8.0, dough_until=15.0,
        room_c=23.0,
    )  # fmt: skip
    fast = save_program(
        by("pavo", now=NOW - timedelta(days=1)), resin=resin.pk, program=as_json(FAST)
    ).result["program"]
    long = resin.programs.exclude(pk=fast).get().pk
    first, second = Bath.objects.filter(active=True).order_by("pk")[:2]
    warned = _gathered(shop, cases["wax"], second, fast, NOW - timedelta(minutes=20))
    reckon_wanted(NOW)
    running = _gathered(shop, cases["clamp"], first, long, NOW - timedelta(hours=2))
    start_load(by("mara", now=NOW - timedelta(hours=2)), load=running.number,
               version=running.version)  # fmt: skip
    change_cure_limits(
        by("pavo", now=NOW - timedelta(minutes=10)), reason=why,
        values={"complete_percent": 99.0, "gypsum_mm": 24.0},
    )  # fmt: skip
    return {
        "running load": running.number,
        "warned load": warned.number,
        "packing": _mixed(shop, cases["separate"], resin.pk).pk,
    }


def _gathered(shop: Shop, case: Case, bath: Bath, program: int, at: datetime) -> Load:
    """Return a load of one flask whose program was looked at."""
    by = shop.envelope("mara", now=at)
    made = make_load(by, bath=bath.pk, program=program)
    load = Load.objects.get(number=made.result["number"])
    flask = {"label": case.number, "thickest_mm": 5.0, "resin": load.program.resin_id}
    for verb, body in ((add_flask, flask), (estimate, {})):
        verb(shop.envelope("mara", now=at), load=load.number, version=load.version, **body)
        load.refresh_from_db()
    return load


def _mixed(shop: Shop, case: Case, resin: int) -> CaseStage:
    """Start a packing and mix: the dough may be packed since a minute ago."""
    stage, at = case.stages.get(key="pack"), NOW - timedelta(minutes=12)
    photo = photograph(shop, case, stage, at, "mara")
    start_stage(shop.envelope("mara", now=at), stage=stage.pk, version=stage.version, photo=photo)
    stage.refresh_from_db()
    note_mix(
        shop.envelope("mara", now=NOW - timedelta(minutes=9)), stage=stage.pk,
        version=stage.version, resin=resin, room_c=26.0,
    )  # fmt: skip
    return stage


def _in_hand(shop: Shop, cases: dict[str, Case], *, words: str) -> dict[str, Any]:
    """Bring the bench to life; return the stages that stand for each state, by name."""
    stages = {
        "failed stage": _failed(shop, cases["wax"]),
        "survey": _mishap(shop, cases["trim"], words),
        "signed stage": do_stage(
            shop, cases["boil-out"].stages.get(key="separate"), Clock(NOW - timedelta(hours=2)),
            who="teo",
        ),
        "waiting stage": cases["clamp"].stages.get(key="cool"),
        "held stage": _held(shop, cases["new"], words),
        "ready stage": cases["block-out"].stages.get(key="mount"),
        "done stage": cases["wax"].stages.get(key="wax"),
    }  # fmt: skip
    write_note(
        shop.envelope("noor", now=NOW), case=cases["wax"].pk, text=words, telephone=True,
        from_whom="Remy",
    )  # fmt: skip
    own = ask_practice(shop.envelope("mara", now=NOW), case=cases["inspect"].pk, words=words[:380])
    _put_down(shop, cases["block-out"])
    fire_due(NOW)
    ring(NOW)
    for alert in Alert.objects.order_by("-timer__due_at", "-pk")[2:]:
        acknowledge(shop.envelope("mara", now=NOW), alert=alert.pk)
    return {name: stage.pk for name, stage in stages.items()} | {
        "long question": own.result["question"]
    }


def _failed(shop: Shop, case: Case) -> CaseStage:
    """Start a stage and fail one of its checks."""
    stage = case.stages.get(key="wax-pass")
    at = NOW - timedelta(minutes=25)
    start_stage(shop.envelope("oren", now=at), stage=stage.pk, version=stage.version)
    stage.refresh_from_db()
    entries = answers(stage)
    entries[0]["yes"] = False
    enter_checks(shop.envelope("oren", now=at), stage=stage.pk, version=stage.version,
                 checks=entries)  # fmt: skip
    return stage


def _mishap(shop: Shop, case: Case, words: str) -> CaseStage:
    """Start a stage and tell of a mishap at it."""
    stage = case.stages.get(key="survey")
    by = shop.envelope("mara", now=NOW - timedelta(minutes=40))
    start_stage(by, stage=stage.pk, version=stage.version)
    stage.refresh_from_db()
    report_mishap(shop.envelope("mara", now=NOW - timedelta(minutes=20)), stage=stage.pk,
                  version=stage.version, words=words[:400])  # fmt: skip
    return stage


def _held(shop: Shop, case: Case, words: str) -> CaseStage:
    """Put a new case on hold; return its first stage."""
    hold_case(
        shop.envelope("noor", now=NOW), case=case.pk, version=case.version, reason="on-order",
        waits_for="supplier", words=words[:200],
    )  # fmt: skip
    return case.stages.get(key="receive")


def _put_down(shop: Shop, case: Case) -> None:
    """Let a student's tablet lock with a stage in hand: whether it went on is to be said."""
    stage, tablet = case.stages.get(key="bar"), Tablet.objects.get()

    def by(who: str, minutes: int) -> Envelope:
        at = NOW - timedelta(minutes=minutes)
        return Envelope("bench", at, shop.people[who].pk, tablet_id=tablet.pk)

    open_bench(by("teo", 61), person=shop.people["teo"].pk, pin=PIN)
    start_stage(by("teo", 60), stage=stage.pk, version=stage.version)
    close_bench(by("teo", 15))


def _add_drafts(world: World) -> None:
    """Let the manager have a changed route in hand, and once more one that cannot be saved."""
    saved = RouteVersion.objects.get()
    drafts = {"pavo drafting": deepcopy(saved.document), "pavo muddled": deepcopy(saved.document)}
    drafts["pavo drafting"]["stages"][0]["minutes"]["*"]["fixed"] = 6
    again = drafts["pavo muddled"]["edges"][0]
    drafts["pavo muddled"]["edges"].append({**again, "before": "send", "after": "receive"})
    for name, document in drafts.items():
        world.people[name] = world.people["pavo"]
        world.sessions[name] = {DRAFT: {"base": saved.version, "document": document}}
