"""A lab with a case in work and a plan of it, on the Wednesday of the tests."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import timedelta

import pytest
import time_machine
from django.test import Client

from cases.models import Case
from cases.services.planner import mend
from tests.factories import NOW, Shop, make_case, make_shop
from tests.walk import Clock, walk


@pytest.fixture
def shop(db: None) -> Shop:
    return make_shop(NOW - timedelta(days=20))


@pytest.fixture(autouse=True)
def _wednesday() -> Iterator[None]:
    with time_machine.travel(NOW, tick=False):
        yield


@pytest.fixture
def planned(shop: Shop) -> Callable[..., Case]:
    """Make a case that stands after ``until``, and plan the lab."""

    def make(until: str = "block-out", *, ref: str = "Q-1180", days: int = 3) -> Case:
        began = NOW - timedelta(days=days)
        case = make_case(shop, now=began, ref=ref, ordered_on=began.date())
        walk(shop, case, Clock(began), until=until)
        mend(NOW)
        case.refresh_from_db()
        return case

    return make


@pytest.fixture
def manager(client: Client, shop: Shop) -> Client:
    user = shop.people["pavo"].user
    assert user is not None
    client.force_login(user)
    return client
