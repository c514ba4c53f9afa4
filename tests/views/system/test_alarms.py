"""Alarms: what rings, how often, for whom, and what a standing clock cannot hide."""

from __future__ import annotations

import uuid
from collections.abc import Iterator
from datetime import datetime, timedelta
from typing import Any

import pytest
import time_machine
from django.test import Client
from django.urls import reverse

from cases.models import Alert, Case, Delivery, Timer
from cases.services import alarms
from cases.services.alarms import acknowledge, fire_due, ring
from cases.views.visitor import TABLET_COOKIE
from tests.factories import NOW, TABLET_TOKEN, Shop, make_case, make_shop
from tests.views.bench.conftest import sign_in

pytestmark = pytest.mark.django_db
HX = {"HTTP_HX_REQUEST": "true"}
LATE = NOW + timedelta(minutes=12)
"""After the alginate's limit: poured by 09:52, taken at 09:37."""


@pytest.fixture
def shop(db: None) -> Shop:
    return make_shop(NOW - timedelta(days=20))


@pytest.fixture
def moment() -> Iterator[time_machine.Coordinates]:
    with time_machine.travel(LATE, tick=False) as traveller:
        yield traveller


@pytest.fixture
def case(shop: Shop) -> Case:
    return make_case(shop, now=NOW)


@pytest.fixture
def tablet(client: Client, shop: Shop, moment: time_machine.Coordinates) -> Client:
    sign_in(client, shop, "mara", LATE)
    return client


def fragment(client: Client) -> str:
    answer = client.get(reverse("cases:alarms"), **HX)
    assert answer.status_code == 200
    return answer.content.decode()


def sweep(now: datetime) -> tuple[int, int]:
    return fire_due(now), ring(now)


def test_fragment_is_empty_while_nothing_alarms(tablet: Client) -> None:
    assert "data-alarms" not in fragment(tablet)


def test_fragment_carries_what_the_script_reads(tablet: Client, case: Case) -> None:
    sweep(LATE)
    text = fragment(tablet)
    assert 'data-repeat-seconds="120"' in text
    timer = Timer.objects.get(kind="pour")
    assert f'data-alarm="timer-{timer.pk}"' in text
    assert f"{case.number}: the impression is past its time." in text
    assert text.count('<span class="arch-face"><svg') == text.count("data-alarm=") > 0
    assert reverse("cases:alarm-acknowledge") in text


def test_dead_worker_still_shows_what_is_over(tablet: Client, case: Case) -> None:
    assert not Alert.objects.exists()
    text = fragment(tablet)
    timer = Timer.objects.get(kind="pour")
    assert f'data-alarm="timer-{timer.pk}"' in text
    assert "clock stands still" in text
    assert "I have seen it" not in text


def test_tablet_hears_alarms_while_nobody_is_signed_in(
    client: Client, shop: Shop, case: Case, moment: time_machine.Coordinates
) -> None:
    client.cookies[TABLET_COOKIE] = TABLET_TOKEN
    sweep(LATE)
    text = fragment(client)
    assert case.number in text
    assert "Tap your name to acknowledge it." in text
    assert reverse("cases:alarm-acknowledge") not in text


@pytest.mark.parametrize("who", ["", "lind"])
def test_strangers_and_practices_hear_nothing(
    client: Client, shop: Shop, case: Case, moment: time_machine.Coordinates, who: str
) -> None:
    sweep(LATE)
    if who:
        client.force_login(shop.people[who].user)
    assert case.number not in fragment(client)


def test_page_without_scripts_lists_them(tablet: Client, case: Case, client: Client) -> None:
    sweep(LATE)
    page = tablet.get(reverse("cases:alarms"))
    assert "the impression is past its time" in page.content.decode()
    assert Client().get(reverse("cases:alarms"))["Location"] == reverse("cases:sign-in")


def send(client: Client, alerts: str, *, sent: str = "", **extra: Any) -> Any:
    body = {"submission_id": sent or str(uuid.uuid4()), "alerts": alerts}
    return client.post(reverse("cases:alarm-acknowledge"), body, **extra)


def test_acknowledged_stops_for_everybody(tablet: Client, case: Case) -> None:
    sweep(LATE)
    alert = Alert.objects.get(timer__kind="pour")
    answer = send(tablet, str(alert.pk), **HX)
    alert.refresh_from_db()
    assert (answer.status_code, alert.acknowledged_by) == (200, case_person(alert))
    assert f'data-alarm="timer-{alert.timer_id}"' not in answer.content.decode()
    assert (
        sweep(LATE + timedelta(minutes=5))[1]
        == Delivery.objects.filter(alert__acknowledged_at=None).count()
    )
    again = send(tablet, str(alert.pk))
    assert again.status_code == 303


def case_person(alert: Alert) -> Any:
    from cases.models import Person

    return Person.objects.get(name="Mara")


