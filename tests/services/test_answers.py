"""What an answer of the practice lets go on, and what still waits."""

from __future__ import annotations

import pytest

from cases.models import Case, Question
from cases.services.hold import answer_question, ask_practice, hold_case
from tests.factories import Shop, make_case, make_shop

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop() -> Shop:
    return make_shop()


def asked(shop: Shop, case: Case, number: int, **subject: str) -> Question:
    result = ask_practice(shop.envelope(), case=case.pk, number=number, subject=subject).result
    return Question.objects.get(pk=result["question"])


def open_holds(case: Case) -> list[tuple[str, list[str]]]:
    rows = case.holds.filter(released_at__isnull=True)
    return [(row.reason, row.stages) for row in rows]


def answer(shop: Shop, question: Question, key: str, note: str = "") -> None:
    envelope = shop.envelope("lind", door="portal")
    answer_question(envelope, question=question.pk, answer=key, note=note)


def test_answer_that_decides_lets_the_work_go_on(shop: Shop) -> None:
    case = make_case(shop)
    question = asked(shop, case, 6)

    answer(shop, question, "photograph")

    assert open_holds(case) == []


def test_answer_that_something_comes_keeps_its_stages_waiting_for_it(shop: Shop) -> None:
    case = make_case(shop)
    question = asked(shop, case, 6)

    answer(shop, question, "record", "17 December")

    assert open_holds(case) == [("record-or-cast", ["mount"])]


def test_please_ring_me_keeps_the_hold(shop: Shop) -> None:
    case = make_case(shop)
    question = asked(shop, case, 6)

    answer(shop, question, "ring-me")

    assert open_holds(case) == [("answer", ["mount"])]


def test_written_order_is_not_given_by_telephone(shop: Shop) -> None:
    from cases.domain.order import Extraction

    case = make_case(shop, extractions=(Extraction(36, "flush"),), extraction_order=False)
    waiting = case.holds.get(reason="signature")
    assert waiting.question is not None

    answer_question(
        shop.envelope("noor"),
        question=waiting.question.pk,
        answer=waiting.question.answers[0]["key"],
        note="36 flush",
        rang="Remy",
    )

    waiting.refresh_from_db()
    assert waiting.released_at is None


def test_hold_without_words_says_its_reason_in_words(shop: Shop) -> None:
    case = make_case(shop)

    hold_case(
        shop.envelope("noor"), case=case.pk, version=case.version, reason="on-order",
        waits_for="supplier",
    )  # fmt: skip

    assert case.holds.get().words == "Teeth or material on order"
