"""The van's pages: packing, boxes, rounds and papers through the web."""

from __future__ import annotations

import io
import uuid
from datetime import timedelta
from typing import Any

import pytest
import time_machine
from django.test import Client
from django.urls import reverse
from pypdf import PdfReader
from pytest_django import DjangoAssertNumQueries

from cases.models import Case, Paper, PickUp, Shipment
from cases.services.verify_record import verify_record
from tests.factories import NOW, Shop, answers, make_case, make_shop
from tests.walk import Clock, walk

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop() -> Shop:
    return make_shop()


def client_of(shop: Shop, name: str = "noor") -> Client:
    client = Client()
    user = shop.people[name].user
    assert user is not None
    with time_machine.travel(NOW, tick=False):
        client.force_login(user)
    return client


def packable(shop: Shop, *, ref: str = "Q-1180") -> tuple[Case, Clock]:
    """Return a case that lay in water for a day, and the instant."""
    case = make_case(shop, ref=ref)
    clock = Clock(NOW)
    walk(shop, case, clock, until="soak")
    clock.now += timedelta(days=1)
    case.refresh_from_db()
    return case, clock


def pack_body(case: Case, clock: Clock, **changes: Any) -> dict[str, Any]:
    """What a browser sends for one ticked case with every check passed."""
    body: dict[str, Any] = {
        "submission_id": str(uuid.uuid4()),
        "case": [str(case.pk)],
        "ship_on": clock.now.date().isoformat(),
    }
    for entry in answers(case.stages.get(key="pack-out")):
        body[f"yes-{entry['item']}"] = "yes"
        for key, value in entry["values"].items():
            body[f"number-{entry['item']}-{key}"] = str(value).replace(".", ",")
        for key, text in entry["words"].items():
            body[f"told-{entry['item']}-{key}"] = text
    return body | changes


def words_of(pdf: bytes) -> str:
    return "\n".join(page.extract_text() for page in PdfReader(io.BytesIO(pdf)).pages)


def test_case_goes_from_the_van_page_into_a_box_and_away(shop: Shop) -> None:
    case, clock = packable(shop)
    client = client_of(shop)
    with time_machine.travel(clock.now, tick=False):
        van = client.get(reverse("cases:van"))
        page = client.get(reverse("cases:pack", args=[shop.practice.pk]), {"case": case.number})
        packed = client.post(
            reverse("cases:pack", args=[shop.practice.pk]), pack_body(case, clock), follow=True
        )

    assert case.number in van.content.decode()
    assert "checked" in page.content.decode()
    box = Shipment.objects.get()
    assert f"Box {box.number} for Practice at the quay leaves today." in packed.content.decode()

    with time_machine.travel(clock.now + timedelta(minutes=20), tick=False):
        boxes = client.get(reverse("cases:van")).content.decode().split('id="boxes"')[1]
        assert f"</svg></span> {case.number}" in boxes.split("</section>")[0]
        sent = client.post(
            reverse("cases:box-send", args=[box.number]),
            {"submission_id": str(uuid.uuid4()), "carrier_ref": "AB 12"},
            follow=True,
        )

    assert sent.redirect_chain[-1][0] == reverse("cases:van")
    case.refresh_from_db()
    assert case.state == "sent"
    note = Paper.objects.get(kind="note", shipment=box)
    pdf = client.get(reverse("cases:paper", args=[note.pk]))
    assert pdf["Content-Type"] == "application/pdf"
    assert "Carrier's reference: AB 12." in words_of(pdf.content)
    assert verify_record() == []


def test_refused_pack_form_keeps_what_was_typed(shop: Shop) -> None:
    case, clock = packable(shop)
    body = pack_body(case, clock)
    minutes = next(name for name in body if name.startswith("number-"))
    with time_machine.travel(clock.now, tick=False):
        answer = client_of(shop).post(
            reverse("cases:pack", args=[shop.practice.pk]), body | {minutes: "4"}
        )

    page = answer.content.decode()
    assert answer.status_code == 422
    assert "a check is not passed yet" in page
    assert f'name="{minutes}" value="4"' in page
    assert Shipment.objects.count() == 0


def test_short_soak_is_asked_on_the_page_and_told_on_the_note(shop: Shop) -> None:
    case, clock = packable(shop)
    clock.now -= timedelta(hours=19)
    client = client_of(shop)
    with time_machine.travel(clock.now, tick=False):
        page = client.get(reverse("cases:pack", args=[shop.practice.pk])).content.decode()
        body = pack_body(case, clock, **{f"soak-{case.pk}": "the van was due"})
        client.post(reverse("cases:pack", args=[shop.practice.pk]), body)
        box = Shipment.objects.get()
        note = client.post(
            reverse("cases:box-note", args=[box.number]),
            {"submission_id": str(uuid.uuid4())},
            follow=True,
        )

    assert "It has lain in water for 5 h; usual is 24 h." in page
    assert "Lay in water 5 h instead of 24 h: the van was due." in words_of(note.content)


