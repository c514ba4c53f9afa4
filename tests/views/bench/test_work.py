"""My work now, taking a case by its code, and what the list costs."""

from __future__ import annotations

import io
import uuid
from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
import segno
import time_machine
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from cases.models import Case, Station, Tablet, WorkSpan
from cases.services.assign import assign_stage
from cases.services.stage import start_stage
from cases.services.tablets import leave_bench
from tests.factories import NOW, Shop, make_case, rows
from tests.views.bench.conftest import sign_in, stage_of

pytestmark = pytest.mark.django_db
BENCH = "cases:bench"


def take(client: Client, code: str = "", **data: Any) -> Any:
    body = {"submission_id": str(uuid.uuid4()), "code": code, **data}
    return client.post(reverse("cases:bench-take"), body)


def test_bench_without_a_person_asks_who_works_here(client: Client, shop: Shop) -> None:
    assert client.get(reverse(BENCH))["Location"].startswith(reverse("cases:sign-in"))


def test_bench_is_not_for_dentists(client: Client, shop: Shop) -> None:
    client.force_login(shop.people["lind"].user)
    assert client.get(reverse(BENCH)).status_code == 404


def test_bench_without_work_says_so(bench: Client) -> None:
    page = bench.get(reverse(BENCH))
    assert page.status_code == 200
    assert "Nothing waits for you." in page.content.decode()


def test_bench_puts_what_runs_first_and_then_what_leaves_first(
    bench: Client, shop: Shop, case_at: Callable[..., Case]
) -> None:
    later, sooner = case_at("teeth", ref="Q-1"), case_at("teeth", ref="Q-2")
    Case.objects.filter(pk=later.pk).update(leaves_at=NOW + timedelta(days=9))
    Case.objects.filter(pk=sooner.pk).update(leaves_at=NOW + timedelta(days=2))
    text = bench.get(reverse(BENCH)).content.decode()
    assert "Next: Wax up." in text
    assert text.index(sooner.number) < text.index(later.number)
    wax = stage_of(later, "wax")
    start_stage(shop.envelope("mara"), stage=wax.pk, version=wax.version)
    text = bench.get(reverse(BENCH)).content.decode()
    assert "Wax up is in your hands." in text
    assert text.index(later.number) < text.index(sooner.number)


def test_bench_shows_the_pour_clock(
    bench: Client, shop: Shop, moment: time_machine.Coordinates
) -> None:
    case = make_case(shop, now=NOW)
    text = bench.get(reverse(BENCH)).content.decode()
    assert "One impression waits to be poured." in text
    assert f"</svg></span> {case.number}" in text
    assert f'data-due="{case.pour_by:%Y-%m-%dT%H:%M}'[:20] in text or "data-due=" in text
    assert "over its limit" in text


def test_bench_shows_waits_holds_and_given_work(
    bench: Client, shop: Shop, case_at: Callable[..., Case]
) -> None:
    from cases.services.hold import hold_case

    waiting = make_case(shop, now=NOW - timedelta(minutes=6), ref="Q-3", ordered_on=NOW.date())
    from tests.walk import Clock, walk

    walk(shop, waiting, Clock(NOW - timedelta(minutes=30)), until="pour")
    held, given = case_at("teeth", ref="Q-4"), case_at("trim", ref="Q-5")
    hold_case(
        shop.envelope("noor"),
        case=held.pk,
        version=held.version,
        reason="answer",
        waits_for="practice",
        words="Which shade?",
    )
    survey = stage_of(given, "survey")
    assign_stage(
        shop.envelope("noor"),
        stage=survey.pk,
        version=survey.version,
        person=shop.people["mara"].pk,
    )
    text = " ".join(bench.get(reverse(BENCH)).content.decode().split())
    assert "stone sets until" in text
    assert "the practice: Which shade?" in text
    assert "Given to you" in text


def test_bench_of_a_station_shows_its_work_and_offers_the_rest(
    bench: Client, shop: Shop, case_at: Callable[..., Case]
) -> None:
    case = case_at("teeth")
    press = Station.objects.get(key="press")
    rows(lambda record: {"t": record.change(Tablet.objects.get(), station=press)})
    here = bench.get(reverse(BENCH)).content.decode()
    everywhere = bench.get(reverse(BENCH), {"everywhere": "1"}).content.decode()
    assert case.number not in here
    assert "Show the work of every place" in here
    assert case.number in everywhere


