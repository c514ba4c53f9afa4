"""What a bath's record said is seen wherever the next person works, with what was decided."""

from __future__ import annotations

import html
import re
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager
from datetime import timedelta

import pytest
import time_machine
from django.test import Client
from django.urls import reverse

from cases.services.cut import decide_cut
from cases.services.load_run import take_out
from cases.views.load.said import probe_words
from tests.factories import Shop, make_shop
from tests.services.test_bath_record_back import WHY, Judged
from tests.services.test_load import Bench, stage_of
from tests.views.load.test_record import client_of

pytestmark = pytest.mark.django_db
WAITS = "nobody has decided yet"
ASK = "Ask somebody who may before the flask is opened"
UNREAD = "obody has read the bath's record"


@pytest.fixture
def judged() -> Iterator[Judged]:
    judged = Judged()
    with time_machine.travel(judged.now, tick=False):
        yield judged


def at_bench(shop: Shop) -> Client:
    return client_of(shop, "mara")


def pages(judged: Judged) -> dict[str, str]:
    """Return where the next person looks, by a name: what each page says."""
    case = judged.cases[0]
    wanted = {
        "load": reverse("cases:load", args=[judged.load.number]),
        "list": reverse("cases:loads"),
        "case": reverse("cases:case", args=[case.number]),
        "bench": reverse("cases:bench-stage", args=[stage_of(case, "deflask").pk]),
        "batch": reverse("cases:bench-batch", args=["deflask"]),
    }
    client = at_bench(judged.bench.shop)
    found = {}
    for name, address in wanted.items():
        answer = client.get(address)
        assert answer.status_code == 200, name
        found[name] = html.unescape(answer.content.decode())
    return found


def test_verdict_without_a_decision_is_told_everywhere_with_its_link(judged: Judged) -> None:
    record = reverse("cases:bath-record", args=[judged.load.number, judged.row.pk])

    shown = pages(judged)

    for name, page in shown.items():
        assert f'href="{record}"' in page, name
        assert '<span class="tag tag-failed">repeat</span>' in page, name
        assert f'<span class="tag tag-late">{WAITS}</span>' in page, name
    assert ASK in shown["bench"]
    assert re.search(r'class="obstacle">\s*<p><a href="/loads/1/"', shown["bench"])


def test_what_was_decided_stands_in_place_of_the_question(judged: Judged) -> None:
    judged.decide("inspect")

    for name, page in pages(judged).items():
        assert "Oren decided: Go on, and inspect closely at deflasking" in page, name
        assert WAITS not in page, name
        assert ASK not in page, name
    assert WHY in pages(judged)["bench"]


def test_what_was_decided_after_a_power_cut_is_decided_of_its_record(judged: Judged) -> None:
    began = judged.load.starts_at
    assert began is not None
    judged.load.refresh_from_db()
    decide_cut(
        judged.envelope(),
        loads=[{"load": judged.load.number, "version": judged.load.version, "stage": 0,
                "decision": "as-is"}],
        words="The street was dark",
        off_at=(began + timedelta(hours=1)).isoformat(),
        on_at=(began + timedelta(hours=2)).isoformat(),
    )  # fmt: skip

    for name, page in pages(judged).items():
        assert "Oren decided: Leave it as it is" in page, name
        assert WAITS not in page, name
        assert ASK not in page, name
    record = reverse("cases:bath-record", args=[judged.load.number, judged.row.pk])
    shown = client_of(judged.bench.shop, "oren").get(record)
    (cut,) = judged.load.cuts.all()
    assert cut.record == judged.row
    assert f'href="{reverse("cases:cut", args=[cut.cut_id])}"' in shown.content.decode()
    assert shown.context["after_cut"]["words"] == "Leave it as it is"


def test_record_that_was_read_anew_is_the_one_that_counts(judged: Judged) -> None:
    judged.decide("inspect")
    judged.row = judged.read()

    shown = pages(judged)

    for name, page in shown.items():
        assert WAITS in page, name
    both = shown["load"]
    assert both.count("Oren decided: Go on") == 1


def test_load_out_of_its_bath_says_that_nobody_read_its_record() -> None:
    bench = Bench(make_shop(), cases=1)
    row = bench.started()
    assert row.ends_at
    client = at_bench(bench.shop)
    page = reverse("cases:bench-stage", args=[stage_of(bench.cases[0], "deflask").pk])

    with time_machine.travel(bench.now, tick=False):
        inside = client.get(reverse("cases:loads")).content.decode()
    bench.now = row.ends_at
    bench.do(take_out, load=row.number, version=row.version)
    with time_machine.travel(bench.now + timedelta(hours=2), tick=False):
        after = client.get(reverse("cases:loads")).content.decode()
        opened = client.get(page).content.decode()

    assert UNREAD not in html.unescape(inside)
    assert UNREAD in html.unescape(after)
    assert UNREAD in html.unescape(opened)
    assert reverse("cases:bath-record-new", args=[row.number]) in opened


def test_cure_to_be_done_again_does_not_show_the_old_record_at_the_flask(judged: Judged) -> None:
    judged.decide("repeat")
    stage = stage_of(judged.cases[0], "deflask")

    page = at_bench(judged.bench.shop).get(reverse("cases:bench-stage", args=[stage.pk]))

    assert page.context["bath_load"] is None


@pytest.mark.parametrize("cases", [1, 3])
def test_batch_asks_the_same_whatever_its_length(
    cases: int, django_assert_max_num_queries: Callable[[int], AbstractContextManager[object]]
) -> None:
    judged = Judged(cases=cases)
    client = at_bench(judged.bench.shop)

    with time_machine.travel(judged.now, tick=False), django_assert_max_num_queries(30):
        client.get(reverse("cases:bench-batch", args=["deflask"]))


def test_list_asks_the_same_whatever_was_read(
    judged: Judged,
    django_assert_max_num_queries: Callable[[int], AbstractContextManager[object]],
) -> None:
    for _n in range(3):
        judged.read()

    client = at_bench(judged.bench.shop)
    with django_assert_max_num_queries(17):
        client.get(reverse("cases:loads"))


@pytest.mark.parametrize(
    ("high", "words"),
    [
        (0.3, "checked on 14 October 2026, it reads 0.3 °C too high, which is taken off"),
        (-0.3, "checked on 14 October 2026, it reads 0.3 °C too low, which is added"),
        (0.0, "checked on 14 October 2026, it reads right"),
    ],
)
def test_check_of_a_probe_is_said_with_its_way(high: float, words: str) -> None:
    assert probe_words({"checked_on": "2026-10-14", "reads_high_k": high}) == words


def test_probe_without_a_check_says_nothing() -> None:
    assert probe_words({"checked_on": "", "reads_high_k": 0.0}) == ""