def test_taking_out_needs_a_reason(shop: Shop) -> None:
    case, clock = packable(shop)
    client = client_of(shop)
    with time_machine.travel(clock.now, tick=False):
        client.post(reverse("cases:pack", args=[shop.practice.pk]), pack_body(case, clock))
        box = Shipment.objects.get()
        address = reverse("cases:box-unpack", args=[box.number, case.pk])
        refused = client.post(address, {"submission_id": str(uuid.uuid4())})
        taken = client.post(
            address,
            {"submission_id": str(uuid.uuid4()), f"{case.pk}-reason": "wrong box"},
            follow=True,
        )

    assert refused.status_code == 422
    assert "Say why it is taken out." in refused.content.decode()
    assert f"Box {box.number} for Practice at the quay is empty." in taken.content.decode()


def test_ticket_and_label_are_kept_once_a_submission(shop: Shop) -> None:
    case = make_case(shop)
    client = client_of(shop)
    body = {"submission_id": str(uuid.uuid4())}

    first = client.post(reverse("cases:ticket", args=[case.number]), body)
    again = client.post(reverse("cases:ticket", args=[case.number]), body)
    label = client.post(
        reverse("cases:label", args=[case.number]),
        {"submission_id": str(uuid.uuid4())},
        follow=True,
    )

    assert first["Location"] == again["Location"]
    assert Paper.objects.filter(case=case, kind="ticket").count() == 1
    assert case.number in words_of(client.get(first["Location"]).content)
    assert case.patient_ref not in words_of(label.content)
    assert verify_record() == []


def test_text_that_cannot_be_printed_is_said_and_nothing_kept(shop: Shop) -> None:
    case = make_case(shop, description="For a tree 木")

    answer = client_of(shop).post(
        reverse("cases:ticket", args=[case.number]), {"submission_id": str(uuid.uuid4())}
    )

    assert answer.status_code == 422
    assert "“木” (CJK UNIFIED IDEOGRAPH-6728) cannot be printed" in answer.content.decode()
    assert Paper.objects.count() == 0


@pytest.mark.parametrize("name", ["mara", "lind"])
def test_others_find_no_van(shop: Shop, name: str) -> None:
    case = make_case(shop)
    client = client_of(shop, name)

    assert client.get(reverse("cases:van")).status_code == 404
    assert client.post(reverse("cases:ticket", args=[case.number])).status_code == 404


def test_mistyped_and_unknown_numbers_are_not_found(shop: Shop) -> None:
    client = client_of(shop)

    assert client.post(reverse("cases:ticket", args=["26-0001-Q"])).status_code == 404
    assert client.get(reverse("cases:box", args=["D26-9999"])).status_code == 404
    assert client.get(reverse("cases:paper", args=[999])).status_code == 404


def test_pick_up_stands_on_the_round_until_it_is_fetched(shop: Shop) -> None:
    client = client_of(shop)
    day = NOW.date().isoformat()
    with time_machine.travel(NOW, tick=False):
        entry = {"practice": shop.practice.pk, "words": "impression, upper", "day": day}
        page = client.post(
            reverse("cases:van-round"), entry | {"submission_id": str(uuid.uuid4())}, follow=True
        )
        refused = client.post(
            reverse("cases:van-round"), {"practice": shop.practice.pk, "words": "", "day": day}
        )
        printed = client.post(
            reverse("cases:van-print"),
            {"submission_id": str(uuid.uuid4()), "day": day},
            follow=True,
        )
        row = PickUp.objects.get()
        done = client.post(
            reverse("cases:pick-up-done", args=[row.pk]),
            {"submission_id": str(uuid.uuid4()), "day": day},
            follow=True,
        )

    assert "Fetch: impression, upper" in page.content.decode()
    assert refused.status_code == 422
    assert "Fetch: impression, upper" in words_of(printed.content)
    assert "fetched" in done.content.decode()
    row.refresh_from_db()
    assert row.done_at is not None


def test_day_print_has_every_open_case(shop: Shop) -> None:
    cases = [make_case(shop, ref=f"Q-118{n}") for n in range(3)]
    client = client_of(shop)
    with time_machine.travel(NOW, tick=False):
        asked = client.get(reverse("cases:day-print"))
        printed = client.post(
            reverse("cases:day-print"), {"submission_id": str(uuid.uuid4())}, follow=True
        )

    assert "3 open cases, on paper" in asked.content.decode()
    words = words_of(printed.content)
    assert all(case.number in words and case.patient_ref in words for case in cases)


@pytest.mark.parametrize("count", [1, 3])
def test_van_page_asks_the_database_the_same_number_of_times(
    shop: Shop, count: int, django_assert_num_queries: DjangoAssertNumQueries
) -> None:
    found = [packable(shop, ref=f"Q-119{n}") for n in range(count)]
    client = client_of(shop)
    with (
        time_machine.travel(max(clock.now for _case, clock in found), tick=False),
        django_assert_num_queries(13),
    ):
        client.get(reverse("cases:van"))


@pytest.mark.parametrize("count", [1, 3])
def test_pack_page_asks_the_database_the_same_number_of_times(
    shop: Shop, count: int, django_assert_num_queries: DjangoAssertNumQueries
) -> None:
    found = [packable(shop, ref=f"Q-119{n}") for n in range(count)]
    client = client_of(shop)
    with (
        time_machine.travel(max(clock.now for _case, clock in found), tick=False),
        django_assert_num_queries(15),
    ):
        client.get(reverse("cases:pack", args=[shop.practice.pk]))
