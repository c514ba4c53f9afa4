"""The page of a bath's feed: bound, opened with a token that is shown once, ended."""

from __future__ import annotations

import html
import shlex
import uuid
from datetime import timedelta

import pytest
import time_machine
from django.test import Client
from django.urls import reverse
from django.utils.html import strip_tags

from cases.domain.cure.feed import Sample
from cases.models import Bath, BathFeed
from cases.services.feed_in import feed_of, take_in
from tests.factories import NOW, Shop, make_shop

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
    return reverse("cases:bath-feed", args=[Bath.objects.get(name="Bath 1").pk])


def test_file_is_bound_and_its_trouble_and_age_are_shown(manager: Client, where: str) -> None:
    sent = manager.post(
        where, {"what": "bind", "file_name": "bath-1.csv", "unit": "F", "order": "mdy"}
    )
    feed = BathFeed.objects.get()
    BathFeed.objects.update(trouble="“soon,74”: this is no instant of that form")

    with time_machine.travel(NOW, tick=False):
        before = manager.get(where).content.decode()
        take_in(feed, [Sample(NOW - timedelta(minutes=2), 73.94)])
        fresh = manager.get(where).content.decode()
        BathFeed.objects.update(last_at=NOW - timedelta(minutes=11))
        old = manager.get(where).content.decode()

    assert sent["Location"] == where
    assert (feed.kind, feed.unit, feed.order) == ("file", "F", "mdy")
    assert "No temperature yet" in before
    assert "this is no instant" in before
    assert "tag-held" in before
    assert "73.9 °C" in fresh
    assert "read live" in fresh
    assert "old reading" in old
    assert "tag-failed" in old


def test_token_is_shown_once_with_how_to_send(manager: Client, where: str) -> None:
    body = {"what": "open", "probe": "A", "submission_id": str(uuid.uuid4())}
    shown = manager.post(where, body)
    again = manager.get(where)

    token = shown.context["token"]
    assert feed_of(token) == BathFeed.objects.get()
    assert f"curl -X POST http://testserver{reverse('cases:feed')}" in shown.content.decode()
    assert token in shown.content.decode()
    assert token not in again.content.decode()
    assert shown["Cache-Control"] == "no-store"


def test_row_that_the_page_shows_can_be_sent_as_it_stands(manager: Client, where: str) -> None:
    with time_machine.travel(NOW, tick=False):
        shown = manager.post(where, {"what": "open"})
        command = shlex.split(
            html.unescape(strip_tags(shown.content.decode().split("curl ")[1].split("</code>")[0]))
        )
        row = command[command.index("-d") + 1]
        answer = Client().post(
            reverse("cases:feed"),
            row,
            content_type="application/json",
            headers={"authorization": f"Bearer {shown.context['token']}"},
        )

    assert answer.status_code == 200, answer.content
    assert BathFeed.objects.get().last_at == NOW


def test_feed_is_ended_and_another_may_follow(manager: Client, where: str) -> None:
    token = manager.post(where, {"what": "open"}).context["token"]

    manager.post(where, {"what": "end", "feed": BathFeed.objects.get().pk})

    assert feed_of(token) is None
    assert "ended by Pavo" in manager.get(where).content.decode()
    assert manager.post(where, {"what": "open"}).context["token"] != token


def test_bad_name_is_said_beside_its_field_and_kept(manager: Client, where: str) -> None:
    answer = manager.post(where, {"what": "bind", "file_name": "../bath.csv", "unit": "C"})

    page = answer.content.decode()
    assert answer.status_code == 422
    assert "plain name" in page
    assert "../bath.csv" in page
    assert not BathFeed.objects.exists()
