"""The settings pages: who sees them, and one change through each of them."""

from __future__ import annotations

from datetime import date

import pytest
from django.core import mail
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from cases.models import (
    Bath,
    ClosedDay,
    Lab,
    OpenHours,
    Person,
    Practice,
    Skill,
    Station,
    Tablet,
    Thing,
)
from cases.views.visitor import TABLET_COOKIE, token_hash
from tests.factories import Shop, make_shop

pytestmark = pytest.mark.django_db

PAGES = (
    "lab",
    "lab-profile",
    "people",
    "skills",
    "hours",
    "lab-planning",
    "closed-days",
    "closed-days-holidays",
    "stations",
    "baths",
    "resins",
    "things",
    "practices",
    "practice-new",
    "tablets",
    "design-rules",
    "route",
    "route-versions",
    "route-review",
    "route-stage-new",
    "route-check-new",
)


@pytest.fixture
def shop() -> Shop:
    return make_shop()


@pytest.fixture
def manager(client: Client, shop: Shop) -> Client:
    """A browser in which the manager is signed in."""
    client.force_login(shop.people["pavo"].user)
    return client


@pytest.mark.parametrize("name", PAGES)
def test_settings_page_is_seen_by_the_manager_only(client: Client, shop: Shop, name: str) -> None:
    url = reverse(f"cases:{name}")
    seen = {"nobody": client.get(url).status_code}
    for who in ("mara", "noor", "lind", "remy", "pavo"):
        client.force_login(shop.people[who].user)
        seen[who] = client.get(url).status_code

    assert seen == {
        "nobody": 302,
        "mara": 404,
        "noor": 404,
        "lind": 404,
        "remy": 404,
        "pavo": 200,
    }


def test_index_names_what_is_missing(manager: Client) -> None:
    text = manager.get(reverse("cases:lab")).content.decode()

    assert "2 things are still missing" in text
    assert "Without a program no load can be made." in text
    assert "No holiday is entered" in text


def test_profile_is_saved(manager: Client) -> None:
    entries = {
        "name": "Other name",
        "address": "",
        "zone": "Europe/Lisbon",
        "notation": "palmer",
        "paper": "letter-half",
        "required_profile": "eu",
        "idle_lock_minutes": "3",
        "nudge_after_minutes": "60",
        "altitude_m": "1600",
    }

    answer = manager.post(reverse("cases:lab-profile"), entries)

    lab = Lab.objects.get()
    assert answer.status_code == 302
    assert (lab.name, lab.zone, lab.notation) == ("Other name", "Europe/Lisbon", "palmer")
    assert lab.altitude_m == 1600


def test_profile_keeps_what_was_typed(manager: Client) -> None:
    answer = manager.post(reverse("cases:lab-profile"), {"name": "Other name", "zone": "Mars"})

    assert answer.status_code == 422
    assert 'value="Other name"' in answer.content.decode()


def test_planner_is_told_how_to_weigh(manager: Client) -> None:
    entries = {
        "plan_seconds": "45", "plan_overtime": "on", "plan_overtime_minutes": "90",
        "rush_weight": "6", "remake_weight": "2.5",
    }  # fmt: skip

    answer = manager.post(reverse("cases:lab-planning"), entries)

    lab = Lab.objects.get()
    assert answer.status_code == 302
    assert (lab.plan_seconds, lab.plan_overtime, lab.plan_overtime_minutes) == (45, True, 90)
    assert (lab.rush_weight, lab.remake_weight) == (6, 2.5)
    index = manager.get(reverse("cases:lab")).content.decode()
    assert "a plan is improved for 45 seconds, overtime is planned" in index


def test_planner_is_told_nothing_that_makes_no_sense(manager: Client) -> None:
    entries = {"plan_seconds": "601", "rush_weight": "0.5", "remake_weight": "2.5"}

    answer = manager.post(reverse("cases:lab-planning"), entries)

    page = answer.content.decode()
    assert answer.status_code == 422
    assert "less than or equal to 600" in page
    assert "greater than or equal to 1" in page
    assert 'value="601"' in page


def test_hours_are_written_as_people_write_them(manager: Client) -> None:
    entries = {"day-0": "8-12, 13:30 - 17", "day-5": "9:00–12:00"}

    answer = manager.post(reverse("cases:hours"), entries)

    spans = [(h.weekday, f"{h.opens:%H:%M}", f"{h.closes:%H:%M}") for h in OpenHours.objects.all()]
    assert answer.status_code == 302
    assert spans == [(0, "08:00", "12:00"), (0, "13:30", "17:00"), (5, "09:00", "12:00")]


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        ("morning", "is no span of hours"),
        ("25:00-26:00", "is no span of hours"),
        ("12-8", "must end after it begins"),
        ("8-12, 11-17", "overlap"),
    ],
)
def test_wrong_hours_are_refused_beside_the_day(manager: Client, typed: str, sentence: str) -> None:
    answer = manager.post(reverse("cases:hours"), {"day-1": typed})

    text = answer.content.decode()
    assert answer.status_code == 422
    assert sentence in text
    assert typed in text
    assert OpenHours.objects.count() == 5


