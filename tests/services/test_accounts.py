"""Invitations, passwords and the throttle."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.contrib.auth.models import User

from cases.models import Invitation, Submission
from cases.services import accounts
from cases.services.verify_record import verify_record
from tests.factories import NOW, Shop, make_shop
from tests.services.test_tablets import refused

pytestmark = pytest.mark.django_db

NEW = "gypsum sets slowly"


@pytest.fixture
def shop() -> Shop:
    return make_shop()


def test_invitation_is_stored_as_a_hash(shop: Shop) -> None:
    outcome, token = accounts.invite(
        shop.envelope("pavo"), person=shop.people["noor"].pk, email="noor@lab.example"
    )

    row = Invitation.objects.get(pk=outcome.result["invitation"])
    stored = Submission.objects.get(pk=outcome.submission_id)
    events = [event.changes for event in stored.events.all()]
    assert row.token_hash != token
    assert token not in str((stored.result, events))
    assert "noor@lab.example" not in str((stored.result, events))
    assert verify_record() == []


def test_new_invitation_ends_the_one_before(shop: Shop) -> None:
    noor = shop.people["noor"]
    _first, old = accounts.invite(shop.envelope("pavo"), person=noor.pk)

    _second, new = accounts.invite(shop.envelope("pavo"), person=noor.pk)

    refused("no-invitation", accounts.find_invitation, old, NOW)
    assert accounts.find_invitation(new, NOW).person == noor


def test_invitation_ends_after_seven_days(shop: Shop) -> None:
    _outcome, token = accounts.invite(shop.envelope("pavo"), person=shop.people["noor"].pk)

    refused("no-invitation", accounts.find_invitation, token, NOW + timedelta(days=7))
    late = shop.envelope("pavo", now=NOW + timedelta(days=8))
    refused("no-invitation", accounts.accept_invitation, late, token=token, username="noor",
            password=NEW)  # fmt: skip


def test_invitation_is_refused(shop: Shop) -> None:
    refused("not-allowed", accounts.invite, shop.envelope("noor"), person=shop.people["mara"].pk)
    refused("no-person", accounts.invite, shop.envelope("pavo"), person=9999)
    _outcome, token = accounts.invite(shop.envelope("pavo"), person=shop.people["noor"].pk)
    mine = {"token": token, "username": "noor", "password": NEW}
    guest = shop.envelope("pavo")

    refused("weak-password", accounts.accept_invitation, guest, **{**mine, "password": "noor"})
    refused("username-taken", accounts.accept_invitation, guest, **{**mine, "username": "MARA"})
    refused(
        "bad-username",
        accounts.accept_invitation,
        shop.envelope("pavo"),
        **{**mine, "username": "a b"},
    )
    assert accounts.find_invitation(token, NOW)


def test_password_never_stands_in_the_record(shop: Shop) -> None:
    outcome = accounts.change_password(shop.envelope("remy"), old="remy-pass-2026", new=NEW)

    stored = Submission.objects.get(pk=outcome.submission_id)
    assert NEW not in str((stored.result, [event.facts for event in stored.events.all()]))
    assert User.objects.get(username="remy").check_password(NEW)


def test_password_change_is_refused(shop: Shop) -> None:
    refused("wrong-password", accounts.change_password, shop.envelope("remy"), old="x", new=NEW)
    refused(
        "weak-password",
        accounts.change_password,
        shop.envelope("remy"),
        old="remy-pass-2026",
        new="1234567890",
    )


def test_failures_from_one_address_count_over_all_names(shop: Shop) -> None:
    for n in range(accounts.FAILURES["address"]):
        refused("wrong", accounts.check_sign_in, username=f"n{n}", password="x",
                address="10.0.0.1", now=NOW)  # fmt: skip

    refused("wait", accounts.check_sign_in, username="mara", password="mara-pass-2026",
            address="10.0.0.1", now=NOW)  # fmt: skip
    user = accounts.check_sign_in(
        username="mara", password="mara-pass-2026", address="10.0.0.2", now=NOW
    )
    assert user.username == "mara"


def test_failures_of_one_name_count_over_all_addresses(shop: Shop) -> None:
    for n in range(accounts.FAILURES["name"]):
        refused("wrong", accounts.check_sign_in, username="mara", password="x",
                address=f"10.0.0.{n}", now=NOW)  # fmt: skip

    refused("wait", accounts.check_sign_in, username="MARA", password="mara-pass-2026",
            address="10.0.1.1", now=NOW)  # fmt: skip
