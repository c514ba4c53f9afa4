"""Which day may be said at the telephone and at the intake."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import date
from html import unescape
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from cases.domain.promise import first_appointment
from cases.models import Case, Promise
from cases.selectors.hours import ship_route
from cases.services import plan_quote
from cases.views.plan import answer
from tests.factories import Shop
from tests.views.desk.entries import entries

pytestmark = pytest.mark.django_db


@pytest.fixture
def desk(client: Client, shop: Shop) -> Client:
    user = shop.people["noor"].user
    assert user is not None
    client.force_login(user)
    return client


def asked(client: Client, shop: Shop, **data: Any) -> str:
    query = {"practice": shop.practice.pk, "arch": "lower", "teeth": "36 46", **data}
    page = client.get(reverse("cases:plan-promise"), query)
    return str(page.content.decode())


def test_a_day_is_named_with_its_chance_and_nothing_is_stored(
    desk: Client, shop: Shop, planned: Callable[..., Case], monkeypatch: pytest.MonkeyPatch
) -> None:
    planned()
    monkeypatch.setattr(plan_quote, "REPLAYS", 10)
    promises = Promise.objects.count()
    first = asked(desk, shop)
    assert "breaks no other promise" in first
    assert "being worked out" in first
    assert "of 100" not in first
    then = asked(desk, shop, chance=1)
    assert "of 100" in then
    assert "being worked out" not in then
    assert (Promise.objects.count(), Case.objects.count()) == (promises, 1)


def test_for_an_appointment_the_last_day_of_the_impression_is_said(
    desk: Client, shop: Shop, planned: Callable[..., Case]
) -> None:
    planned()
    text = asked(desk, shop, appointment_on="2027-01-18", chance=1)
    assert "the impression must be here by" in text
    assert "with the work that is in the lab today" in text


def test_impression_that_comes_after_the_calendar_is_asked_for_again_later(
    desk: Client, shop: Shop, planned: Callable[..., Case]
) -> None:
    planned()
    for comes_on, words in (("2027-03-09", "Tuesday 9 March"), ("2028-01-13", "13 January 2028")):
        text = asked(desk, shop, comes_on=comes_on)
        assert "The plan looks ahead until Monday 8 March, and the impression comes on" in text
        assert f"{words}: ask again when that day is nearer" in text
        assert "No van to this practice is known" not in text


def test_appointment_after_the_calendar_has_no_last_day_for_the_impression(
    desk: Client, shop: Shop, planned: Callable[..., Case], monkeypatch: pytest.MonkeyPatch
) -> None:
    planned()
    monkeypatch.setattr(plan_quote, "REPLAYS", 10)
    text = asked(desk, shop, appointment_on="2028-01-13", chance=1)
    assert "For the appointment it must leave on Tuesday 11 January 2028 at the latest." in text
    assert "the impression must be here by" not in text


def test_appointment_that_cannot_be_kept_is_said_first(
    desk: Client, shop: Shop, planned: Callable[..., Case]
) -> None:
    planned()
    text = asked(desk, shop, appointment_on="2026-12-11")
    assert "The appointment cannot be kept: it would have to leave on" in text
    assert "Promise " not in text
    assert "it must leave on" not in text
    assert "Offer a later appointment, or ask the manager" in text
    then = asked(desk, shop, appointment_on="2026-12-11", chance=1)
    assert re.search(r"Offer an appointment from \w+ \d+ \w+ on, or ask the manager", then)


def test_day_after_the_appointment_is_not_promised_because_it_is_surer(
    desk: Client, shop: Shop, planned: Callable[..., Case], monkeypatch: pytest.MonkeyPatch
) -> None:
    planned()
    monkeypatch.setattr(answer, "SURE", 1.1)
    earliest = re.search(r"By the plan \w+ (\d+) December is", asked(desk, shop))
    assert earliest is not None
    kept = first_appointment(ship_route(shop.practice), date(2026, 12, int(earliest[1])))
    assert kept is not None

    text = asked(desk, shop, appointment_on=kept.isoformat(), chance=1)

    assert "The appointment is not surely kept: no day that is in time for it is." in text
    assert "Offer a later appointment, or ask the manager" in text
    assert "Promise" not in text.split('id="plan-answer"')[1]


def test_appointment_for_which_no_day_is_safe_is_said_first(
    desk: Client, shop: Shop, planned: Callable[..., Case], monkeypatch: pytest.MonkeyPatch
) -> None:
    planned()
    monkeypatch.setattr(plan_quote, "FIRST_SECONDS", 0.0)
    text = asked(desk, shop, appointment_on="2026-12-10")
    assert "The appointment cannot be kept: it would have to leave on" in text
    assert re.search(r"no day up to \w+ \d+ \w+ is safe\. Offer a later appointment", text)


def test_no_day_of_the_impression_is_said_that_is_not_sure(
    desk: Client, shop: Shop, planned: Callable[..., Case], monkeypatch: pytest.MonkeyPatch
) -> None:
    planned()
    monkeypatch.setattr(plan_quote, "SURE", 1.1)
    monkeypatch.setattr(plan_quote, "FEW_REPLAYS", 2)
    text = asked(desk, shop, appointment_on="2027-01-18", chance=1)
    assert "the impression must be here by" not in text
    assert "it must leave on" in text


def test_days_that_there_was_no_time_for_are_looked_at_next(
    desk: Client, shop: Shop, planned: Callable[..., Case], monkeypatch: pytest.MonkeyPatch
) -> None:
    planned()
    monkeypatch.setattr(plan_quote, "FIRST_SECONDS", 0.0)
    query = {"practice": shop.practice.pk, "arch": "lower", "teeth": "36 46"}
    page = desk.get(reverse("cases:plan-promise"), query).content.decode()
    seen = []
    while "Later days are being looked at." in page:
        seen.append(page)
        more = unescape(re.findall(r'hx-get="([^"]+after=[^"]+)"', page)[0])
        page = desk.get(more, headers={"HX-Request": "true"}).content.decode()
    assert seen
    assert all("safe." in one for one in seen)
    assert "is the earliest safe day" in page
    assert "<form" not in page


def test_a_tooth_that_is_none_is_refused_beside_its_field(desk: Client, shop: Shop) -> None:
    page = desk.get(
        reverse("cases:plan-promise"),
        {"practice": shop.practice.pk, "arch": "lower", "teeth": "99"},
    )
    assert page.status_code == 422
    assert "99" in page.content.decode()


@pytest.mark.parametrize(
    ("entries_", "words"),
    [
        ({"teeth": "36 26"}, "26 is a tooth of the upper arch"),
        ({"appointment_on": "2020-01-07"}, "is before today"),
    ],
)
def test_what_no_order_could_be_is_refused_beside_its_field(
    desk: Client, shop: Shop, entries_: dict[str, str], words: str
) -> None:
    query = {"practice": shop.practice.pk, "arch": "lower", "teeth": "36", **entries_}
    page = desk.get(reverse("cases:plan-promise"), query)
    assert page.status_code == 422
    assert words in page.content.decode()
    assert "plan-answer" not in page.content.decode()


def test_the_intake_asks_the_plan_for_what_is_entered(
    desk: Client, shop: Shop, planned: Callable[..., Case]
) -> None:
    planned()
    url = reverse("cases:log-ask-plan")
    first = desk.post(url, entries(shop)).content.decode()
    assert "being worked out" in first
    assert "of 100" not in first
    then = desk.post(f"{url}?chance=1", entries(shop)).content.decode()
    assert "of 100" in then


def test_the_intake_says_what_is_missing_before_the_plan_can_be_asked(desk: Client) -> None:
    answer = desk.post(reverse("cases:log-ask-plan"), {}).content.decode()
    assert "Choose practice and arch first" in answer
