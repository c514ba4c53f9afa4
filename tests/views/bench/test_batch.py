"""One stage for several cases: all of them, or none with the case in the way."""

from __future__ import annotations

import uuid
from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from cases.models import BenchSession, Case, CaseStage, Thing
from cases.selectors.labour import attended_minutes
from cases.services.hold import hold_case
from cases.services.stage import start_stage
from tests.factories import NOW, Shop, answers, enter_checks
from tests.views.bench.conftest import stage_of

pytestmark = pytest.mark.django_db


def send(client: Client, key: str, stages: list[CaseStage], do: str, **data: Any) -> Any:
    body: dict[str, Any] = {
        "submission_id": str(uuid.uuid4()),
        "do": do,
        "stage": [stage.pk for stage in stages],
        **{f"version-{stage.pk}": stage.version for stage in stages},
        **data,
    }
    return client.post(reverse("cases:bench-batch", args=[key]), body)


def three(case_at: Callable[..., Case], until: str, key: str) -> list[CaseStage]:
    return [stage_of(case_at(until, ref=f"Q-{n}0"), key) for n in range(1, 4)]


def fresh(stages: list[CaseStage]) -> list[CaseStage]:
    for stage in stages:
        stage.refresh_from_db()
    return stages


def test_batch_starts_and_finishes_together(
    bench: Client, shop: Shop, case_at: Callable[..., Case]
) -> None:
    stages = three(case_at, "flask-upper", "boil-out")
    page = bench.get(reverse("cases:bench")).content.decode()
    assert "Soften and flush out the wax: 3 cases" in page
    shown = bench.get(reverse("cases:bench-batch", args=["boil-out"])).content.decode()
    assert "share the minutes equally" in shown
    assert send(bench, "boil-out", stages, "start").status_code == 303
    assert {stage.state for stage in fresh(stages)} == {"running"}
    early = send(bench, "boil-out", stages, "finish")
    assert early.status_code == 422
    assert stages[0].case.number in early.content.decode()
    assert {stage.state for stage in fresh(stages)} == {"running"}


def test_batch_with_one_case_in_the_way_starts_none(
    bench: Client, shop: Shop, case_at: Callable[..., Case]
) -> None:
    stages = three(case_at, "teeth", "wax")
    last = stages[2].case
    hold_case(
        shop.envelope("noor"),
        case=last.pk,
        version=last.version,
        reason="answer",
        waits_for="practice",
        words="Shade?",
    )
    answer = send(bench, "wax", stages, "start")
    assert answer.status_code == 422
    text = answer.content.decode()
    assert f"{last.number} is on hold" in text
    assert "Nothing of this batch was stored." in text
    assert {stage.state for stage in fresh(stages)} == {"planned"}


def test_batch_puts_the_missing_flask_beside_its_case(
    bench: Client, case_at: Callable[..., Case]
) -> None:
    stages = three(case_at, "wax-pass", "flask-lower")
    flasks = {f"thing-flask-{stage.pk}": str(n) for n, stage in enumerate(stages[:2], start=1)}
    answer = send(bench, "flask-lower", stages, "start", **flasks)
    text = answer.content.decode()
    assert answer.status_code == 422
    assert f'id="thing-flask-{stages[2].pk}-error"' in text
    flasks[f"thing-flask-{stages[2].pk}"] = "3"
    assert send(bench, "flask-lower", stages, "start", **flasks).status_code == 303
    taken = Thing.objects.filter(kind="flask", occupations__freed_at__isnull=True)
    assert set(taken.values_list("label", flat=True)) >= {"1", "2", "3"}


def test_batch_sent_twice_starts_once(bench: Client, case_at: Callable[..., Case]) -> None:
    stages = three(case_at, "teeth", "wax")
    sent = str(uuid.uuid4())
    for _n in range(2):
        assert send(bench, "wax", stages, "start", submission_id=sent).status_code == 303
    assert [stage.runs.count() for stage in stages] == [1, 1, 1]