def test_bench_nudges_what_runs_for_long(
    bench: Client, shop: Shop, case_at: Callable[..., Case]
) -> None:
    wax = stage_of(case_at("teeth"), "wax")
    start_stage(
        shop.envelope("mara", now=NOW - timedelta(hours=3)), stage=wax.pk, version=wax.version
    )
    text = bench.get(reverse(BENCH)).content.decode()
    assert "still at it?" in text
    assert "Still at it? If not, pause it and correct the minutes." in text


def test_bench_shows_paused_minutes_until_they_are_confirmed(
    bench: Client, shop: Shop, case_at: Callable[..., Case]
) -> None:
    wax = stage_of(case_at("teeth"), "wax")
    start_stage(
        shop.envelope("mara", now=NOW - timedelta(minutes=20)), stage=wax.pk, version=wax.version
    )
    leave_bench(shop.envelope("mara"))
    text = bench.get(reverse(BENCH)).content.decode()
    assert "The program paused one stage of yours." in text
    assert f"</svg></span> {wax.case.number}" in text
    span = WorkSpan.objects.get(to_check=True)
    url = reverse("cases:bench-minutes-right", args=[span.pk])
    assert bench.post(url, {"submission_id": uuid.uuid4()}).status_code == 303
    span.refresh_from_db()
    assert not span.to_check


def test_minutes_of_somebody_else_are_not_there(
    bench: Client, shop: Shop, case_at: Callable[..., Case]
) -> None:
    case_at("teeth")
    sign_in(bench, shop, "oren")
    span = WorkSpan.objects.filter(person=shop.people["mara"]).first()
    assert span is not None
    assert bench.post(reverse("cases:bench-minutes", args=[span.pk]), {}).status_code == 404


def test_take_by_number_opens_the_stage(bench: Client, case_at: Callable[..., Case]) -> None:
    case = case_at("teeth")
    for code in (
        case.number,
        case.number.replace("-", "").lower(),
        f"https://lab.example/cases/{case.number}/",
    ):
        answer = take(bench, code)
        assert answer["Location"] == reverse(
            "cases:bench-stage", args=[stage_of(case, "wax").pk]
        ), code


def test_take_with_a_wrong_check_character_says_so_and_keeps_it(
    bench: Client, case_at: Callable[..., Case]
) -> None:
    number = case_at("trim").number
    wrong = number[:-1] + ("A" if number[-1] != "A" else "B")
    answer = take(bench, wrong)
    assert answer.status_code == 422
    assert "the last character does not fit" in answer.content.decode()
    assert f'value="{wrong}"' in answer.content.decode()
    unknown = take(bench, "nonsense")
    assert "is not a case number" in unknown.content.decode()


def test_take_by_flask_from_flasking_to_deflasking(
    bench: Client, case_at: Callable[..., Case]
) -> None:
    case = case_at("flask-lower")
    label = case.occupations.get(thing__kind="flask").thing.label
    upper = reverse("cases:bench-stage", args=[stage_of(case, "flask-upper").pk])
    assert take(bench, label)["Location"] == upper
    assert take(bench, f"flask {label}")["Location"] == upper
    assert "No case is in flask 8." in take(bench, "flask 8").content.decode()


def test_take_by_a_photograph_of_its_code(bench: Client, case_at: Callable[..., Case]) -> None:
    case = case_at("trim")
    code = io.BytesIO()
    segno.make(case.number, error="m").save(code, kind="png", scale=6, border=4)
    code.seek(0)
    code.name = "ticket.png"
    answer = take(bench, photo=code)
    assert answer["Location"] == reverse("cases:bench-stage", args=[stage_of(case, "survey").pk])
    none = io.BytesIO(b"no picture")
    none.name = "x.png"
    assert "not a picture" in take(bench, photo=none).content.decode()


@pytest.mark.parametrize("many", [3, 60])
def test_bench_costs_the_same_for_one_case_and_for_many(
    bench: Client, shop: Shop, case_at: Callable[..., Case], many: int
) -> None:
    case_at("trim", ref="Q-0")
    bench.get(reverse(BENCH))
    with CaptureQueriesContext(connection) as one:
        bench.get(reverse(BENCH))
    for n in range(many):
        make_case(shop, now=NOW - timedelta(hours=20), ref=f"Q-1{n}")
    with CaptureQueriesContext(connection) as more:
        text = bench.get(reverse(BENCH)).content.decode()
    assert text.count('class="bench-card"') == 1 + min(many, 40)
    assert ("There is more: take a case by its number." in text) == (many > 40)
    assert len(more) == len(one)
