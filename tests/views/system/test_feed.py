"""Temperatures sent to a bath's feed: by its token only, whole or not at all, twice as once."""

from __future__ import annotations

import json
from datetime import timedelta
from typing import Any

import pytest
import time_machine
from django.test import Client

from cases.models import Bath, BathFeed, BathSample
from cases.services import feed_rows, feeds
from tests.factories import NOW, Shop, make_shop

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop() -> Shop:
    return make_shop()


@pytest.fixture
def token(shop: Shop) -> str:
    bath = Bath.objects.get(name="Bath 1")
    return feeds.open_to_token(shop.envelope("pavo"), bath=bath.pk)[1]


def post(
    body: object, token: str = "", kind: str = "application/json", client: Client | None = None
) -> Any:
    data = body if isinstance(body, str | bytes) else json.dumps(body)
    headers = {"Authorization": f"Bearer {token}"} if token else {}
    with time_machine.travel(NOW, tick=False):
        return (client or Client(enforce_csrf_checks=True)).post(
            "/feed/", data, content_type=kind, headers=headers
        )


ROWS = [
    {"at": "2026-12-09T09:40:00Z", "celsius": 73.9},
    {"at": "2026-12-09T10:41:00+01:00", "celsius": "74,1"},
]


def told() -> list[tuple[str, float]]:
    return [(f"{one.at:%H:%M:%S}", one.celsius) for one in BathSample.objects.order_by("slot")]


def test_rows_sent_twice_are_there_once(token: str) -> None:
    first, again = post(ROWS, token), post(ROWS, token)

    assert (first.status_code, first.json()) == (200, {"new": 2, "known": 0})
    assert (again.status_code, again.json()) == (200, {"new": 0, "known": 2})
    assert told() == [("09:40:00", 73.9), ("09:41:00", 74.1)]


@pytest.mark.parametrize(
    ("body", "kind"),
    [
        ("at,celsius\n2026-12-09T09:40:00Z,73.9\n2026-12-09T09:41:00Z,74.1\n", "text/csv"),
        ("2026-12-09 10:40:00;73,9\r\n2026-12-09 10:41:00;74,1", "text/csv; charset=utf-8"),
        ('[{"at": 1796809200, "celsius": 73.9}, {"at": 1796809260, "celsius": 74.1}]',
         "application/json"),
        ("\ufeff1796809260,74.1\n1796809200,73.9\n", "text/csv"),
    ],
)  # fmt: skip
def test_rows_come_in_several_ways(token: str, body: str, kind: str) -> None:
    answer = post(body, token, kind)

    assert answer.json() == {"new": 2, "known": 0}
    assert told() == [("09:40:00", 73.9), ("09:41:00", 74.1)]


def test_nothing_but_a_token_opens_it(shop: Shop, token: str) -> None:
    signed_in = Client()
    user = shop.people["pavo"].user
    assert user is not None
    signed_in.force_login(user)

    answers = [
        post(ROWS),
        post(ROWS, "nonsense"),
        post(ROWS, token[:-1]),
        post(ROWS, client=signed_in),
    ]
    feeds.end_feed(shop.envelope("pavo"), feed=BathFeed.objects.get().pk)
    answers.append(post(ROWS, token))

    assert [answer.status_code for answer in answers] == [401] * 5
    assert all(set(answer.json()) == {"error"} for answer in answers)
    assert answers[0]["WWW-Authenticate"] == "Bearer"
    assert told() == []


@pytest.mark.parametrize(
    ("body", "status", "words"),
    [
        ("[", 422, "no JSON"),
        ("[" * 100_000, 422, "no JSON"),
        ("{}", 422, "list of objects"),
        ("[1]", 422, "list of objects"),
        ("[]", 422, "no row"),
        ([*ROWS, {"at": "soon", "celsius": 74}], 422, "Row 3"),
        ([*ROWS, {"at": "2026-12-09T09:41:00Z", "celsius": True}], 422, "Row 3"),
        ([*ROWS, {"at": "2026-12-09T09:41:00Z", "celsius": "NaN"}], 422, "Row 3"),
        ([*ROWS, {"at": "2026-12-09T09:41:00Z", "celsius": 165.2}], 422, "°F"),
        ([*ROWS, {"at": "2026-12-09T10:42:00Z", "celsius": 74}], 422, "60 min ahead"),
        ([*ROWS, {"at": "2026-11-09T10:42:00Z", "celsius": 74}], 422, "week old"),
        ([*ROWS, {"at": "9999-12-31T23:59:59-12:00", "celsius": 74}], 422, "Row 3"),
        ([*ROWS, {"at": None, "celsius": None}], 422, "Row 3"),
        (b"\xff\xfe\x00", 422, "UTF-8"),
        ("[" + " " * feed_rows.MOST_BYTES + "]", 413, "larger than 256 kB"),
    ],
)
def test_bad_body_is_one_sentence_and_nothing_is_stored(
    token: str, body: object, status: int, words: str
) -> None:
    answer = post(body, token)

    assert answer.status_code == status
    assert words in answer.json()["error"]
    assert "\n" not in answer.json()["error"]
    assert told() == []


def test_too_many_rows_and_another_type_are_refused(token: str) -> None:
    many = "\n".join(
        f"{(NOW - timedelta(seconds=n)).timestamp():.0f},74" for n in range(feed_rows.MOST_ROWS + 1)
    )

    assert post(many, token, "text/csv").status_code == 422
    assert post(ROWS, token, "text/plain").status_code == 415
    assert Client().get("/feed/").status_code == 405
    assert told() == []


def test_body_that_is_shorter_than_it_says_is_refused_whole(
    token: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    whole = json.dumps(ROWS).encode()
    monkeypatch.setattr("cases.views.system.feed._body", lambda _request: whole[: len(whole) - 1])

    answer = post(whole, token)

    assert (answer.status_code, told()) == (400, [])
    assert "broke off" in answer.json()["error"]
