"""The pages of a bath's lag: a run is sent, confirmed, and said in words."""

from __future__ import annotations

from io import BytesIO

import pytest
import time_machine
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse

from cases.models import Bath, LagRun
from cases.services.lag import take_in_run
from tests.factories import NOW, Shop, make_shop
from tests.lag_runs import one_csv, run_csv, typed_run

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop() -> Shop:
    return make_shop()


@pytest.fixture
def manager(client: Client, shop: Shop) -> Client:
    user = shop.people["pavo"].user
    assert user is not None
    client.force_login(user)
    return client


@pytest.fixture
def where(shop: Shop) -> str:
    return reverse("cases:bath-lag", args=[Bath.objects.get(name="Bath 1").pk])


def confirm(manager: Client, address: str, **changes: str) -> str:
    """Confirm a run as the form proposes it, but for some entries; return the page after it."""
    with time_machine.travel(NOW, tick=False):
        form = manager.get(address).context["form"]
        first = {name: form[name].value() or form.fields[name].initial for name in form.fields}
        body = {name: value for name, value in first.items() if value is not None}
        answer = manager.post(address, {**body, **changes}, follow=True)
    return answer.content.decode()


def test_run_of_one_table_is_confirmed_as_proposed(manager: Client, where: str) -> None:
    file = SimpleUploadedFile("run.csv", run_csv(14.0))
    sent = manager.post(where, {"file": file})

    page = confirm(manager, sent["Location"])

    assert LagRun.objects.get().ran_on.isoformat() == "2026-12-07"
    assert "Resin in a flask is about 14 min behind Bath 1." in page
    assert LagRun.objects.get().minutes == pytest.approx(14.0, rel=0.01)
    assert "kept by Pavo" in page
    # What was read stands beside what the lag says.
    assert page.count("<td>74.0</td>") > 8


def test_run_of_two_files(manager: Client, where: str) -> None:
    files = {
        "file": SimpleUploadedFile("bath.csv", one_csv()),
        "flask_file": SimpleUploadedFile("flask.csv", one_csv(lag=20.0, late=3)),
    }
    sent = manager.post(where, files)

    page = confirm(
        manager, sent["Location"], time="dmy|0", flask_time="dmy|0", bath="1|C", flask="1|C"
    )

    assert "about 20 min behind Bath 1" in page


def test_typed_run(manager: Client, where: str) -> None:
    sent = manager.post(where, {"typed": typed_run(9.0)})

    page = confirm(manager, sent["Location"], time="clock|0")

    assert "about 9 min behind Bath 1" in page
    assert LagRun.objects.get().how == "typed"


@pytest.mark.parametrize(
    ("body", "words"),
    [
        ({}, "Choose the logger"),
        ({"typed": "hello"}, "Line 1"),
        ({"typed": "22:30 23 23"}, "fewer than two rows"),
    ],
)
def test_bad_entry_is_said_and_kept(
    manager: Client, where: str, body: dict[str, str], words: str
) -> None:
    answer = manager.post(where, body)

    assert answer.status_code == 422
    assert words in answer.content.decode()
    assert body.get("typed", "") in answer.content.decode()


def test_picture_and_two_ways_at_once_are_refused(manager: Client, where: str) -> None:
    picture = SimpleUploadedFile("run.csv", b"\x89PNG\r\n\x1a\n")
    both = {"file": SimpleUploadedFile("run.csv", run_csv(14.0)), "typed": typed_run(9.0)}

    assert "picture" in manager.post(where, {"file": picture}).content.decode()
    assert "not both" in manager.post(where, both).content.decode()


def test_columns_the_wrong_way_round_are_refused_beside_the_field(
    manager: Client, shop: Shop, where: str
) -> None:
    run = take_in_run(BytesIO(run_csv(14.0)))
    address = reverse(
        "cases:bath-lag-read", args=[Bath.objects.get(name="Bath 1").pk, run]
    )  # fmt: skip

    page = confirm(manager, address, time="iso|0", bath="2|C", flask="1|C")

    assert "right way round" in page
    assert not LagRun.objects.exists()


def test_unknown_run_is_not_there(manager: Client, shop: Shop) -> None:
    address = reverse(
        "cases:bath-lag-read", args=[Bath.objects.get(name="Bath 1").pk, "0" * 64]
    )  # fmt: skip

    assert manager.get(address).status_code == 404
