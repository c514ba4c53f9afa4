"""What an answer of the practice lets go on, and what still waits."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import pytest

from cases.domain.order import Disinfection, Extraction, Item
from cases.models import Case, Event, Question
from cases.services.answer import answer_question, settle_answer
from cases.services.correct_order import correct_order
from cases.services.design import set_design
from cases.services.hold import ask_practice, hold_case, release_hold
from cases.services.promise import promise_day
from cases.services.received import later_item_came
from cases.services.record import Recorder, Refusal
from cases.services.verify_record import verify_record
from tests.factories import DESIGN, NOW, Shop, make_case, make_shop, rows

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


# --- into the order -------------------------------------------------------------------------


def entered(
    shop: Shop, question: Question, key: str, *, who: str = "lind", note: str = "said",
    **entries: Any,
) -> Question:  # fmt: skip
    rang = "Remy" if who == "noor" else ""
    door = "web" if who == "noor" else "portal"
    answer_question(
        shop.envelope(who, door=door), question=question.pk, answer=key, note=note, rang=rang,
        entries={"words": "", **entries},
    )  # fmt: skip
    question.refresh_from_db()
    assert verify_record() == []
    return question


def over(shop: Shop, case: Case, key: str) -> None:
    """Have a stage done, whatever comes before it."""

    def make(record: Recorder) -> dict[str, Any]:
        record.change(case.stages.get(key=key), state="done", ended_at=record.now)
        return {}

    rows(make)


def order_of(case: Case, *names: str) -> tuple[Any, ...]:
    case.refresh_from_db()
    return tuple(case.order[name] for name in names)


@pytest.mark.parametrize(
    ("number", "who", "key", "entries", "entry", "value"),
    [
        (3, "remy", "shade", {"shade": "A2", "guide": "old"}, "shade", "A2"),
        (4, "lind", "name", {"mould": "3C"}, "mould", "3C"),
        (6, "lind", "rim", {}, "bite", "rim"),
        (14, "lind", "reduced-2mm", {}, "borders", "reduced-2mm"),
        (14, "noor", "as-drawn", {}, "borders", "as-drawn"),
        (15, "lind", "outer-borders-left", {}, "polish", "outer-borders-left"),
        (20, "lind", "nickel", {}, "allergies", ["nickel"]),
        (21, "remy", "yes", {"day": "2026-12-16"}, "try_in", True),
        (22, "remy", "new-day", {"day": "2027-01-12"}, "appointment_on", "2027-01-12"),
    ],
)
def test_answer_is_entered_in_the_order_by_who_gave_it(
    shop: Shop, number: int, who: str, key: str, entries: dict[str, Any], entry: str, value: Any
) -> None:
    case = make_case(shop)
    received = case.prescription.as_received

    question = entered(shop, asked(shop, case, number), key, who=who, **entries)

    assert order_of(case, entry) == (value,)
    assert entry in question.changed
    event = Event.objects.get(kind="order.corrected")
    assert (event.by, event.subject) == (shop.people[who], str(number))
    case.prescription.refresh_from_db()
    assert case.prescription.as_received == received


@pytest.mark.parametrize(
    ("number", "key", "past", "entry"),
    [
        (3, "photograph", "teeth", "shade_how"),
        (4, "as-before", "teeth", "mould_how"),
        (6, "rim", "mount", "bite"),
        (14, "reduced-2mm", "wax", "borders"),
        (15, "none", "polish", "polish"),
        (21, "yes", "wax", "try_in"),
    ],
)
def test_answer_after_the_work_it_concerns_is_shown_and_opens_nothing(
    shop: Shop, number: int, key: str, past: str, entry: str
) -> None:
    case = make_case(shop)
    question = asked(shop, case, number)
    over(shop, case, past)
    before = order_of(case, entry)

    entered(shop, question, key, day="2026-12-16")

    assert order_of(case, entry) == before
    assert (question.changed, question.awaits_why, question.in_question) == ([], "past", [past])
    assert case.stages.get(key=past).state == "done"
    assert not Event.objects.filter(kind="order.corrected").exists()


def test_rim_grows_into_the_route_and_the_polish_falls_out_of_it(shop: Shop) -> None:
    case = make_case(shop)

    entered(shop, asked(shop, case, 6), "rim")
    entered(shop, asked(shop, case, 15), "none")

    keys = case.stages.exclude(state="dropped").values_list("key", flat=True)
    assert "rim" in keys
    assert "polish" not in keys


def test_record_that_comes_is_expected_and_holds_until_it_is_here(shop: Shop) -> None:
    case = make_case(shop)

    entered(shop, asked(shop, case, 6), "record", day="2026-12-11")
    expected = case.received.get(item="bite")
    later_item_came(shop.envelope("noor"), received=expected.pk)

    assert expected.expected_on == date(2026, 12, 11)
    assert open_holds(case) == []
    assert order_of(case, "bite") == ("record",)
    assert verify_record() == []


def test_time_of_the_impression_starts_the_pour_clock(shop: Shop) -> None:
    box = (Item("working", "impression"), Item("opposing", "cast"))
    case = make_case(shop, items=box)
    at = NOW - timedelta(minutes=5)

    question = case.questions.get(number=1)
    entered(shop, question, "alginate", who="remy", at=at.isoformat())

    case.refresh_from_db()
    assert (case.taken_at, case.pour_by) == (at, at + timedelta(minutes=15))
    row = case.received.get(item="working")
    assert (row.material, row.taken_at) == ("alginate", at)
    assert (question.changed, question.awaits) == (["items"], "")


def test_time_of_an_impression_without_a_zone_is_refused(shop: Shop) -> None:
    case = make_case(shop)
    question = asked(shop, case, 1)

    with pytest.raises(Refusal) as refused:
        entered(shop, question, "alginate", at="2026-12-09T08:00:00")

    assert refused.value.code == "bad-entry"
    question.refresh_from_db()
    assert question.answered_at is None


def test_written_proof_takes_the_disinfection_out_and_a_voice_does_not(shop: Shop) -> None:
    by_voice, in_writing = (
        make_case(shop, ref=ref, disinfection=Disinfection()) for ref in ("Q-1", "Q-2")
    )
    proof = {"agent": "hospital disinfectant", "minutes": 10}

    heard = entered(shop, by_voice.questions.get(number=2), "yes", who="noor", **proof)
    entered(shop, in_writing.questions.get(number=2), "yes", who="remy", **proof)

    by_voice.refresh_from_db()
    in_writing.refresh_from_db()
    assert (by_voice.contaminated, in_writing.contaminated) == (True, False)
    assert heard.awaits_why == "in-writing"
    states = {case.pk: case.stages.get(key="disinfect").state for case in (by_voice, in_writing)}
    assert states == {by_voice.pk: "planned", in_writing.pk: "dropped"}


def test_stage_in_hand_is_not_taken_away_by_an_answer(shop: Shop) -> None:
    case = make_case(shop, disinfection=Disinfection())
    question = case.questions.get(number=2)

    def make(record: Recorder) -> dict[str, Any]:
        record.change(case.stages.get(key="disinfect"), state="running")
        return {}

    rows(make)
    entered(shop, question, "yes", agent="spray", minutes=10)

    assert (question.awaits, question.awaits_why) == ("order", "in-hand")
    assert order_of(case, "disinfection")[0]["done"] == "not-known"


def test_dentist_orders_the_extraction_in_the_portal(shop: Shop) -> None:
    case = make_case(shop)

    entered(shop, asked(shop, case, 7), "these", depths={"36": "1mm"})

    assert order_of(case, "extractions", "extraction_order") == (
        [{"tooth": 36, "depth": "1mm"}], True,
    )  # fmt: skip
    assert case.design is not None
    assert case.design.data["extracted"] == [36]
    assert case.stages.filter(key="cast-prep").exists()


def test_teeth_named_on_the_telephone_go_on_waiting_for_the_written_order(shop: Shop) -> None:
    case = make_case(shop, extractions=(Extraction(36, ""),), extraction_order=True)
    question = case.questions.get(number=7)

    entered(shop, question, "these", who="noor", depths={"36": "flush", "37": "flush"})

    assert question.awaits_why == "in-writing"
    assert ("answer", ["cast-prep"]) in open_holds(case)
    assert order_of(case, "extractions") == ([{"tooth": 36, "depth": ""}],)


def test_drawn_design_is_left_to_who_drew_it(shop: Shop) -> None:
    case = make_case(shop)
    question, teeth = asked(shop, case, 16), asked(shop, case, 7)
    set_design(shop.envelope(), case=case.pk, version=case_version(case), data=DESIGN)

    entered(shop, question, "no")
    entered(shop, teeth, "these", depths={"36": "flush"})

    case.refresh_from_db()
    assert case.design is not None
    assert case.design.data["bar"] is True
    assert (question.awaits, question.awaits_why) == ("design", "drawn")
    assert (teeth.awaits, teeth.awaits_why) == ("design", "drawn")


def case_version(case: Case) -> int:
    return Case.objects.get(pk=case.pk).version


def test_bar_is_expected_until_the_survey_and_stays_when_teeth_are_corrected(shop: Shop) -> None:
    case = make_case(shop)

    question = entered(shop, asked(shop, case, 16), "yes")
    correct_order(
        shop.envelope("noor"), case=case.pk, version=case_version(case),
        changes={"replaces": [46, 47]}, reason="Left side is not ordered",
    )  # fmt: skip

    case.refresh_from_db()
    assert case.design is not None
    assert (case.design.data["bar"], case.design.data["replaced"]) == (True, [46, 47])
    assert question.changed == ["bar"]


def test_told_allergy_is_kept_and_puts_what_is_done_in_question(shop: Shop) -> None:
    case = make_case(shop)
    question = asked(shop, case, 20)
    set_design(shop.envelope(), case=case.pk, version=case_version(case), data=DESIGN)
    over(shop, case, "clasps")

    entered(shop, question, "other-allergy", words="Chromium")

    assert order_of(case, "allergies", "allergy_words") == (["other-allergy"], "Chromium")
    assert (question.awaits, question.in_question) == ("look", ["clasps"])


def test_new_day_waits_for_the_desk_to_promise_one(shop: Shop) -> None:
    case = make_case(shop)

    question = entered(shop, asked(shop, case, 22), "new-day", day="2027-01-12")
    waited = question.unsettled
    promise_day(
        shop.envelope("noor"), case=case.pk, version=case_version(case), ship_on="2027-01-08",
        reason="The practice moved it",
    )  # fmt: skip

    question.refresh_from_db()
    assert (waited, question.awaits, question.unsettled) == (True, "promise", False)
    assert verify_record() == []


def test_day_that_does_not_fit_is_left_to_the_desk(shop: Shop) -> None:
    case = make_case(shop)

    question = entered(shop, asked(shop, case, 22), "new-day", day="2026-12-01")

    assert (question.changed, question.awaits, question.awaits_why) == ([], "order", "unfit")


def test_packed_piece_is_not_ordered_otherwise(shop: Shop) -> None:
    case = make_case(shop)
    question = asked(shop, case, 15)

    def make(record: Recorder) -> dict[str, Any]:
        record.change(case, state="packed")
        return {}

    rows(make)
    entered(shop, question, "none")

    assert (question.changed, question.awaits_why) == ([], "packed")


def test_answer_that_says_what_stands_there_leaves_nothing(shop: Shop) -> None:
    case = make_case(shop)

    question = entered(shop, asked(shop, case, 14), "left-full")

    assert (question.changed, question.awaits) == ([], "")
    assert not Event.objects.filter(kind="order.corrected").exists()


def test_answer_in_words_waits_until_somebody_has_entered_it(shop: Shop) -> None:
    case = make_case(shop)
    question = asked(shop, case, 14)
    entered(shop, question, "other", words="As on the last piece")
    waited = question.unsettled

    correct_order(
        shop.envelope("noor"), case=case.pk, version=case_version(case),
        changes={"borders": "as-drawn"}, reason="As on the last piece", answers=[question.pk],
    )  # fmt: skip

    question.refresh_from_db()
    assert (waited, question.unsettled) == (True, False)
    assert question.settled_by == shop.people["noor"]
    assert verify_record() == []


def test_ringing_settles_please_ring_me_and_lets_the_work_go_on(shop: Shop) -> None:
    case = make_case(shop)
    first, second = asked(shop, case, 14), asked(shop, case, 15)
    entered(shop, first, "ring-me")
    entered(shop, second, "ring-me")

    settle_answer(shop.envelope("mara"), question=first.pk, words="Leave them full")
    release_hold(shop.envelope("noor"), hold=second.holds.get().pk, words="Polish all")
    with pytest.raises(Refusal) as refused:
        settle_answer(shop.envelope("mara"), question=first.pk, words="Again")

    second.refresh_from_db()
    assert refused.value.code == "settled"
    assert (open_holds(case), second.unsettled) == ([], False)
    assert verify_record() == []
