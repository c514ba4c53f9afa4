"""The labs that are photographed: with cases, without, and with the longest words there are."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta

from django.utils import timezone

from cases.models import Alert, Case, Heartbeat, Person, Practice
from cases.services.alarms import acknowledge, fire_due, ring
from cases.services.check import enter_checks
from cases.services.close_case import report_mishap, write_note
from cases.services.hold import ask_practice, hold_case
from cases.services.record import Recorder
from cases.services.stage import start_stage
from tests.factories import Shop, answers, make_case, make_shop, rows
from tests.walk import Clock, walk

LONG = "Gemeinschaftspraxis für Zahnheilkunde an der Alten Schiffswerft und am Oberen Stadtgraben"


@dataclass
class World:
    """A lab and the cases that pages are opened for, by what they are good for."""

    shop: Shop
    cases: dict[str, Case]

    def number(self, name: str) -> str:
        """Return the case number of a named case."""
        return self.cases[name].number


def empty() -> World:
    """Return a lab in which nothing has happened yet."""
    shop = make_shop(timezone.now() - timedelta(days=2))
    Heartbeat.objects.create(name="sweep", at=timezone.now() + timedelta(minutes=10))
    return World(shop, {})


def with_cases(*, long_words: bool = False) -> World:
    """Return a lab with a case in each kind of state that pages tell apart."""
    began = timezone.now() - timedelta(days=4)
    shop = make_shop(began)
    Heartbeat.objects.create(name="sweep", at=timezone.now() + timedelta(minutes=10))
    if long_words:
        rows(lambda record: _lengthen(record, shop), began)
    cases = {}
    appointment = (timezone.now() + timedelta(days=9)).date()
    today = began.date()
    for n, until in enumerate(("", "trim", "block-out", "wax", "clamp", "inspect", "send")):
        case = make_case(
            shop,
            now=began + timedelta(minutes=n),
            ref=f"REF-2026-0000/{n:02d}" if long_words else f"Q-11{n:02d}",
            appointment_on=appointment,
            ordered_on=today,
            replaces=[(36, 37, 46, 47), (45,), (34, 35, 36), (41, 31)][n % 4],
        )
        if until:
            walk(shop, case, Clock(began + timedelta(minutes=n)), until=until)
        case.refresh_from_db()
        cases[until or "new"] = case
    _bring_to_life(shop, cases, long_words=long_words)
    return World(shop, cases)


def _lengthen(record: Recorder, shop: Shop) -> dict[str, object]:
    record.change(shop.practice, name=LONG[:80])
    record.change(shop.people["mara"], name="Maximiliane-Theodora von und zu Hohenfeldkirchen")
    record.change(shop.dentist, name="Univ.-Prof. DDr. Lindhardt-Oberwasserlechner")
    record.change(shop.lab, name="Laboratorium für herausnehmbaren Zahnersatz an der Alten Mühle")
    return {}


def _bring_to_life(shop: Shop, cases: dict[str, Case], *, long_words: bool) -> None:
    """A stage in hand with a failed check, a question, a hold, a note, a mishap."""
    now = timezone.now()
    text = (LONG + " ") * 3 if long_words else "The bar has to be shorter on the left."
    wax = cases["wax"].stages.get(key="wax-pass")
    start_stage(shop.envelope("oren", now=now), stage=wax.pk, version=wax.version)
    wax.refresh_from_db()
    entries = answers(wax)
    entries[0]["yes"] = False
    enter_checks(shop.envelope("oren", now=now), stage=wax.pk, version=wax.version, checks=entries)
    survey = cases["trim"].stages.get(key="survey")
    start_stage(shop.envelope("mara", now=now), stage=survey.pk, version=survey.version)
    survey.refresh_from_db()
    report_mishap(
        shop.envelope("mara", now=now), stage=survey.pk, version=survey.version, words=text[:400]
    )
    write_note(
        shop.envelope("noor", now=now),
        case=cases["trim"].pk,
        text=text,
        telephone=True,
        from_whom="Remy",
    )
    ask_practice(shop.envelope("mara", now=now), case=cases["block-out"].pk, number=3)
    held = cases["new"]
    held.refresh_from_db()
    hold_case(
        shop.envelope("noor", now=now),
        case=held.pk,
        version=held.version,
        reason="on-order",
        waits_for="supplier",
        words=text[:200],
    )
    fire_due(now)
    ring(now)
    for alert in Alert.objects.order_by("pk")[2:]:
        acknowledge(shop.envelope("mara", now=now), alert=alert.pk)


def person(world: World, name: str) -> Person:
    """Return a person of the lab by name."""
    return world.shop.people[name]


def practice(world: World) -> Practice:
    """Return the practice whose cases these are."""
    return world.shop.practice