def test_holidays_of_a_country_are_added_when_ticked(manager: Client) -> None:
    url = reverse("cases:closed-days-holidays")
    asked = {"country": "AT", "year": "2027"}
    shown = manager.get(url, asked).content.decode()

    manager.post(url, {**asked, "day": ["2027-01-06"]})

    assert "Epiphany" in shown
    assert list(ClosedDay.objects.values_list("day", "words")) == [(date(2027, 1, 6), "Epiphany")]


def test_closed_days_in_a_row_are_added_and_taken_back(manager: Client) -> None:
    url = reverse("cases:closed-days")
    manager.post(url, {"day": "2099-08-03", "until": "2099-08-05", "words": "Works holiday"})
    first = ClosedDay.objects.first()
    assert first is not None

    manager.post(reverse("cases:closed-day-remove", args=[first.pk]))

    assert list(ClosedDay.objects.values_list("day", flat=True)) == [
        date(2099, 8, 4),
        date(2099, 8, 5),
    ]


def test_shelves_take_a_new_row_and_change_one(manager: Client) -> None:
    manager.post(reverse("cases:skills"), {"name": "Laser welding"})
    manager.post(reverse("cases:stations"), {"name": "Laser", "count": "1"})
    bath = Bath.objects.get()
    manager.post(reverse("cases:bath-change", args=[bath.pk]), {"name": "Bath 1", "capacity": "8"})

    bath.refresh_from_db()
    assert Skill.objects.get(name="Laser welding").key == "laser-welding"
    assert Station.objects.get(name="Laser").key == "laser"
    assert (bath.capacity, bath.active) == (8, False)


def test_things_are_added_by_their_numbers(manager: Client) -> None:
    answer = manager.post(reverse("cases:things"), {"kind": "flask", "labels": "9-11, X1"})
    again = manager.post(reverse("cases:things"), {"kind": "flask", "labels": "11"})

    labels = Thing.objects.filter(kind="flask").values_list("label", flat=True)
    assert answer.status_code == 302
    assert {"9", "10", "11", "X1"} <= set(labels)
    assert again.status_code == 422
    assert "11: already there" in again.content.decode()


def test_device_becomes_a_tablet_and_the_manager_is_signed_out(manager: Client) -> None:
    answer = manager.post(reverse("cases:tablets"), {"name": "Bench 7", "station": ""})

    cookie = answer.cookies[TABLET_COOKIE]
    assert answer["Location"] == reverse("cases:bench-names")
    assert cookie["httponly"]
    assert Tablet.objects.get(name="Bench 7").token_hash == token_hash(cookie.value)
    assert "_auth_user_id" not in manager.session
    assert manager.get(reverse("cases:lab"))["Location"] == reverse("cases:bench-names")


def test_revoked_tablet_sees_no_names(manager: Client, shop: Shop) -> None:
    tablet = Tablet.objects.get()

    manager.post(reverse("cases:tablet-revoke", args=[tablet.pk]))
    other = Client()
    other.cookies[TABLET_COOKIE] = "tablet-token-for-tests"

    assert other.get(reverse("cases:bench-names"))["Location"] == reverse("cases:sign-in")


@pytest.mark.parametrize(
    ("entries", "stored"),
    [
        ({"overtime": "own", "minutes": "45"}, 45),
        ({"overtime": "none", "minutes": "45"}, 0),
        ({"overtime": "lab", "minutes": ""}, None),
    ],
)
def test_overtime_of_a_person_is_theirs_or_the_laboratorys(
    manager: Client, shop: Shop, entries: dict[str, str], stored: int | None
) -> None:
    mara = shop.people["mara"]
    Person.objects.filter(pk=mara.pk).update(overtime_minutes=20)
    url = reverse("cases:person", args=[mara.pk])

    answer = manager.post(url, {"what": "overtime", **entries})

    mara.refresh_from_db()
    assert answer.status_code == 302
    assert mara.overtime_minutes == stored
    shown = manager.get(url).context["forms"]["overtime"].initial
    assert (shown["overtime"], shown.get("minutes")) == (
        entries["overtime"], stored if stored else None,
    )  # fmt: skip


def test_minutes_of_overtime_are_asked_for_beside_the_field(manager: Client, shop: Shop) -> None:
    url = reverse("cases:person", args=[shop.people["mara"].pk])

    answer = manager.post(url, {"what": "overtime", "overtime": "own", "minutes": ""})

    assert answer.status_code == 422
    assert answer.context["forms"]["overtime"].errors == {"minutes": ["Enter how many minutes."]}
    Lab.objects.update(plan_overtime=True, plan_overtime_minutes=75)
    assert "as the laboratory says: 75 minutes after a shift" in manager.get(url).content.decode()


