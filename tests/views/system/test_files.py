"""Files are handed out only to who may see the case; health tells what works."""

from __future__ import annotations

import io
from datetime import timedelta

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from PIL import Image

from cases.models import Case, File, Heartbeat
from cases.services.files import attach_file, take_in
from cases.views.visitor import TABLET_COOKIE
from tests.factories import TABLET_TOKEN, Shop, make_case, make_shop

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop(db: None) -> Shop:
    return make_shop()


@pytest.fixture
def case(shop: Shop) -> Case:
    return make_case(shop)


def attached(shop: Shop, case: Case, *, shown: bool) -> File:
    data = io.BytesIO()
    Image.new("RGB", (20, 20), (1, 2, 3) if shown else (3, 2, 1)).save(data, "PNG")
    data.seek(0)
    stored = vars(take_in(data)[0])
    outcome = attach_file(
        shop.envelope("mara"), case=case.pk, kind="photo", stored=stored, visible_to_practice=shown
    )
    return File.objects.get(pk=outcome.result["file"])


def status(client: Client, file: File) -> int:
    return client.get(reverse("cases:file", args=[file.pk])).status_code


@pytest.mark.parametrize(
    ("who", "hidden", "shown"),
    [
        ("", 404, 404),
        ("mara", 200, 200),
        ("noor", 200, 200),
        ("pavo", 200, 200),
        ("lind", 404, 200),
        ("remy", 404, 200),
        ("vega", 404, 404),
    ],
)
def test_file_is_for_who_may_see_the_case(
    client: Client, shop: Shop, case: Case, who: str, hidden: int, shown: int
) -> None:
    if who:
        client.force_login(shop.people[who].user)
    assert status(client, attached(shop, case, shown=False)) == hidden
    assert status(client, attached(shop, case, shown=True)) == shown


def test_file_on_a_locked_tablet_is_not_there(client: Client, shop: Shop, case: Case) -> None:
    client.cookies[TABLET_COOKIE] = TABLET_TOKEN
    assert status(client, attached(shop, case, shown=True)) == 404


def test_file_answers_with_headers_that_keep_it_a_picture(
    client: Client, shop: Shop, case: Case
) -> None:
    client.force_login(shop.people["mara"].user)
    answer = client.get(reverse("cases:file", args=[attached(shop, case, shown=False).pk]))
    assert answer["Content-Type"] == "image/jpeg"
    assert answer["X-Content-Type-Options"] == "nosniff"
    assert "sandbox" in answer["Content-Security-Policy"]
    assert answer["Cache-Control"] == "private, no-store"


def test_file_whose_bytes_are_gone_is_not_there(client: Client, shop: Shop, case: Case) -> None:
    from cases.services.files import path_of

    client.force_login(shop.people["mara"].user)
    file = attached(shop, case, shown=False)
    path_of(file).unlink()
    assert status(client, file) == 404


def test_health_says_whether_waits_are_watched(client: Client, shop: Shop) -> None:
    url = reverse("cases:health")
    assert client.get(url).json() == {"web": "ok", "sweep": "stale"}
    beat = Heartbeat.objects.create(name="sweep", at=timezone.now())
    assert client.get(url).json() == {"web": "ok", "sweep": "ok"}
    beat.at -= timedelta(minutes=5)
    beat.save()
    assert client.get(url).json()["sweep"] == "stale"
