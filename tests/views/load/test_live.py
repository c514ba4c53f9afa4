"""The pages of a load say what the feed of its bath told, and lead to the trace of it."""

from __future__ import annotations

from datetime import timedelta

import pytest
import time_machine
from django.test import Client
from django.urls import reverse

from cases.domain.cure.feed import Sample
from cases.models import BathFeed, BathRecord, LoadTrace
from cases.services import feed_watch, feeds, load_run
from cases.services.feed_in import take_in
from tests.factories import make_shop
from tests.services.test_load import Bench

pytestmark = pytest.mark.django_db


@pytest.fixture
def bench() -> Bench:
    return Bench(make_shop(), cases=1)


@pytest.fixture
def mara(client: Client, bench: Bench) -> Client:
    user = bench.shop.people["mara"].user
    assert user is not None
    client.force_login(user)
    return client


def test_running_load_shows_the_last_temperature(mara: Client, bench: Bench) -> None:
    feeds.open_to_token(bench.shop.envelope("pavo"), bath=bench.made["bath"].pk)
    row = bench.started()
    page = reverse("cases:load", args=[row.number])
    at = bench.now + timedelta(minutes=30)

    with time_machine.travel(at, tick=False):
        take_in(BathFeed.objects.get(), [Sample(at - timedelta(minutes=1), 73.2)])
        shown = mara.get(page).content.decode()

    assert "73.2 °C" in shown
    assert "read live" in shown


def test_trace_leads_to_a_verdict_in_two_taps(mara: Client, bench: Bench) -> None:
    feeds.open_to_token(bench.shop.envelope("pavo"), bath=bench.made["bath"].pk)
    row = bench.started()
    assert row.starts_at
    assert row.ends_at
    begins = row.starts_at
    minutes = range(0, round((row.ends_at - begins).total_seconds() / 60) + 1, 5)
    take_in(
        BathFeed.objects.get(),
        [Sample(begins + timedelta(minutes=n), min(74.0, 23 + 1.7 * n)) for n in minutes],
    )
    bench.now = row.ends_at
    bench.do(load_run.take_out, load=row.number, version=row.version)
    feed_watch.offer_traces(bench.now)

    with time_machine.travel(bench.now + timedelta(minutes=5), tick=False):
        offered = mara.get(reverse("cases:load", args=[row.number]))
        confirm = mara.get(offered.context["live"].confirm)
        form = confirm.context["form"]
        first = {name: form[name].value() or form.fields[name].initial for name in form.fields}
        sent = mara.post(
            confirm.request["PATH_INFO"], {k: v for k, v in first.items() if v is not None}
        )
        after = mara.get(reverse("cases:load", args=[row.number]))

    assert "Confirm them as its record" in offered.content.decode()
    assert confirm.context["questions"] == ()
    kept = BathRecord.objects.get()
    assert sent["Location"] == reverse("cases:bath-record", args=[row.number, kept.pk])
    assert (kept.sha256, kept.verdict["verdict"]) == (LoadTrace.objects.get().sha256, "complete")
    assert "Confirm them as its record" not in after.content.decode()