def test_acknowledging_twice_with_one_id_counts_once(tablet: Client, case: Case) -> None:
    sweep(LATE)
    alert = Alert.objects.get(timer__kind="pour")
    sent = str(uuid.uuid4())
    first, second = send(tablet, str(alert.pk), sent=sent), send(tablet, str(alert.pk), sent=sent)
    assert (first.status_code, second.status_code) == (303, 303)


def test_two_sweeps_fire_one_timer_once(shop: Shop, case: Case) -> None:
    first, second = fire_due(LATE), fire_due(LATE)
    assert (first > 0, second) == (True, 0)
    timer = Timer.objects.get(kind="pour")
    assert Alert.objects.filter(timer=timer).count() == 1


def test_killed_between_commit_and_delivery_rings_at_the_next_sweep(
    shop: Shop, case: Case, monkeypatch: pytest.MonkeyPatch
) -> None:
    fire_due(LATE)
    delivery = Delivery.objects.get(alert__timer__kind="pour")

    class Killed(BaseException):
        pass

    claim = alarms.claim_ring

    def claim_and_die(delivery_id: int, now: datetime) -> bool:
        claim(delivery_id, now)
        raise Killed

    with monkeypatch.context() as patch:
        patch.setattr(alarms, "claim_ring", claim_and_die)
        with pytest.raises(Killed):
            ring(LATE)
    Delivery.objects.exclude(pk=delivery.pk).update(lease_until=None)
    delivery.refresh_from_db()
    assert (delivery.sent_at, delivery.times) == (None, 0)
    soon = LATE + timedelta(seconds=15)
    ring(soon)
    ring(soon + alarms.LEASE)
    delivery.refresh_from_db()
    assert delivery.times == 1
    assert delivery.sent_at == soon or delivery.sent_at == soon + alarms.LEASE


def test_killed_between_firing_and_ringing_is_rung_by_the_next_sweep(
    shop: Shop, case: Case
) -> None:
    fire_due(LATE)  # and then the worker dies: nothing was rung
    assert not Delivery.objects.filter(times__gt=0).exists()
    assert sweep(LATE + timedelta(seconds=15)) == (0, Delivery.objects.count())


def test_rings_again_after_two_minutes_until_acknowledged(shop: Shop, case: Case) -> None:
    sweep(LATE)
    delivery = Delivery.objects.get(alert__timer__kind="pour")
    ring(LATE + timedelta(seconds=90))
    delivery.refresh_from_db()
    assert delivery.times == 1
    ring(LATE + timedelta(seconds=121))
    delivery.refresh_from_db()
    assert delivery.times == 2
    acknowledge(shop.envelope("mara", now=LATE), alert=delivery.alert_id)
    ring(LATE + timedelta(minutes=9))
    delivery.refresh_from_db()
    assert delivery.times == 2


def test_an_hours_standstill_is_told_in_one_sentence(
    tablet: Client, shop: Shop, case: Case, moment: time_machine.Coordinates
) -> None:
    make_case(shop, now=NOW, ref="Q-7")
    make_case(shop, now=NOW, ref="Q-8")
    later = NOW + timedelta(hours=1, minutes=15)
    moment.move_to(later)
    sign_in(tablet, shop, "mara", later)
    sweep(later)
    open_alerts = Alert.objects.count()
    text = fragment(tablet)
    assert open_alerts >= 3
    assert text.count("data-alarm=") == 1
    assert f"{open_alerts} waits and limits went by" in text
    before = Alert.objects.filter(acknowledged_at=None).count()
    assert before == open_alerts
    numbers = ",".join(
        str(pk)
        for pk in Alert.objects.order_by("timer__due_at", "timer__pk").values_list("pk", flat=True)
    )
    answer = send(tablet, numbers, **HX)
    assert "data-alarm=" not in answer.content.decode()
    assert not Alert.objects.filter(acknowledged_at=None).exists()


def test_many_alarms_leave_room_for_the_work(
    tablet: Client, shop: Shop, case: Case, moment: time_machine.Coordinates
) -> None:
    for n in range(5):
        make_case(shop, now=NOW, ref=f"Q-6{n}")
    limit = NOW + timedelta(minutes=11)
    moment.move_to(limit)
    sign_in(tablet, shop, "mara", limit)
    Timer.objects.filter(kind="pour-soon").update(state="cancelled")
    sweep(limit)
    text = fragment(tablet)
    assert text.count("data-alarm=") == 3
    assert "4 more alarms are open. Look at each." in text
    assert tablet.get(reverse("cases:alarms")).content.decode().count('name="alerts"') == 6


def test_fragment_costs_the_same_for_one_and_for_many(
    tablet: Client, shop: Shop, case: Case, django_assert_num_queries: Any
) -> None:
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    sweep(LATE)
    fragment(tablet)
    with CaptureQueriesContext(connection) as one:
        fragment(tablet)
    for n in range(4):
        make_case(shop, now=NOW, ref=f"Q-9{n}")
    sweep(LATE)
    with django_assert_num_queries(len(one)):
        fragment(tablet)
