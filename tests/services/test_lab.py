"""The laboratory: set up once, then its profile, hours, closed days, places and things."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest
from django.contrib.auth.models import User

from cases.domain.route import RouteTemplate, default_template
from cases.models import (
    Bath,
    ClosedDay,
    Lab,
    Occupied,
    OpenHours,
    Person,
    RouteVersion,
    Skill,
    Station,
    Thing,
)
from cases.services import lab
from cases.services.record import Envelope
from cases.services.verify_record import verify_record
from tests.factories import NOW, Shop, make_case, make_shop, rows
from tests.services.test_tablets import refused

pytestmark = pytest.mark.django_db

FIRST: dict[str, Any] = {
    "name": "Lindgasse dental laboratory",
    "zone": "Europe/Vienna",
    "manager": "Pavo",
    "username": "pavo",
    "password": "wax before noon 7",
}


def test_set_up_makes_everything_the_default_route_names() -> None:
    outcome = lab.set_up(Envelope("web", NOW), **FIRST)

    template = default_template()
    manager = Person.objects.get(pk=outcome.result["manager"])
    assert manager.roles == ("manager",)
    assert User.objects.get(person=manager).check_password(FIRST["password"])
    assert RouteTemplate.from_json(RouteVersion.objects.get().document) == template
    assert set(Skill.objects.values_list("key", flat=True)) >= {
        stage.skill for stage in template.stages if stage.skill
    }
    assert set(Station.objects.values_list("key", flat=True)) >= {
        stage.station for stage in template.stages if stage.station
    }
    assert OpenHours.objects.count() == 5
    assert verify_record() == []


def test_set_up_without_a_manager_is_for_the_demo_and_tests() -> None:
    outcome = lab.set_up(Envelope("command", NOW), name="Invented laboratory")

    assert outcome.result["manager"] is None
    assert not User.objects.exists()


@pytest.mark.parametrize(
    ("change", "code"),
    [
        ({"name": "  "}, "no-name"),
        ({"zone": "Mars/Olympus"}, "bad-zone"),
        ({"notation": "letters"}, "bad-notation"),
        ({"paper": "parchment"}, "bad-paper"),
        ({"required_profile": "none"}, "bad-profile"),
        ({"password": "short"}, "weak-password"),
        ({"username": "two words"}, "bad-username"),
    ],
)
def test_set_up_is_refused_and_leaves_nothing(change: dict[str, str], code: str) -> None:
    refused(code, lab.set_up, Envelope("web", NOW), **{**FIRST, **change})

    assert not Lab.objects.exists()
    assert not User.objects.exists()
    assert not Skill.objects.exists()


def test_there_is_one_laboratory() -> None:
    lab.set_up(Envelope("web", NOW), **FIRST)

    refused("set-up-before", lab.set_up, Envelope("web", NOW), **FIRST)


@pytest.fixture
def shop() -> Shop:
    return make_shop()


PROFILE: dict[str, Any] = {
    "name": "Other name",
    "address": "",
    "zone": "Europe/Lisbon",
    "notation": "palmer",
    "paper": "letter-half",
    "required_profile": "eu",
    "idle_lock_minutes": 3,
    "lock_puts_down": False,
    "nudge_after_minutes": 60,
    "altitude_m": 1600,
}


def test_profile_is_changed(shop: Shop) -> None:
    lab.change_profile(shop.envelope("pavo"), **PROFILE)

    shop.lab.refresh_from_db()
    assert (shop.lab.zone, shop.lab.idle_lock_minutes) == ("Europe/Lisbon", 3)
    assert verify_record() == []


@pytest.mark.parametrize(
    ("change", "code"),
    [
        ({"zone": "Mars"}, "bad-zone"),
        ({"idle_lock_minutes": 0}, "bad-idle"),
        ({"nudge_after_minutes": 9}, "bad-nudge"),
        ({"altitude_m": 5001}, "bad-altitude"),
        ({"altitude_m": -431}, "bad-altitude"),
    ],
)
def test_profile_is_refused(shop: Shop, change: dict[str, Any], code: str) -> None:
    refused(code, lab.change_profile, shop.envelope("pavo"), **{**PROFILE, **change})


def test_settings_are_for_managers(shop: Shop) -> None:
    refused("not-allowed", lab.change_profile, shop.envelope("noor"), **PROFILE)
    refused("not-allowed", lab.set_hours, shop.envelope("mara"), hours=[[0, "08:00", "17:00"]])
    refused("not-allowed", lab.save_bath, shop.envelope("lind"), name="Bath 9", capacity=1)


def test_hours_change_only_what_differs(shop: Shop) -> None:
    monday = OpenHours.objects.get(weekday=0)

    lab.set_hours(shop.envelope("pavo"), hours=[[0, "08:00", "17:00"], [5, "09:00", "12:00"]])

    assert OpenHours.objects.get(weekday=0).pk == monday.pk
    assert list(OpenHours.objects.values_list("weekday", flat=True)) == [0, 5]
    refused("never-open", lab.set_hours, shop.envelope("pavo"), hours=[])
    refused("bad-hours", lab.set_hours, shop.envelope("pavo"), hours=[[0, "17:00", "08:00"]])
    assert verify_record() == []


def test_closed_days_are_added_once(shop: Shop) -> None:
    day = ["2026-12-24", "Christmas Eve"]

    first = lab.add_closed_days(shop.envelope("pavo"), days=[day, day])
    second = lab.add_closed_days(shop.envelope("pavo"), days=[day])
    row = ClosedDay.objects.get()
    lab.remove_closed_day(shop.envelope("pavo"), closed_day=row.pk)

    assert (first.result["added"], second.result["added"]) == (1, 0)
    assert row.day == date(2026, 12, 24)
    refused("no-day", lab.remove_closed_day, shop.envelope("pavo"), closed_day=row.pk)
    refused("no-days", lab.add_closed_days, shop.envelope("pavo"), days=[])
    assert verify_record() == []


def test_skills_stations_and_baths_have_names_of_their_own(shop: Shop) -> None:
    pavo = shop.envelope
    lab.save_skill(pavo("pavo"), name="Laser")
    lab.save_station(pavo("pavo"), name="Laser", count=1)

    refused("name-taken", lab.save_skill, pavo("pavo"), name="laser")
    refused("name-taken", lab.save_station, pavo("pavo"), name="laser", count=1)
    refused("name-taken", lab.save_bath, pavo("pavo"), name="bath 1", capacity=3)
    refused("no-name", lab.save_skill, pavo("pavo"), name=" ")
    refused("bad-count", lab.save_station, pavo("pavo"), name="X", count=0)
    refused("bad-count", lab.save_bath, pavo("pavo"), name="X", capacity=100)
    refused("bad-heat", lab.save_bath, pavo("pavo"), name="X", capacity=4, highest_c=180.0)
    lab.save_bath(pavo("pavo"), name="X", capacity=4, highest_c=98.5, starts_itself=True)
    bath = Bath.objects.get(name="X")
    assert (bath.highest_c, bath.starts_itself, bath.active) == (98.5, True, True)
    assert verify_record() == []


def test_things_are_added_and_retired(shop: Shop) -> None:
    lab.add_things(shop.envelope("pavo"), kind="flask", labels=["9", " a1 ", "9"])
    nine = Thing.objects.get(kind="flask", label="9")

    lab.retire_thing(shop.envelope("pavo"), thing=nine.pk)
    again = lab.add_things(shop.envelope("pavo"), kind="flask", labels=["9"])

    assert Thing.objects.filter(kind="flask", label="A1").exists()
    assert again.result["added"] == 1
    refused("no-thing", lab.retire_thing, shop.envelope("pavo"), thing=nine.pk)
    refused("label-taken", lab.add_things, shop.envelope("pavo"), kind="flask", labels=["9"])
    refused("no-label", lab.add_things, shop.envelope("pavo"), kind="flask", labels=[" "])
    refused("bad-kind", lab.add_things, shop.envelope("pavo"), kind="cast", labels=["9"])
    assert verify_record() == []


def test_occupied_thing_is_not_retired(shop: Shop) -> None:
    case = make_case(shop)
    flask = Thing.objects.filter(kind="flask", case=None).first()
    rows(
        lambda record: {
            "held": record.create(
                Occupied, thing=flask, case=case, from_stage="flask-lower",
                until_stage="deflask", since=NOW,
            )
        }
    )  # fmt: skip

    refusal = refused("occupied", lab.retire_thing, shop.envelope("pavo"), thing=flask.pk)

    assert case.number in refusal.sentence
