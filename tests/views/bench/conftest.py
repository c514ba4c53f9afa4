"""A tablet with Mara signed in, on the Wednesday of the tests."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import datetime, timedelta

import pytest
import time_machine
from django.test import Client

from cases.models import Case, CaseStage, Tablet
from cases.services.record import Envelope
from cases.services.tablets import open_bench
from cases.views.visitor import TABLET_COOKIE
from tests.factories import NOW, PIN, TABLET_TOKEN, Shop, make_case, make_shop
from tests.walk import Clock, walk


@pytest.fixture
def shop(db: None) -> Shop:
    return make_shop(NOW - timedelta(days=20))


@pytest.fixture
def moment() -> Iterator[time_machine.Coordinates]:
    """The clock stands at the Wednesday morning of the tests; ``shift`` moves it."""
    with time_machine.travel(NOW, tick=False) as traveller:
        yield traveller


def sign_in(client: Client, shop: Shop, who: str, now: datetime = NOW) -> None:
    """Open the tablet for a person."""
    client.cookies[TABLET_COOKIE] = TABLET_TOKEN
    tablet = Tablet.objects.get()
    open_bench(Envelope("bench", now, tablet_id=tablet.pk), person=shop.people[who].pk, pin=PIN)


@pytest.fixture
def bench(client: Client, shop: Shop, moment: time_machine.Coordinates) -> Client:
    """Mara's tablet."""
    sign_in(client, shop, "mara")
    return client


@pytest.fixture
def case_at(shop: Shop) -> Callable[..., Case]:
    """Make a case whose next stage is the one after ``until``, ready by now."""

    def make(until: str, *, ref: str = "Q-1180", days: int = 5) -> Case:
        began = NOW - timedelta(days=days)
        case = make_case(shop, now=began, ref=ref, ordered_on=began.date())
        walk(shop, case, Clock(began), until=until)
        case.refresh_from_db()
        return case

    return make


def stage_of(case: Case, key: str) -> CaseStage:
    return case.stages.get(key=key)