def test_person_goes_from_a_name_to_skills_shifts_and_pin(manager: Client) -> None:
    manager.post(reverse("cases:people"), {"name": "Ilka V.", "roles": ["technician"]})
    ilka = Person.objects.get(name="Ilka V.")
    url = reverse("cases:person", args=[ilka.pk])

    manager.post(url, {"what": "skills", "has-wax": "on", "speed-wax": "0.8", "signs-wax": "on"})
    manager.post(url, {"what": "shifts", "day-0": "8-12"})
    manager.post(url, {"what": "pin", "pin": "135790"})
    refused = manager.post(url, {"what": "pin", "pin": "12"})

    ilka.refresh_from_db()
    held = ilka.skills.get()
    assert (held.skill.key, str(held.speed), held.may_countersign) == ("wax", "0.80", True)
    assert ilka.shifts.count() == 1
    assert ilka.pin_hash
    assert refused.status_code == 422
    assert "4 to 8 digits" in refused.content.decode()


def test_invitation_is_shown_once_and_mailed(manager: Client, shop: Shop) -> None:
    url = reverse("cases:person", args=[shop.people["mara"].pk])

    shown = manager.post(url, {"what": "invite", "email": "mara@lab.example"})
    later = manager.get(url)

    assert "/invitation/" in shown.content.decode()
    assert "/invitation/" not in later.content.decode()
    assert "/invitation/" in mail.outbox[0].body
    assert mail.outbox[0].to == ["mara@lab.example"]


def test_last_manager_is_not_let_go(manager: Client, shop: Shop) -> None:
    answer = manager.post(
        reverse("cases:person-deactivate", args=[shop.people["pavo"].pk]), follow=True
    )

    assert "is the last manager" in answer.content.decode()
    assert Person.objects.get(pk=shop.people["pavo"].pk).active


def test_people_of_practices_have_no_page_here(manager: Client, shop: Shop) -> None:
    assert manager.get(reverse("cases:person", args=[shop.people["lind"].pk])).status_code == 404


def test_practice_with_dentist_and_reception(manager: Client) -> None:
    entries = {
        "name": "Practice by the mill",
        "ship_weekdays": ["1", "3"],
        "transit_days": "1",
        "cut_off": "15:30",
        "usual_borders": "left-full",
    }
    manager.post(reverse("cases:practice-new"), entries)
    mill = Practice.objects.get(name="Practice by the mill")
    url = reverse("cases:practice-settings", args=[mill.pk])
    manager.post(url, {"what": "dentist", "name": "Dr Mill", "practices": [str(mill.pk)]})
    manager.post(url, {"what": "reception", "name": "Rosa"})
    dentist = mill.dentists.get().dentist
    manager.post(reverse("cases:dentist-sign-in", args=[mill.pk, dentist.pk]))
    dentist.refresh_from_db()
    shown = manager.post(url, {"what": "invite", "person": str(dentist.person_id)})
    stranger = manager.post(url, {"what": "invite", "person": "999999"})

    assert (mill.code, mill.ship_weekdays, mill.usual_borders) == ("PBTM", [1, 3], "left-full")
    names = mill.members.values_list("person__name", flat=True)
    assert set(names) == {"Dr Mill", "Rosa"}
    assert "/invitation/" in shown.content.decode()
    assert stranger.status_code == 404


def test_dentist_sees_no_more_than_the_ticked_practices(manager: Client, shop: Shop) -> None:
    dentist = shop.dentist
    entries = {"name": "Dr Lind", "practices": [str(shop.other_practice.pk)], "active": "on"}

    manager.post(reverse("cases:dentist-change", args=[dentist.pk]), entries)

    practices = shop.people["lind"].memberships.values_list("practice__name", flat=True)
    assert list(practices) == ["Upper Town"]


def test_list_pages_ask_as_often_for_many_rows(
    manager: Client,
) -> None:
    def count(name: str) -> int:
        with CaptureQueriesContext(connection) as queries:
            manager.get(reverse(f"cases:{name}"))
        return len(queries)

    names = ("people", "practices", "things", "stations")
    few = [count(name) for name in names]
    for n in range(12):
        manager.post(reverse("cases:people"), {"name": f"P{n}", "roles": ["technician"]})
        manager.post(reverse("cases:stations"), {"name": f"Place {n}", "count": "1"})
        Practice.objects.create(name=f"Practice {n}", code=f"X{n}", cut_off="16:00")
    manager.post(reverse("cases:things"), {"kind": "flask", "labels": "100-160"})

    assert [count(name) for name in names] == few
