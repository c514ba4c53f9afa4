"""The question after a tablet locked: shown first, answered with one tap."""

from __future__ import annotations

import uuid
from datetime import timedelta
from typing import Any

import pytest
import time_machine
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from cases.models import BenchSession, CaseStage, WorkSpan
from cases.services.stage import start_stage
from cases.views.visitor import SEEN_EVERY
from tests.factories import NOW, PIN, Shop, make_case
from tests.views.bench.conftest import sign_in

pytestmark = pytest.mark.django_db

ASKED = "cases:bench-put-down"


@pytest.fixture
def locked(
    client: Client, shop: Shop, moment: time_machine.Coordinates
) -> tuple[Client, CaseStage]:
    """Mara's tablet has locked by itself while she worked; half an hour has gone by."""
    stage = begin(shop, "Q-1180")
    sign_in(client, shop, "mara")
    moment.shift(timedelta(minutes=30))
    client.get(reverse("cases:bench"))
    stage.refresh_from_db()
    return client, stage


def begin(shop: Shop, ref: str) -> CaseStage:
    stage = make_case(shop, now=NOW, ref=ref).stages.get(key="receive")
    start_stage(shop.envelope("mara"), stage=stage.pk, version=stage.version)
    stage.refresh_from_db()
    return stage


def unlock(client: Client, shop: Shop, who: str = "mara") -> Any:
    return client.post(reverse("cases:bench-pin", args=[shop.people[who].pk]), {"pin": PIN})


def answer(client: Client, stage: CaseStage, do: str, **data: Any) -> Any:
    spans = WorkSpan.objects.filter(run__stage=stage, to_check=True)
    body = {"submission_id": str(uuid.uuid4()), "do": do, "span": [one.pk for one in spans], **data}
    return client.post(reverse(ASKED), body)


def test_request_that_finds_the_tablet_idle_locks_it_and_puts_the_work_down(
    locked: tuple[Client, CaseStage],
) -> None:
    _client, stage = locked

    assert stage.state == "paused"
    assert BenchSession.objects.get().closed_how == "idle"
    assert WorkSpan.objects.get().ended_at == NOW + timedelta(minutes=5)


def test_question_is_the_first_thing_after_the_pin(
    locked: tuple[Client, CaseStage], shop: Shop
) -> None:
    client, stage = locked

    opened = unlock(client, shop)
    text = client.get(opened["Location"]).content.decode()

    assert opened["Location"] == reverse(ASKED)
    assert f'{stage.name} <span class="nowrap">{stage.case.number}</span> was put down' in text
    assert "was put down at 10:47 when the tablet locked." in text
    assert "It is 11:12 now." in text


def test_colleague_is_asked_nothing(locked: tuple[Client, CaseStage], shop: Shop) -> None:
    client, _stage = locked

    opened = unlock(client, shop, "oren")

    assert opened["Location"] == reverse("cases:bench")
    assert client.get(reverse(ASKED))["Location"] == reverse("cases:bench")


def test_one_tap_says_that_the_work_went_on(locked: tuple[Client, CaseStage], shop: Shop) -> None:
    client, stage = locked
    unlock(client, shop)

    done = answer(client, stage, "on")

    stage.refresh_from_db()
    assert (done.status_code, done["Location"]) == (303, reverse("cases:bench"))
    assert stage.state == "running"
    assert answer(client, stage, "on").status_code == 303


def test_one_tap_says_that_it_stopped_then(locked: tuple[Client, CaseStage], shop: Shop) -> None:
    client, stage = locked
    unlock(client, shop)

    answer(client, stage, "then")

    stage.refresh_from_db()
    assert stage.state == "paused"
    assert not WorkSpan.objects.filter(to_check=True).exists()


def test_time_of_the_wall_says_when_it_stopped(
    locked: tuple[Client, CaseStage], shop: Shop
) -> None:
    client, stage = locked
    unlock(client, shop)

    answer(client, stage, "at", until="11:00")

    ended = WorkSpan.objects.latest("pk").ended_at
    assert ended == NOW + timedelta(minutes=18)


@pytest.mark.parametrize(
    ("until", "said"),
    [
        ("", "Enter a time of day"),
        ("25:00", "Enter a time of day"),
        ("11:30", "Enter a time between 10:42"),
        ("10:30", "Enter a time between 10:42"),
    ],
)
def test_time_that_cannot_be_is_refused_beside_its_field(
    locked: tuple[Client, CaseStage], shop: Shop, until: str, said: str
) -> None:
    client, stage = locked
    unlock(client, shop)

    refused = answer(client, stage, "at", until=until)

    assert refused.status_code == 422
    assert said in refused.content.decode()
    assert WorkSpan.objects.filter(to_check=True).count() == 1


def test_minute_in_which_it_began_is_a_time(locked: tuple[Client, CaseStage], shop: Shop) -> None:
    client, stage = locked
    unlock(client, shop)

    assert answer(client, stage, "at", until="10:42").status_code == 303


def test_several_are_answered_with_one_tap(
    client: Client, shop: Shop, moment: time_machine.Coordinates
) -> None:
    stages = [begin(shop, f"Q-118{n}") for n in range(3)]
    sign_in(client, shop, "mara")
    moment.shift(timedelta(minutes=30))
    client.get(reverse("cases:bench"))
    unlock(client, shop)
    text = client.get(reverse(ASKED)).content.decode()
    spans = list(WorkSpan.objects.filter(to_check=True).values_list("pk", flat=True))

    body = {"submission_id": str(uuid.uuid4()), "do": "on", "span": spans}
    client.post(reverse(ASKED), body)

    assert "I went on working at all of them" in text
    states = CaseStage.objects.filter(pk__in=[one.pk for one in stages])
    assert set(states.values_list("state", flat=True)) == {"running"}


def test_bench_leads_back_to_what_was_not_answered(
    locked: tuple[Client, CaseStage], shop: Shop
) -> None:
    client, _stage = locked
    unlock(client, shop)

    text = client.get(reverse("cases:bench")).content.decode()

    assert "One stage was put down when a tablet locked." in text
    assert "Are its minutes right?" not in text


def test_own_lock_by_itself_is_the_programs_doing(
    client: Client, shop: Shop, moment: time_machine.Coordinates
) -> None:
    stage = begin(shop, "Q-1180")
    sign_in(client, shop, "mara")
    moment.shift(SEEN_EVERY)

    client.post(reverse("cases:bench-lock"), {"how": "idle"})

    event = stage.case.events.get(kind="stage.paused")
    assert event.by is None
    assert BenchSession.objects.get().closed_how == "idle"


def test_question_costs_the_same_for_one_and_for_three(
    client: Client, shop: Shop, moment: time_machine.Coordinates
) -> None:
    counts = []
    for refs in (("Q-1",), ("Q-2", "Q-3")):
        for ref in refs:
            begin(shop, ref)
        sign_in(client, shop, "mara", timezone.now())
        moment.shift(timedelta(minutes=6))
        client.get(reverse("cases:bench"))
        unlock(client, shop)
        with CaptureQueriesContext(connection) as asked:
            client.get(reverse(ASKED))
        counts.append(len(asked))

    assert counts[0] == counts[1]
