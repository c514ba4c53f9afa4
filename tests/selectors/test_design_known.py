"""What the house knows of a case and the rules ask: answers, remakes, reports, time left."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from cases.domain.check_data import CHECKS
from cases.domain.design import Design
from cases.domain.rules_piece import PLACES
from cases.models import Case, CheckItem, InsertionReport, Question
from cases.selectors.design_known import FINISH_CHECKS, THIN_PLACES, known_of
from cases.selectors.design_says import facts_about, says
from cases.services.answer import answer_question
from cases.services.hold import ask_practice
from cases.services.log_case import log_case
from tests.factories import NOW, Shop, make_case, make_order, make_shop, rows
from tests.walk import Clock, walk

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop() -> Shop:
    return make_shop(NOW - timedelta(days=20))


@pytest.fixture
def case(shop: Shop) -> Case:
    return make_case(shop)


def earlier(shop: Shop, days: int, ref: str = "Q-1180") -> Case:
    """Make a case that was logged so many days ago."""
    began = NOW - timedelta(days=days)
    logged = log_case(
        shop.envelope("noor", now=began), practice=shop.practice.pk, dentist=shop.dentist.pk,
        patient_ref=ref, order=make_order(began, ordered_on=began.date()).to_json(),
        same_patient_seen=True,
    )  # fmt: skip
    case = Case.objects.get(pk=logged.result["cases"][0])
    Case.objects.filter(pk=case.pk).update(state="sent")
    return case


def plan_of(case: Case) -> Design:
    assert case.design is not None
    return Design.from_json(case.design.data)


def asked_and_answered(shop: Shop, case: Case, number: int, answer: str) -> None:
    made = ask_practice(shop.envelope("noor"), case=case.pk, number=number)
    answer_question(
        shop.envelope("noor", now=NOW + timedelta(minutes=1)),
        question=made.result["question"], answer=answer, rang="Lind",
    )  # fmt: skip


def reported(shop: Shop, case: Case, *, at: datetime = NOW, **told: Any) -> None:
    """Enter a report on the piece of an earlier case."""
    values = {"retention": "good", "seating": "good", "bite": "good", "sore_spots": "good"} | told

    def make(record: Any) -> dict[str, Any]:
        record.event("report.inserted", case=case)
        row = record.create(
            InsertionReport,
            case=case,
            adjusted=[],
            words="",
            by=shop.people["lind"],
            at=at,
            **values,
        )
        return {"report": row.pk}

    rows(make)


@pytest.mark.parametrize(
    ("number", "answer", "fact", "expected"),
    [
        (13, "yes", "fit_back", True),
        (13, "no", "fit_back", None),
        (24, "send-back", "cast_goes_home", True),
        (24, "throw-away", "cast_goes_home", None),
    ],
)
def test_an_answer_of_the_practice_is_a_fact(
    shop: Shop, case: Case, number: int, answer: str, fact: str, expected: bool | None
) -> None:
    assert known_of(case).facts == {"answered": frozenset()}

    asked_and_answered(shop, case, number, answer)

    known = known_of(case)
    assert known.facts.get(fact) is expected
    assert known.facts["answered"] == {(number, Question.objects.get().subject)}
    assert bool(known.words) is bool(expected)


@pytest.mark.parametrize(
    ("told", "bad"),
    [
        ({"seating": "does-not-seat"}, True),
        ({"chair_minutes": 11}, True),
        ({"chair_minutes": 10}, False),
        ({"seating": "rocks"}, False),
    ],
)
def test_the_last_piece_of_the_same_patient_is_remembered(
    shop: Shop, told: dict[str, Any], bad: bool
) -> None:
    before = earlier(shop, 9, "Q-1180")
    other = earlier(shop, 8, "Q-2000")
    case = make_case(shop, ref="Q-1180")
    reported(shop, other, seating="does-not-seat")
    assert "last_did_not_seat" not in known_of(case).facts

    reported(shop, before, **told)

    assert known_of(case).facts.get("last_did_not_seat", False) is bad
    assert facts_about(case, plan_of(case)).last_did_not_seat is bad


def test_the_latest_report_that_says_something_counts(shop: Shop) -> None:
    before = earlier(shop, 9)
    case = make_case(shop)
    reported(shop, before, seating="does-not-seat", at=NOW - timedelta(days=3))
    silent = {"seating": "not-reported", "chair_minutes": None}
    reported(shop, before, at=NOW - timedelta(days=2), **silent)
    assert "last_did_not_seat" in known_of(case).facts

    reported(shop, before, seating="good", at=NOW - timedelta(days=1))

    assert "last_did_not_seat" not in known_of(case).facts


def test_a_report_on_this_piece_and_a_blanked_reference_say_nothing(shop: Shop) -> None:
    before = earlier(shop, 9)
    case = make_case(shop)
    reported(shop, case, seating="does-not-seat")
    assert "last_did_not_seat" not in known_of(case).facts

    reported(shop, before, seating="does-not-seat")
    Case.objects.update(patient_ref="")
    case.refresh_from_db()

    assert "last_did_not_seat" not in known_of(case).facts


@pytest.mark.parametrize(
    ("reason", "fact"),
    [
        ("broken-in-mouth", "broke_before"),
        ("does-not-seat-cast-true", "last_did_not_seat"),
        ("pores", ""),
    ],
)
def test_why_it_is_remade_is_known(case: Case, reason: str, fact: str) -> None:
    case.remake_reason = reason

    facts = known_of(case).facts
    assert {name for name in facts if facts[name] is True} == ({fact} if fact else set())


def test_a_yes_counts_for_the_version_it_was_given_to(shop: Shop, case: Case) -> None:
    clock = Clock(NOW)
    walk(shop, case, clock, until="survey")
    case.refresh_from_db()
    drawn = plan_of(case)
    in_front = replace(drawn, clasps=(drawn.clasps[0], replace(drawn.clasps[1], tooth=43)))
    assert not facts_about(case, drawn).agreed

    asked_and_answered(shop, case, 9, "yes")

    assert facts_about(case, drawn).agreed
    assert facts_about(case, replace(drawn, bar=False)).agreed
    assert not facts_about(case, in_front).agreed
    said = "The practice agreed to the drawing."
    assert said in says(case, drawn).known
    assert said not in says(case, in_front).known


def test_a_yes_before_anything_was_drawn_agrees_to_no_drawing(shop: Shop, case: Case) -> None:
    asked_and_answered(shop, case, 9, "yes")
    assert not facts_about(case, plan_of(case)).agreed


def test_what_the_design_says_was_told_stands_beside_what_is_known(case: Case) -> None:
    case.remake_reason = "broken-in-mouth"
    told = replace(plan_of(case), told=frozenset({"heavy-bite", "no-drawing"}))

    facts = facts_about(case, told)

    assert (facts.broke_before, facts.heavy_bite, facts.drawing_came) == (True, True, False)


def test_time_left_is_counted_in_half_days_of_open_hours(case: Case) -> None:
    assert "half_days_left" not in known_of(case).facts
    assert case.leaves_at is not None
    early = known_of(case, NOW).facts["half_days_left"]
    later = known_of(case, NOW + timedelta(days=1)).facts["half_days_left"]

    assert 0 < later < early
    assert known_of(case, case.leaves_at).facts["half_days_left"] == 0
    case.leaves_at = None
    assert known_of(case, NOW).facts["half_days_left"] is None


def test_no_time_for_a_copy_is_said_only_where_one_is_advised_and_not_yet_in_the_work(
    case: Case,
) -> None:
    assert case.leaves_at is not None
    plan = replace(plan_of(case), told=frozenset({"fit-back"}), provisional=False)

    def speaks(now: datetime | None) -> bool:
        return "BLK-14" in {one.rule for one in says(case, plan, now=now).findings}

    assert (speaks(None), speaks(NOW), speaks(case.leaves_at)) == (False, False, True)
    case.stages.filter(key="block-out").update(key="copy-mould")
    assert not speaks(case.leaves_at)


def test_what_was_measured_in_wax_and_acrylic_is_known(shop: Shop, case: Case) -> None:
    clock = Clock(NOW)

    def rules() -> set[tuple[str, str]]:
        return {(one.rule, one.subject) for one in says(case, plan_of(case)).findings}

    walk(shop, case, clock, until="finish")
    case.refresh_from_db()
    assert {"thickest_mm", "thickness_mm"} <= known_of(case).facts.keys()
    assert not {"THK-1", "THK-2"} & {rule for rule, _place in rules()}

    def measured(number: int, **values: float) -> None:
        item = case.checks.get(number=number, stage__key="wax" if number == 34 else "finish")
        seen = item.values | {"values": item.values["values"] | values}
        CheckItem.objects.filter(pk=item.pk).update(values=seen, state="failed")

    measured(34, thickest=6.5)
    measured(45, plate=1.9)
    known = known_of(case)
    assert (known.facts["thickest_mm"], known.facts["thickness_mm"]["lower-plate"]) == (6.5, 1.9)
    assert "The wax is 6.5 mm at its thickest." in known.words
    assert {("THK-2", ""), ("THK-1", "lower-plate")} <= rules()

    measured(59, flange=1.8, pad=1.7, join=1.6)
    thin = {("THK-1", "flange"), ("THK-1", "pad-edge"), ("THK-1", "tooth-join")}
    assert thin <= rules()

    # What a person accepted where it was measured is not asked for again.
    case.checks.filter(number=45).update(state="conceded")
    assert ("THK-1", "lower-plate") not in rules()


def test_every_place_whose_thickness_is_judged_is_measured_at_the_finishing_bench() -> None:
    measures = {m.key for check in CHECKS if check.number in FINISH_CHECKS for m in check.measures}
    assert set(THIN_PLACES) == measures
    assert set(THIN_PLACES.values()) == set(PLACES)


def test_what_is_known_takes_few_queries_however_many_rows(shop: Shop, case: Case) -> None:
    def counted(now: datetime | None) -> int:
        with CaptureQueriesContext(connection) as seen:
            known_of(case, now)
        return len(seen)

    assert (counted(None), counted(NOW)) == (3, 8)
    for days in (9, 10, 11):
        before = earlier(shop, days)
        reported(shop, before, seating="does-not-seat", at=NOW - timedelta(days=days))
    asked_and_answered(shop, case, 13, "yes")
    assert (counted(None), counted(NOW)) == (3, 8)
