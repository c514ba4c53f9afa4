"""Signing in and out, first run, home, invitations and passwords."""

from __future__ import annotations

import re
from datetime import timedelta

import pytest
import time_machine
from django.contrib.auth.models import User
from django.core import mail
from django.test import Client
from django.urls import reverse
from pytest_django import Settings

from cases.demo import people
from cases.models import Lab, Person
from cases.services.accounts import invite
from cases.views.visitor import TABLET_COOKIE
from tests.factories import NOW, TABLET_TOKEN, make_shop

pytestmark = pytest.mark.django_db

FIRST = {
    "name": "Lindgasse dental laboratory",
    "address": "Lindgasse 4",
    "zone": "Europe/Vienna",
    "notation": "fdi",
    "paper": "a5",
    "required_profile": "longest",
    "manager": "Pavo K.",
    "username": "pavo",
    "email": "",
    "password": "wax before noon 7",
}


def sign_in(client: Client, name: str) -> None:
    client.post(reverse("cases:sign-in"), {"username": name, "password": f"{name}-pass-2026"})


def test_home_of_an_empty_installation_is_the_first_run_page(client: Client) -> None:
    answer = client.get("/")

    assert answer["Location"] == reverse("cases:first-run")
    page = client.get(answer["Location"])
    assert page.status_code == 200
    assert "works with labflow" not in page.content.decode()


def test_first_run_makes_lab_and_manager_and_signs_in(client: Client) -> None:
    answer = client.post(reverse("cases:first-run"), FIRST)

    assert answer["Location"] == reverse("cases:lab")
    assert Lab.objects.get().name == "Lindgasse dental laboratory"
    assert Person.objects.get().roles == ("manager",)
    assert client.session["_auth_user_id"] == str(User.objects.get().pk)


def test_first_run_keeps_what_was_typed_when_the_password_is_weak(client: Client) -> None:
    answer = client.post(reverse("cases:first-run"), {**FIRST, "password": "12345"})

    text = answer.content.decode()
    assert answer.status_code == 422
    assert "too short" in text
    assert 'value="Pavo K."' in text
    assert not Lab.objects.exists()


def test_first_run_is_refused_when_there_is_a_lab(client: Client) -> None:
    make_shop()

    seen = client.get(reverse("cases:first-run"))
    sent = client.post(reverse("cases:first-run"), FIRST)

    assert seen["Location"] == reverse("cases:home")
    assert sent.status_code == 422
    assert "set up already" in sent.content.decode()


@pytest.mark.parametrize(
    ("who", "where"),
    [
        ("mara", "cases:bench"),
        ("noor", "cases:desk"),
        ("pavo", "cases:today"),
        ("lind", "cases:practice"),
        ("remy", "cases:practice"),
    ],
)
def test_home_leads_each_role_to_its_page(client: Client, who: str, where: str) -> None:
    make_shop()
    sign_in(client, who)

    answer = client.get("/")

    assert answer["Location"] == reverse(where)


def test_home_of_a_tablet_is_the_names(client: Client) -> None:
    make_shop()
    client.cookies[TABLET_COOKIE] = TABLET_TOKEN

    assert client.get("/")["Location"] == reverse("cases:bench-names")


def test_wrong_password_does_not_say_which_was_wrong(client: Client) -> None:
    make_shop()

    known = client.post(reverse("cases:sign-in"), {"username": "mara", "password": "x"})
    unknown = client.post(reverse("cases:sign-in"), {"username": "nobody", "password": "x"})

    words = "This user name and password do not go together"
    assert [known.status_code, unknown.status_code] == [422, 422]
    assert words in known.content.decode()
    assert words in unknown.content.decode()


def test_five_wrong_passwords_make_even_the_right_one_wait(client: Client) -> None:
    make_shop()
    url = reverse("cases:sign-in")
    right = {"username": "mara", "password": "mara-pass-2026"}

    with time_machine.travel(NOW, tick=False):
        for _try in range(5):
            client.post(url, {"username": "mara", "password": "x"})
        refused = client.post(url, right)
    with time_machine.travel(NOW + timedelta(minutes=6), tick=False):
        accepted = client.post(url, right)

    assert refused.status_code == 422
    assert "Wait until 10:48" in refused.content.decode()
    assert accepted.status_code == 302


