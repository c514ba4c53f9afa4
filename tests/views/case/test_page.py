"""The page of one case: who may, what it says, how many queries it takes."""

from __future__ import annotations

import re
from collections.abc import Callable
from contextlib import AbstractContextManager
from datetime import timedelta
from pathlib import Path

import pytest
from django.conf import settings
from django.test import Client

from cases.models import Case
from cases.services.answer import answer_question, settle_answer
from cases.services.close_case import cancel_case, write_note
from cases.services.correct_order import ask_for_change, correct_order
from cases.services.hold import ask_practice, hold_case
from cases.services.plan import lift_pin, pin_stage
from cases.services.stage import start_stage
from cases.views.case.history_words import SENTENCES
from tests.factories import NOW, Shop
from tests.views.case.conftest import SignIn, case_at, url

pytestmark = pytest.mark.django_db


def heading(client: Client, case: Case) -> str:
    """Return the sentence of the page."""
    body = client.get(url("case", case)).content.decode()
    found = re.search(r"<h1>(.*?)</h1>", body, re.DOTALL)
    assert found is not None
    return " ".join(found[1].split())


def test_page_says_where_it_is_and_when_it_leaves(shop: Shop, sign_in: SignIn) -> None:
    case = case_at(shop)

    said = heading(sign_in("noor"), case)

    assert said == "“Unpack and log” can begin. It leaves Monday 21 December at 16:00."


@pytest.mark.parametrize("who", ["noor", "mara", "pavo"])
def test_everybody_in_the_lab_may_see_it(shop: Shop, sign_in: SignIn, who: str) -> None:
    assert sign_in(who).get(url("case", case_at(shop))).status_code == 200


@pytest.mark.parametrize("who", ["lind", "vega", "remy"])
def test_practices_have_a_page_of_their_own(shop: Shop, sign_in: SignIn, who: str) -> None:
    assert sign_in(who).get(url("case", case_at(shop))).status_code == 404


def test_mistyped_number_is_not_there(shop: Shop, sign_in: SignIn) -> None:
    case = case_at(shop)
    wrong = case.number[:-1] + ("A" if case.number[-1] != "A" else "B")

    assert sign_in("noor").get(f"/cases/{wrong}/").status_code == 404


def test_page_stands_in_the_frame_of_the_bench_on_a_tablet(shop: Shop, tablet: Client) -> None:
    body = tablet.get(url("case", case_at(shop))).content.decode()

    assert 'class="bench"' in body
    assert "Back to my work" in body
    assert "Correct the order" not in body


def test_heading_names_the_hands_it_is_in(shop: Shop, sign_in: SignIn) -> None:
    case = case_at(shop)
    stage = case.stages.get(key="receive")
    start_stage(shop.envelope("mara"), stage=stage.pk, version=stage.version)

    assert heading(sign_in("noor"), case).startswith("“Unpack and log” is in the hands of Mara.")


def test_heading_says_that_the_whole_case_is_on_hold(shop: Shop, sign_in: SignIn) -> None:
    case = case_at(shop)
    hold_case(
        shop.envelope("noor"), case=case.pk, version=case.version,
        reason="account", waits_for="practice",
    )  # fmt: skip

    assert heading(sign_in("noor"), case).startswith("It is on hold.")


def test_heading_of_a_closed_case_promises_nothing(shop: Shop, sign_in: SignIn) -> None:
    case = case_at(shop)
    cancel_case(shop.envelope("noor"), case=case.pk, version=case.version, reason="Not wanted")

    said = heading(sign_in("noor"), case)

    assert said == "It was closed today at 10:42 and is not finished."


def test_late_case_says_since_when(shop: Shop, sign_in: SignIn) -> None:
    case = case_at(shop)
    Case.objects.filter(pk=case.pk).update(leaves_at=NOW - timedelta(days=2))

    body = sign_in("noor").get(url("case", case)).content.decode()

    assert "It should have left Monday 7 December at 10:42." in body
    assert "2 days late" in body


def test_corrected_entry_stands_beside_what_was_received(shop: Shop, sign_in: SignIn) -> None:
    case = case_at(shop)
    correct_order(
        shop.envelope("noor"), case=case.pk, version=case.version,
        changes={"borders": "reduced-2mm"}, reason="Read again",
    )  # fmt: skip

    body = sign_in("noor").get(url("case", case)).content.decode()

    assert "Laboratory reduces to 2 mm short of the fold" in body
    assert "as received: Left at full depth for the dentist" in body


def test_open_question_offers_its_answer_as_the_next_thing(shop: Shop, sign_in: SignIn) -> None:
    case = case_at(shop)
    asked = ask_practice(shop.envelope("mara"), case=case.pk, number=16)

    body = sign_in("noor").get(url("case", case)).content.decode()

    address = url("question-answer", case, asked.result["question"])
    assert f'<a class="action" href="{address}">' in body
    assert "stops: Shape the bar" in " ".join(body.split()) or "stops nothing" in body


