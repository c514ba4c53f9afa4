"""How a piece seated, by the service."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest

from cases.models import Case, InsertionReport
from cases.services.record import Refusal
from cases.services.report import insert_report
from cases.services.verify_record import verify_record
from tests.factories import NOW, Shop, make_case, make_shop
from tests.rights.scene import Scene, sent_case

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop() -> Shop:
    return make_shop()


@pytest.fixture
def sent(shop: Shop) -> Case:
    return sent_case(Scene(shop))


def report(shop: Shop, case: Case, who: str = "lind", **body: Any) -> None:
    insert_report(shop.envelope(who, door="portal"), case=case.pk, **body)


def test_report_stores_what_was_told_and_not_told(shop: Shop, sent: Case) -> None:
    report(shop, sent, retention="good", adjusted=["border-long", "border-long"])

    row = InsertionReport.objects.get()
    assert (row.retention, row.seating, row.bite, row.sore_spots) == (
        "good", "not-reported", "not-reported", "not-reported",
    )  # fmt: skip
    assert row.chair_minutes is None
    assert row.adjusted == ["border-long"]
    assert verify_record() == []


def test_second_report_is_a_further_row(shop: Shop, sent: Case) -> None:
    report(shop, sent, retention="good")
    report(shop, sent, retention="loose", words="A week later")

    assert list(InsertionReport.objects.values_list("retention", flat=True)) == ["good", "loose"]


def test_same_report_sent_twice_is_one(shop: Shop, sent: Case) -> None:
    envelope = shop.envelope("lind", door="portal")
    insert_report(envelope, case=sent.pk, retention="good")

    assert insert_report(envelope, case=sent.pk, retention="good").repeated
    assert InsertionReport.objects.count() == 1


@pytest.mark.parametrize(
    ("body", "code"),
    [
        ({}, "nothing-said"),
        ({"retention": "splendid"}, "bad-report"),
        ({"chairside_minutes": -1}, "bad-report"),
        ({"adjusted": ["moon"]}, "bad-report"),
        ({"adjusted": ["other"]}, "no-words"),
    ],
)
def test_report_refuses(shop: Shop, sent: Case, body: dict[str, Any], code: str) -> None:
    with pytest.raises(Refusal) as caught:
        report(shop, sent, **body)

    assert caught.value.code == code
    assert InsertionReport.objects.count() == 0


def test_report_is_refused_before_the_case_has_left(shop: Shop) -> None:
    case = make_case(shop)

    with pytest.raises(Refusal, match="has not left the laboratory") as caught:
        report(shop, case, retention="good")

    assert caught.value.code == "not-sent"


@pytest.mark.parametrize(("who", "code"), [("vega", "no-case"), ("remy", "not-allowed")])
def test_only_dentists_of_the_practice_report(shop: Shop, sent: Case, who: str, code: str) -> None:
    with pytest.raises(Refusal) as caught:
        report(shop, sent, who, retention="good")

    assert caught.value.code == code


def test_sent_scene_is_in_the_past(sent: Case) -> None:
    assert sent.closed_at is not None
    assert sent.closed_at < NOW - timedelta(days=5)
