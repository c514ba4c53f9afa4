"""The tablet's door: names, PIN, change person, leave."""

from __future__ import annotations

import pytest
from django.test import Client
from django.urls import reverse

from cases.models import BenchSession
from cases.views.visitor import TABLET_COOKIE
from tests.factories import PIN, TABLET_TOKEN, make_shop

pytestmark = pytest.mark.django_db


@pytest.fixture
def tablet(client: Client) -> Client:
    """A browser that is an enrolled tablet."""
    client.cookies[TABLET_COOKIE] = TABLET_TOKEN
    return client


def test_names_are_shown_on_an_enrolled_tablet_only(client: Client) -> None:
    make_shop()

    stranger = client.get(reverse("cases:bench-names"))
    client.cookies[TABLET_COOKIE] = TABLET_TOKEN
    tablet = client.get(reverse("cases:bench-names"))

    assert (stranger.status_code, stranger["Location"]) == (302, reverse("cases:sign-in"))
    assert tablet.status_code == 200
    assert "Mara" in tablet.content.decode()
    assert "Noor" not in tablet.content.decode()


def test_pin_opens_the_bench_and_lock_closes_it(tablet: Client) -> None:
    shop = make_shop()
    mara = shop.people["mara"]

    opened = tablet.post(reverse("cases:bench-pin", args=[mara.pk]), {"pin": PIN})
    held = BenchSession.objects.get(closed_at=None).person
    locked = tablet.post(reverse("cases:bench-lock"))

    assert (opened.status_code, held) == (302, mara)
    assert locked["Location"] == reverse("cases:bench-names")
    assert BenchSession.objects.get().closed_how == "change"


def test_wrong_pin_says_what_is_left_beside_the_field(tablet: Client) -> None:
    shop = make_shop()

    answer = tablet.post(reverse("cases:bench-pin", args=[shop.people["mara"].pk]), {"pin": "1111"})

    assert answer.status_code == 422
    assert "4 tries are left" in answer.content.decode()
    assert not BenchSession.objects.exists()


def test_pin_page_of_somebody_who_is_no_technician_is_not_there(tablet: Client) -> None:
    shop = make_shop()

    answer = tablet.get(reverse("cases:bench-pin", args=[shop.people["noor"].pk]))

    assert answer.status_code == 404


def test_bench_on_a_computer_names_the_person_and_has_a_way_out(client: Client) -> None:
    shop = make_shop()
    user = shop.people["mara"].user
    assert user is not None
    client.force_login(user)

    page = client.get(reverse("cases:bench")).content.decode()
    bar = page.split("<header", 1)[1].split("</header>", 1)[0]

    assert f'<a href="{reverse("cases:account")}">Mara</a>' in bar
    assert f'action="{reverse("cases:sign-out")}"' in bar
    assert reverse("cases:bench-leave") in bar
    assert reverse("cases:bench-lock") not in bar


def test_bench_on_a_tablet_changes_the_person_and_does_not_sign_out(tablet: Client) -> None:
    shop = make_shop()
    tablet.post(reverse("cases:bench-pin", args=[shop.people["mara"].pk]), {"pin": PIN})

    page = tablet.get(reverse("cases:bench")).content.decode()

    assert f'action="{reverse("cases:bench-lock")}"' in page
    assert reverse("cases:sign-out") not in page


def test_own_pin_on_a_tablet_stands_in_the_frame_of_the_bench(tablet: Client) -> None:
    shop = make_shop()
    tablet.post(reverse("cases:bench-pin", args=[shop.people["mara"].pk]), {"pin": PIN})

    page = tablet.get(reverse("cases:own-pin")).content.decode()

    assert f'action="{reverse("cases:bench-lock")}"' in page
