"""A lab on the Wednesday of the tests; anybody may sign in."""

from __future__ import annotations

import uuid
from collections.abc import Callable, Iterator
from datetime import timedelta
from typing import Any

import pytest
import time_machine
from django.test import Client
from django.urls import reverse

from cases.models import Case, Tablet
from cases.services.record import Envelope
from cases.services.tablets import open_bench
from cases.views.visitor import TABLET_COOKIE
from tests.factories import NOW, PIN, TABLET_TOKEN, Shop, make_case, make_shop
from tests.walk import Clock, walk

SignIn = Callable[[str], Client]


@pytest.fixture
def shop(db: None) -> Iterator[Shop]:
    """The small lab; the clock stands at the Wednesday morning of the tests."""
    with time_machine.travel(NOW, tick=False):
        yield make_shop(NOW - timedelta(days=20))


@pytest.fixture
def sign_in(shop: Shop) -> SignIn:
    """Return the browser of somebody, by name."""

    def enter(who: str) -> Client:
        client = Client()
        user = shop.people[who].user
        assert user is not None
        client.force_login(user)
        return client

    return enter


@pytest.fixture
def tablet(shop: Shop) -> Client:
    """Return the enrolled tablet with Mara at it."""
    client = Client()
    client.cookies[TABLET_COOKIE] = TABLET_TOKEN
    row = Tablet.objects.get()
    open_bench(Envelope("bench", NOW, tablet_id=row.pk), person=shop.people["mara"].pk, pin=PIN)
    return client


def case_at(shop: Shop, until: str = "", *, days: int = 5, **changes: Any) -> Case:
    """Make a case that has been taken up to and including ``until`` by now."""
    began = NOW - timedelta(days=days)
    case = make_case(shop, now=began, ordered_on=began.date(), **changes)
    if until:
        walk(shop, case, Clock(began), until=until)
    case.refresh_from_db()
    return case


def url(name: str, case: Case, *args: object) -> str:
    """Return the address of a page of a case."""
    return reverse(f"cases:{name}", args=[case.number, *args])


def entries(**typed: Any) -> dict[str, Any]:
    """Return what a form sends, with an id of its own."""
    return {"submission_id": str(uuid.uuid4()), **typed}
