"""People: roles, skills, shifts, absences, PINs, coming and going."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest

from cases.models import Absence, Person, Submission
from cases.services import people
from cases.services.accounts import accept_invitation, invite
from cases.services.record import Refusal
from cases.services.secrets import is_right
from cases.services.verify_record import verify_record
from tests.factories import PIN, Shop, make_shop
from tests.services.test_tablets import refused, start_first_stage

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop() -> Shop:
    return make_shop()


def test_person_may_have_several_roles(shop: Shop) -> None:
    added = people.add_person(
        shop.envelope("pavo"), name=" Ilka ", roles=["desk", "technician"], is_student=True
    )

    row = Person.objects.get(pk=added.result["person"])
    assert (row.name, row.roles, row.is_student) == ("Ilka", ("desk", "technician"), True)
    assert verify_record() == []


@pytest.mark.parametrize(
    ("entries", "code", "field"),
    [
        ({"name": "", "roles": ["desk"]}, "no-name", "name"),
        ({"name": "mara", "roles": ["desk"]}, "name-taken", "name"),
        ({"name": "Ilka", "roles": []}, "no-role", "roles"),
        ({"name": "Ilka", "roles": ["dentist"]}, "no-role", "roles"),
        ({"name": "Ilka", "roles": ["desk"], "is_student": True}, "student", "is_student"),
    ],
)
def test_person_is_refused_beside_the_field(
    shop: Shop, entries: dict[str, Any], code: str, field: str
) -> None:
    refusal = refused(code, people.add_person, shop.envelope("pavo"), **entries)

    assert refusal.field == field


def test_only_a_manager_adds_people(shop: Shop) -> None:
    for who in ("mara", "noor", "lind"):
        refused("not-allowed", people.add_person, shop.envelope(who), name="X", roles=["desk"])


def test_last_manager_stays_manager(shop: Shop) -> None:
    pavo = shop.people["pavo"]
    change = {"person": pavo.pk, "name": "Pavo", "roles": ["desk"]}

    refused("last-manager", people.change_person, shop.envelope("pavo"), **change)
    people.change_person(
        shop.envelope("pavo"), person=shop.people["noor"].pk, name="Noor", roles=["manager"]
    )
    people.change_person(shop.envelope("pavo"), **change)

    pavo.refresh_from_db()
    assert pavo.roles == ("desk",)


def test_deactivated_person_is_out_with_session_and_link(shop: Shop) -> None:
    noor = shop.people["noor"]
    _outcome, token = invite(shop.envelope("pavo"), person=noor.pk)

    people.deactivate(shop.envelope("pavo"), person=noor.pk)

    noor.refresh_from_db()
    assert (noor.active, noor.user.is_active) == (False, False)
    refused(
        "no-invitation",
        accept_invitation,
        shop.envelope("pavo"),
        token=token,
        username="noor",
        password="gypsum sets slowly",
    )
    refused("not-active", people.deactivate, shop.envelope("pavo"), person=noor.pk)
    refused("no-person", invite, shop.envelope("pavo"), person=noor.pk)
    people.activate(shop.envelope("pavo"), person=noor.pk)
    refused("active", people.activate, shop.envelope("pavo"), person=noor.pk)
    assert verify_record() == []


def test_person_with_a_running_stage_is_not_deactivated(shop: Shop) -> None:
    start_first_stage(shop, "mara")

    refused("busy", people.deactivate, shop.envelope("pavo"), person=shop.people["mara"].pk)


def test_skills_are_set_as_a_whole(shop: Shop) -> None:
    mara = shop.people["mara"]
    entry = {"skill": "wax", "speed": "0.8", "countersign": True}

    people.set_skills(shop.envelope("pavo"), person=mara.pk, skills=[entry])

    held = mara.skills.get()
    assert (held.skill.key, held.speed, held.may_countersign) == ("wax", Decimal("0.8"), True)
    assert verify_record() == []


@pytest.mark.parametrize(
    ("who", "entry", "code"),
    [
        ("mara", {"skill": "wax", "speed": "0"}, "bad-speed"),
        ("mara", {"skill": "wax", "speed": "fast"}, "bad-speed"),
        ("mara", {"skill": "juggling"}, "no-skill"),
        ("teo", {"skill": "wax", "countersign": True}, "student"),
        ("noor", {"skill": "wax"}, "no-technician"),
    ],
)
def test_skills_are_refused(shop: Shop, who: str, entry: dict[str, Any], code: str) -> None:
    refused(
        code,
        people.set_skills,
        shop.envelope("pavo"),
        person=shop.people[who].pk,
        skills=[entry],
    )


def test_shifts_are_set_as_a_whole(shop: Shop) -> None:
    mara = shop.people["mara"]
    wanted = [[0, "08:00", "12:00"], [0, "13:00", "17:00"]]

    people.set_shifts(shop.envelope("pavo"), person=mara.pk, shifts=wanted)

    assert [f"{s.begins:%H:%M}-{s.ends:%H:%M}" for s in mara.shifts.all()] == [
        "08:00-12:00",
        "13:00-17:00",
    ]
    overlap = [[1, "08:00", "12:00"], [1, "11:00", "17:00"]]
    refusal = refused(
        "bad-hours", people.set_shifts, shop.envelope("pavo"), person=mara.pk, shifts=overlap
    )
    assert refusal.field == "day-1"
    assert verify_record() == []


@pytest.mark.parametrize("minutes", [None, 0, 1, 240])
def test_overtime_of_a_person_is_set(shop: Shop, minutes: int | None) -> None:
    mara = shop.people["mara"]
    people.set_overtime(shop.envelope("pavo"), person=mara.pk, minutes=30)
    people.set_overtime(shop.envelope("pavo"), person=mara.pk, minutes=minutes)

    mara.refresh_from_db()
    assert mara.overtime_minutes == minutes
    assert verify_record() == []


@pytest.mark.parametrize(
    ("who", "minutes", "code"),
    [("mara", -1, "bad-minutes"), ("mara", 241, "bad-minutes"), ("noor", 30, "no-technician")],
)
def test_overtime_that_makes_no_sense_is_refused(
    shop: Shop, who: str, minutes: int, code: str
) -> None:
    refused(
        code,
        people.set_overtime,
        shop.envelope("pavo"),
        person=shop.people[who].pk,
        minutes=minutes,
    )


def test_absence_is_entered_and_taken_back(shop: Shop) -> None:
    mara = shop.people["mara"]
    days = {"person": mara.pk, "first_on": "2026-12-10", "last_on": "2026-12-11"}

    added = people.add_absence(shop.envelope("pavo"), **days)
    refused("overlap", people.add_absence, shop.envelope("pavo"), **days)
    people.remove_absence(shop.envelope("pavo"), absence=added.result["absence"])

    assert not Absence.objects.exists()
    refused(
        "bad-days", people.add_absence, shop.envelope("pavo"),
        person=mara.pk, first_on="2026-12-11", last_on="2026-12-10",
    )  # fmt: skip
    refused("no-absence", people.remove_absence, shop.envelope("pavo"), absence=1)
    assert verify_record() == []


def test_new_pin_replaces_the_old_one_and_unlocks(shop: Shop) -> None:
    mara = shop.people["mara"]
    Person.objects.filter(pk=mara.pk).update(pin_failures=3, pin_locked_until="2026-12-09T23:00Z")

    outcome = people.set_pin(shop.envelope("pavo"), person=mara.pk, pin=" 97531 ")

    mara.refresh_from_db()
    assert is_right("97531", mara.pin_hash)
    assert (mara.pin_failures, mara.pin_locked_until) == (0, None)
    assert "97531" not in str(Submission.objects.get(pk=outcome.submission_id).result)
    assert verify_record() == []


@pytest.mark.parametrize("pin", ["", "123", "123456789", "12a4", "١٢٣٤"])
def test_pin_is_four_to_eight_digits(shop: Shop, pin: str) -> None:
    refused(
        "bad-pin", people.set_pin, shop.envelope("pavo"), person=shop.people["mara"].pk, pin=pin
    )


def test_pin_is_for_technicians(shop: Shop) -> None:
    refused(
        "no-technician",
        people.set_pin,
        shop.envelope("pavo"),
        person=shop.people["noor"].pk,
        pin="97531",
    )


def test_own_pin_needs_the_old_one(shop: Shop) -> None:
    mara = shop.people["mara"]

    refused("wrong-pin", people.change_own_pin, shop.envelope("mara"), old="0000", new="97531")
    people.change_own_pin(shop.envelope("mara"), old=PIN, new="97531")

    mara.refresh_from_db()
    assert is_right("97531", mara.pin_hash)


def test_same_submission_sets_the_same_pin_once(shop: Shop) -> None:
    envelope = shop.envelope("pavo")
    mara = shop.people["mara"]

    first = people.set_pin(envelope, person=mara.pk, pin="97531")
    second = people.set_pin(envelope, person=mara.pk, pin="97531")

    assert (first.repeated, second.repeated) == (False, True)
    with pytest.raises(Refusal, match="already sent with other entries"):
        people.set_pin(envelope, person=mara.pk, pin="86420")