def test_confirmed_change_is_the_next_thing_to_enter(shop: Shop, sign_in: SignIn) -> None:
    case = case_at(shop)
    asked = ask_for_change(
        shop.envelope("noor"), case=case.pk, version=case.version, change="Shade A1"
    )
    pk = asked.result["question"]
    client = sign_in("noor")
    answer_question(shop.envelope("noor"), question=pk, answer="confirm", rang="Remy")
    promised = client.get(url("case", case)).content.decode()
    noted = url("answer-settle", case, pk)
    said = "Note that the written confirmation is here"
    assert f'<a class="action" href="{noted}">{said}</a>' in promised
    settle_answer(shop.envelope("noor"), question=pk, words="Their letter of today")

    before = client.get(url("case", case)).content.decode()
    address = f"{url('order-correct', case)}?answer={pk}"
    form = client.get(address).content.decode()
    case.refresh_from_db()
    correct_order(
        shop.envelope("noor", now=NOW + timedelta(minutes=1)), case=case.pk,
        version=case.version, changes={"shade": "A1", "shade_how": "named"}, reason="Confirmed",
        answers=[pk],
    )  # fmt: skip
    after = client.get(url("case", case)).content.decode()

    assert f'<a class="action" href="{address}">Enter the answer in the order</a>' in before
    assert re.search(rf'name="answers" value="{pk}"[^>]* checked', form)
    assert "Enter the answer in the order" not in after


def test_answer_that_changed_the_order_is_told_in_the_history(shop: Shop, sign_in: SignIn) -> None:
    case = case_at(shop)
    pk = ask_practice(shop.envelope("mara"), case=case.pk, number=14).result["question"]
    answer_question(shop.envelope("lind", door="portal"), question=pk, answer="reduced-2mm")

    body = sign_in("noor").get(url("case", case)).content.decode()

    assert "The order was changed by the answer of Lind: borders." in body
    assert "left to do" not in body


def test_pour_clock_stands_on_the_page_until_it_is_poured(shop: Shop, sign_in: SignIn) -> None:
    fresh, poured = case_at(shop), case_at(shop, "pour", ref="Q-2")
    client = sign_in("noor")

    assert "Pour the impression: {time} left" in client.get(url("case", fresh)).content.decode()
    assert "Pour the impression" not in client.get(url("case", poured)).content.decode()


def test_history_has_words_and_no_raw_facts(shop: Shop, sign_in: SignIn) -> None:
    case = case_at(shop, "clasps")
    write_note(shop.envelope("noor"), case=case.pk, text="Wanted sooner", from_whom="Remy",
               telephone=True)  # fmt: skip

    client = sign_in("noor")
    first = client.get(url("case", case)).content.decode()
    second = client.get(url("case", case) + "?page=2").content.decode()

    assert "Remy rang: Wanted sooner" in first
    assert "Mara finished “Bend clasps and wire rests”." in first
    assert "Noor logged the case." in second
    assert "{'" not in first + second
    assert "&quot;:" not in first + second


def test_every_kind_of_event_about_a_case_has_a_sentence() -> None:
    folder = Path(settings.BASE_DIR) / "cases" / "services"
    kinds = set()
    for file in folder.glob("*.py"):
        calls = re.findall(r"record\.event\((.*?)\)\n", file.read_text("utf-8"), re.DOTALL)
        for call in calls:
            if "case=" in call:
                kinds |= set(re.findall(r'"([a-z]+\.[a-z-]+)"', call))

    assert kinds
    assert kinds - set(SENTENCES) == set()


@pytest.mark.parametrize(("rows", "queries"), [(1, 38), (3, 38), (60, 34)])
def test_queries_do_not_grow_with_the_rows(
    shop: Shop,
    sign_in: SignIn,
    rows: int,
    queries: int,
    django_assert_num_queries: Callable[[int], AbstractContextManager[object]],
) -> None:
    """Signing in and the frame included; a page of history asks once for each kind of row on it,
    and with 60 of each only notes and questions stand on the first page."""
    case = case_at(shop, "trim")
    for n in range(rows):
        write_note(shop.envelope("noor"), case=case.pk, text=f"Note {n}")
        ask_practice(shop.envelope("mara"), case=case.pk, number=24)
    client = sign_in("noor")

    with django_assert_num_queries(queries):
        client.get(url("case", case))


def test_answer_that_came_after_the_work_is_looked_at_before_it_is_entered(
    shop: Shop, sign_in: SignIn
) -> None:
    case = case_at(shop, "wax-pass")
    pk = ask_practice(shop.envelope("mara"), case=case.pk, number=14).result["question"]
    answer_question(shop.envelope("lind", door="portal"), question=pk, answer="reduced-2mm")
    client = sign_in("noor")

    body = client.get(url("case", case)).content.decode()
    looked = client.get(url("answer-settle", case, pk)).content.decode()

    step = f'<a class="action" href="{url("answer-settle", case, pk)}">Look at the piece'
    assert step in body
    assert "Done before it came: Wax up" in body
    assert f'href="{url("case-send-back", case)}"' in looked
    assert f'href="{url("order-correct", case)}?answer={pk}"' in looked


def test_history_says_what_was_decided_for_the_plan(shop: Shop, sign_in: SignIn) -> None:
    case = case_at(shop, "teeth")
    wax = case.stages.get(key="wax")
    oren = shop.people["oren"].pk
    pin_stage(shop.envelope("pavo"), stage=wax.pk, person=oren, begins_at="2026-12-10T09:00")
    pin_stage(shop.envelope("pavo"), stage=wax.pk, person=oren)
    lift_pin(shop.envelope("pavo"), stage=wax.pk)

    page = sign_in("mara").get(url("case", case)).content.decode()

    name = wax.name
    assert f"Pavo decided for the plan: “{name}” is for Oren, from Thursday 10 December" in page
    assert f"Pavo decided for the plan: “{name}” is for Oren." in page
    assert f"Pavo left “{name}” to the plan again." in page
