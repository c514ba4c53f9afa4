"""The pages of the loads, without scripts: gather, ask, start, and what is refused there."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager
from typing import Any

import pytest
import time_machine
from django.test import Client
from django.urls import reverse

from cases.models import Load
from tests.factories import make_shop
from tests.services.test_load import Bench, stage_of
from tests.views.load.test_record import client_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def bench() -> Iterator[Bench]:
    bench = Bench(make_shop(), cases=1)
    with time_machine.travel(bench.now, tick=False):
        yield bench


@pytest.fixture
def mara(bench: Bench) -> Client:
    return client_of(bench.shop)


def act(client: Client, load: Load, what: str, **body: Any) -> Any:
    load.refresh_from_db()
    sent = {"what": what, "version": load.version, **body}
    return client.post(reverse("cases:load-act", args=[load.number]), sent)


def test_load_goes_from_the_form_to_the_bath(mara: Client, bench: Bench) -> None:
    case = bench.cases[0]
    made = mara.post(
        reverse("cases:load-new"),
        {"bath": bench.made["bath"].pk, "program": bench.made["long"].pk},
    )
    load = Load.objects.get()
    added = act(mara, load, "flask", label=case.number, thickest_mm="4")
    act(mara, load, "estimate")
    asked = mara.get(reverse("cases:load", args=[load.number]))
    started = act(mara, load, "start")

    assert made["Location"] == reverse("cases:load", args=[load.number])
    assert added.status_code == 303
    assert "Heating estimate only" in asked.content.decode()
    assert started.status_code == 303
    assert stage_of(case, "cure").state == "done"
    shown = mara.get(reverse("cases:case", args=[case.number])).content.decode()
    assert f"Load {load.number}, Cauldron" in shown


def test_unknown_flask_is_refused_beside_its_field_and_kept(mara: Client, bench: Bench) -> None:
    load = bench.new()

    answer = act(mara, load, "flask", label="Z-99")

    page = answer.content.decode()
    assert answer.status_code == 422
    assert 'value="Z-99"' in page
    assert "No case is in flask Z-99" in page


def test_start_that_was_not_asked_about_is_refused(mara: Client, bench: Bench) -> None:
    load = bench.new()

    answer = act(mara, load, "start")

    assert answer.status_code == 422
    assert "Let the program be looked at" in answer.content.decode()


def test_stale_page_says_so(mara: Client, bench: Bench) -> None:
    load = bench.new()
    sent = {"what": "cancel", "version": load.version - 1}

    answer = mara.post(reverse("cases:load-act", args=[load.number]), sent, follow=True)

    assert "changed by somebody else" in answer.content.decode()
    load.refresh_from_db()
    assert load.state == "gathering"


def test_wait_is_shortened_only_with_a_reason(bench: Bench) -> None:
    row = bench.started()
    cool = stage_of(bench.cases[0], "cool")
    client = client_of(bench.shop, "pavo")
    address = reverse("cases:wait-shorten", args=[cool.pk])

    silent = client.post(address, {"version": cool.version, "words": ""})
    said = client.post(address, {"version": cool.version, "words": "The bath leaks. Pavo"})

    cool.refresh_from_db()
    assert (silent.status_code, said.status_code) == (422, 303)
    assert cool.may_from is not None
    assert row.ends_at is not None
    assert cool.may_from < row.ends_at


@pytest.mark.parametrize("loads", [1, 6])
def test_list_asks_the_same_whatever_its_length(
    mara: Client,
    bench: Bench,
    loads: int,
    django_assert_max_num_queries: Callable[[int], AbstractContextManager[object]],
) -> None:
    bench.cases = []
    for _ in range(loads):
        bench.new()

    with django_assert_max_num_queries(16):
        mara.get(reverse("cases:loads"))
