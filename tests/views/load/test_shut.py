"""The page of a stage says what the load says: how long a flask stays shut, and who may concede."""

from __future__ import annotations

from datetime import datetime, timedelta

import pytest
import time_machine
from django.test import Client
from django.urls import reverse
from django.utils.html import strip_tags

from tests.factories import rows
from tests.services.test_cure_shut import bench_with, out, without_waits
from tests.services.test_load import Bench, stage_of
from tests.views.load.test_record import client_of

pytestmark = pytest.mark.django_db
CONCEDE = "Before its time, with a reason"


def said(client: Client, bench: Bench, at: datetime) -> str:
    with time_machine.travel(at, tick=False):
        row = stage_of(bench.cases[0], "deflask")
        page = client.get(reverse("cases:bench-stage", args=[row.pk]))
    assert page.status_code == 200
    return " ".join(strip_tags(page.content.decode()).split())


def test_page_tells_why_a_flask_stays_shut_where_only_the_load_says_so() -> None:
    bench = bench_with("no-cool")
    load = bench.started()
    without_waits(bench.cases[0])
    client = client_of(bench.shop)
    assert load.ends_at
    runs = said(client, bench, bench.now)
    in_bath = said(client, bench, load.ends_at + timedelta(minutes=90))
    bench.now = load.ends_at + timedelta(minutes=91)
    out(bench, load)
    without_waits(bench.cases[0])
    hot = said(client, bench, bench.now + timedelta(minutes=1))
    assert load.open_from
    opens = said(client, bench, load.open_from)

    assert "The program of load 1 runs until" in runs
    assert "Note first that load 1 is out." in in_bath
    assert "The flask of load 1 cools until" in hot
    for shut in (runs, in_bath, hot):
        assert CONCEDE in shut
        assert "Start: Open the flask" not in shut
    assert CONCEDE not in opens
    assert "Start: Open the flask" in opens


def test_page_counts_down_to_when_the_load_lets_go() -> None:
    bench = bench_with("no-cool")
    load = bench.started()
    opening = stage_of(bench.cases[0], "deflask")
    at = bench.now - timedelta(minutes=1)
    rows(lambda record: {"s": record.change(opening, ready_at=at, may_from=at)})

    with time_machine.travel(bench.now, tick=False):
        page = client_of(bench.shop).get(reverse("cases:bench-stage", args=[opening.pk]))

    assert page.context["until"] == load.ends_at
    assert not page.context["may_begin"]