def test_batch_of_one_is_no_batch(bench: Client, case_at: Callable[..., Case]) -> None:
    stages = three(case_at, "teeth", "wax")[:1]
    answer = send(bench, "wax", stages, "start")
    assert "Choose two cases or more" in answer.content.decode()


def test_batch_finishes_and_shares_the_minutes(
    bench: Client, shop: Shop, case_at: Callable[..., Case], moment: Any
) -> None:
    stages = three(case_at, "teeth", "wax")
    send(bench, "wax", stages, "start")
    moment.shift(30 * 60)
    for stage in fresh(stages):
        enter_checks(
            shop.envelope("mara"), stage=stage.pk, version=stage.version, checks=answers(stage)
        )
    BenchSession.objects.update(seen_at=NOW + timedelta(minutes=29))
    done = send(bench, "wax", stages, "finish")
    assert done.status_code == 303
    spans = [stage.runs.get().spans.get() for stage in fresh(stages)]
    minutes = attended_minutes(spans, NOW + timedelta(hours=1))
    assert [round(one.minutes, 3) for one in minutes.values()] == [10, 10, 10]
    assert {one.shared_with for one in minutes.values()} == {2}


def test_batch_is_undone_with_one_tap_for_ten_seconds(
    bench: Client, case_at: Callable[..., Case], moment: Any
) -> None:
    stages = three(case_at, "teeth", "wax")
    send(bench, "wax", stages, "start")
    undo = reverse("cases:bench-batch-undo", args=["wax"])
    body = {
        "submission_id": str(uuid.uuid4()),
        "stage": [stage.pk for stage in fresh(stages)],
        **{f"version-{stage.pk}": stage.version for stage in stages},
    }
    offered = bench.get(reverse("cases:bench")).content.decode()

    undone = bench.post(undo, body)

    assert undo in offered
    assert "Begun: Wax up, 3 cases." in offered
    assert undone["Location"] == reverse("cases:bench-batch", args=["wax"])
    assert {stage.state for stage in fresh(stages)} == {"planned"}


def test_undo_of_a_batch_is_not_offered_or_taken_later(
    bench: Client, case_at: Callable[..., Case], moment: Any
) -> None:
    stages = three(case_at, "teeth", "wax")
    send(bench, "wax", stages, "start")
    undo = reverse("cases:bench-batch-undo", args=["wax"])
    moment.shift(16)

    late = bench.post(
        undo,
        {
            "stage": [stage.pk for stage in fresh(stages)],
            **{f"version-{stage.pk}": stage.version for stage in stages},
        },
        follow=True,
    ).content.decode()

    assert undo not in late
    assert "Ten seconds are over." in late
    assert {stage.state for stage in fresh(stages)} == {"running"}


def test_batch_page_costs_the_same_for_two_and_for_more(
    bench: Client, case_at: Callable[..., Case]
) -> None:
    url = reverse("cases:bench-batch", args=["pour"])
    for n in range(2):
        case_at("receive", ref=f"Q-{n}1", days=1)
    bench.get(url)
    with CaptureQueriesContext(connection) as two:
        bench.get(url)
    for n in range(3):
        case_at("receive", ref=f"Q-{n}2", days=1)
    with CaptureQueriesContext(connection) as five:
        bench.get(url)
    assert len(two) == len(five)


def test_start_alone_and_batch_share_the_same_rules(
    bench: Client, shop: Shop, case_at: Callable[..., Case]
) -> None:
    stages = three(case_at, "teeth", "wax")
    start_stage(shop.envelope("oren"), stage=stages[1].pk, version=stages[1].version)
    answer = send(bench, "wax", stages, "start")
    assert "Oren has it in hand" in answer.content.decode()
    assert {stage.state for stage in fresh(stages)} == {"planned", "running"}
    assert stages[0].state == "planned"