def test_sign_in_leads_only_to_addresses_of_this_site(client: Client) -> None:
    make_shop()
    entries = {"username": "noor", "password": "noor-pass-2026"}

    away = client.post(reverse("cases:sign-in"), {**entries, "next": "//elsewhere.example/"})
    client.post(reverse("cases:sign-out"))
    here = client.post(reverse("cases:sign-in"), {**entries, "next": "/desk/log/"})

    assert away["Location"] == "/"
    assert here["Location"] == "/desk/log/"


def test_sign_out_ends_the_session(client: Client) -> None:
    make_shop()
    sign_in(client, "noor")

    client.post(reverse("cases:sign-out"))

    assert "_auth_user_id" not in client.session


def test_deactivated_person_is_not_let_in(client: Client) -> None:
    shop = make_shop()
    Person.objects.filter(pk=shop.people["noor"].pk).update(active=False)

    answer = client.post(
        reverse("cases:sign-in"), {"username": "noor", "password": "noor-pass-2026"}
    )

    assert answer.status_code == 422
    assert "no longer in use" in answer.content.decode()


def test_invitation_works_once(client: Client) -> None:
    shop = make_shop()
    with time_machine.travel(NOW, tick=False):
        _outcome, token = invite(shop.envelope("pavo"), person=shop.people["noor"].pk)
        url = reverse("cases:invitation", args=[token])
        entries = {"username": "noor", "email": "", "password": "gypsum sets slowly"}
        shown = client.get(url)
        taken = client.post(url, entries)
        again = Client().get(url)

    assert shown.status_code == 200
    assert taken["Location"] == reverse("cases:home")
    assert client.session["_auth_user_id"] == str(shop.people["noor"].user_id)
    assert again.status_code == 410
    assert User.objects.get(username="noor").check_password("gypsum sets slowly")


def test_reset_by_mail_sets_a_new_password(client: Client) -> None:
    shop = make_shop()
    User.objects.filter(person=shop.people["lind"]).update(email="lind@practice.example")

    sent = client.post(reverse("cases:password-reset"), {"email": "lind@practice.example"})
    path = re.search(r"https?://[^/]+(/password/\S+)", mail.outbox[0].body)
    assert path is not None
    form = client.get(path.group(1), follow=True)
    new = {"new_password1": "gypsum sets slowly", "new_password2": "gypsum sets slowly"}
    done = client.post(form.redirect_chain[-1][0], new)

    assert sent["Location"] == reverse("cases:password-reset-sent")
    assert done["Location"] == reverse("cases:sign-in")
    assert User.objects.get(username="lind").check_password("gypsum sets slowly")


def test_reset_of_an_unknown_address_says_the_same_and_sends_nothing(client: Client) -> None:
    make_shop()

    sent = client.post(reverse("cases:password-reset"), {"email": "nobody@practice.example"})

    assert sent["Location"] == reverse("cases:password-reset-sent")
    assert mail.outbox == []


def test_own_password_is_changed_with_the_present_one(client: Client) -> None:
    make_shop()
    sign_in(client, "remy")
    url = reverse("cases:password-change")

    wrong = client.post(url, {"old": "x", "new": "gypsum sets slowly"})
    right = client.post(url, {"old": "remy-pass-2026", "new": "gypsum sets slowly"})
    still_in = client.get(reverse("cases:account"))

    assert wrong.status_code == 422
    assert "not your present password" in wrong.content.decode()
    assert right["Location"] == reverse("cases:account")
    assert still_in.status_code == 200


@pytest.mark.parametrize(
    ("demo", "name", "said"),
    [(True, people.LAB, True), (True, "Lindgasse dental laboratory", False),
     (False, people.LAB, False)],
)  # fmt: skip
def test_sign_in_page_of_the_invented_lab_says_how_to_come_in(
    client: Client, settings: Settings, demo: bool, name: str, said: bool
) -> None:
    make_shop()
    Lab.objects.update(name=name)
    settings.DEMO = demo

    page = client.get(reverse("cases:sign-in")).content.decode()

    hints = [*people.usernames(), people.PASSWORD, people.PIN]
    assert [hint in page for hint in hints] == [said] * len(hints)
