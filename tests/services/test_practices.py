"""Practices, dentists, receptions, and who of them may sign in."""

from __future__ import annotations

from typing import Any

import pytest

from cases.models import Dentist, Person, Practice
from cases.services import practices
from cases.services.verify_record import verify_record
from tests.factories import Shop, make_case, make_shop
from tests.services.test_tablets import refused

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop() -> Shop:
    return make_shop()


def test_desk_adds_a_practice_by_its_name_alone(shop: Shop) -> None:
    first = practices.add_practice(shop.envelope("noor"), name="Old Mill")
    second = practices.add_practice(shop.envelope("noor"), name="Orchard Mews")

    row = Practice.objects.get(pk=first.result["practice"])
    assert (row.code, second.result["code"]) == ("OM", "OM2")
    assert (row.ship_weekdays, row.transit_days, f"{row.cut_off:%H:%M}") == (
        [0, 1, 2, 3, 4],
        0,
        "16:00",
    )
    assert verify_record() == []


@pytest.mark.parametrize(
    ("entries", "code", "field"),
    [
        ({"name": ""}, "no-name", "name"),
        ({"name": "practice at the QUAY"}, "name-taken", "name"),
        ({"name": "New", "code": "Q"}, "code-taken", "code"),
        ({"name": "New", "code": "Q-1"}, "bad-code", "code"),
        ({"name": "New", "ship_weekdays": []}, "no-days", "ship_weekdays"),
        ({"name": "New", "ship_weekdays": [7]}, "no-days", "ship_weekdays"),
        ({"name": "New", "transit_days": -1}, "bad-transit", "transit_days"),
        ({"name": "New", "usual_borders": "wavy"}, "bad-choice", "usual_borders"),
        ({"name": "New", "usual_polish": "gold"}, "bad-choice", "usual_polish"),
    ],
)
def test_practice_is_refused_beside_the_field(
    shop: Shop, entries: dict[str, Any], code: str, field: str
) -> None:
    refusal = refused(code, practices.add_practice, shop.envelope("noor"), **entries)

    assert refusal.field == field


def test_practice_is_changed_by_a_manager(shop: Shop) -> None:
    entries = {"name": "Practice at the quay", "code": "QU", "cut_off": "12:30"}

    refused(
        "not-allowed",
        practices.change_practice,
        shop.envelope("noor"),
        practice=shop.practice.pk,
        **entries,
    )
    practices.change_practice(shop.envelope("pavo"), practice=shop.practice.pk, **entries)

    shop.practice.refresh_from_db()
    assert (shop.practice.code, f"{shop.practice.cut_off:%H:%M}") == ("QU", "12:30")
    refused("no-practice", practices.change_practice, shop.envelope("pavo"),
            practice=9999, **entries)  # fmt: skip


def test_practice_with_cases_here_stays_on_the_lists(shop: Shop) -> None:
    make_case(shop)
    pavo = shop.envelope

    refused("open-cases", practices.close_practice, pavo("pavo"), practice=shop.practice.pk)
    practices.close_practice(pavo("pavo"), practice=shop.other_practice.pk)
    refused("not-active", practices.close_practice, pavo("pavo"), practice=shop.other_practice.pk)
    practices.open_practice(pavo("pavo"), practice=shop.other_practice.pk)
    refused("active", practices.open_practice, pavo("pavo"), practice=shop.other_practice.pk)
    assert verify_record() == []


def test_dentist_sees_the_practices_where_they_work_and_no_others(shop: Shop) -> None:
    pavo = shop.envelope
    added = practices.add_dentist(
        shop.envelope("noor"), name="Dr Reed", practices=[shop.practice.pk]
    )
    dentist = Dentist.objects.get(pk=added.result["dentist"])
    given = practices.give_dentist_sign_in(pavo("pavo"), dentist=dentist.pk)
    practices.change_dentist(
        pavo("pavo"), dentist=dentist.pk, name="Dr Reed", practices=[shop.other_practice.pk]
    )

    person = Person.objects.get(pk=given.result["person"])
    assert person.roles == ("dentist",)
    assert [member.practice for member in person.memberships.all()] == [shop.other_practice]
    refused("has-one", practices.give_dentist_sign_in, pavo("pavo"), dentist=dentist.pk)
    assert verify_record() == []


def test_dentist_who_left_is_not_let_in(shop: Shop) -> None:
    practices.change_dentist(
        shop.envelope("pavo"),
        dentist=shop.dentist.pk,
        name="Dr Lind",
        practices=[shop.practice.pk],
        active=False,
    )

    assert not Person.objects.get(pk=shop.people["lind"].pk).active


def test_dentist_is_refused(shop: Shop) -> None:
    place = [shop.practice.pk]
    desk = shop.envelope

    refused("no-name", practices.add_dentist, desk("noor"), name=" ", practices=place)
    refused("no-practice", practices.add_dentist, desk("noor"), name="Dr Reed", practices=[])
    refused("no-practice", practices.add_dentist, desk("noor"), name="Dr Reed", practices=[9999])
    refused("name-taken", practices.add_dentist, desk("noor"), name="dr lind", practices=place)
    refused("not-allowed", practices.add_dentist, desk("lind"), name="Dr Reed", practices=place)
    refused("no-dentist", practices.give_dentist_sign_in, desk("pavo"), dentist=9999)
    refused("no-dentist", practices.change_dentist, desk("pavo"), dentist=9999, name="Dr Reed",
            practices=place)  # fmt: skip


def test_reception_comes_and_goes(shop: Shop) -> None:
    pavo = shop.envelope
    added = practices.add_reception(pavo("pavo"), practice=shop.practice.pk, name="Rosa")
    person = Person.objects.get(pk=added.result["person"])

    refused("name-taken", practices.add_reception, pavo("pavo"), practice=shop.practice.pk,
            name="rosa")  # fmt: skip
    refused("no-name", practices.add_reception, pavo("pavo"), practice=shop.practice.pk, name="")
    practices.remove_reception(pavo("pavo"), practice=shop.practice.pk, person=person.pk)

    person.refresh_from_db()
    assert (person.roles, person.active) == (("reception",), False)
    refused("no-member", practices.remove_reception, pavo("pavo"), practice=shop.practice.pk,
            person=shop.people["lind"].pk)  # fmt: skip
    assert verify_record() == []
