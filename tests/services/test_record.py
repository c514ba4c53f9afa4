"""The record: one submission, its events, refusals stored, and the state rebuilt from them."""

from __future__ import annotations

import uuid
from dataclasses import replace

import pytest
from django.db import DatabaseError, connection, transaction

from cases.models import Case, CaseStage, Event, Lab, Submission
from cases.services.hold import hold_case
from cases.services.record import OtherBody, Refusal
from cases.services.verify_record import compare, rebuild, verify_record
from tests.factories import Shop, make_case, make_shop

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop() -> Shop:
    return make_shop()


def hold_body(case: Case) -> dict[str, object]:
    return {
        "case": case.pk,
        "version": case.version,
        "reason": "on-order",
        "waits_for": "supplier",
    }


def test_submission_sent_twice_changes_nothing_and_returns_the_stored_result(shop: Shop) -> None:
    case = make_case(shop)
    envelope = shop.envelope("noor")

    first = hold_case(envelope, **hold_body(case))
    events = Event.objects.count()
    second = hold_case(envelope, **hold_body(case))

    assert (first.repeated, second.repeated) == (False, True)
    assert second.result == first.result
    assert Event.objects.count() == events
    assert case.holds.count() == 1


def test_submission_id_with_another_body_is_refused(shop: Shop) -> None:
    case = make_case(shop)
    envelope = shop.envelope("noor")
    hold_case(envelope, **hold_body(case))

    with pytest.raises(OtherBody):
        hold_case(envelope, **{**hold_body(case), "waits_for": "practice"})


def test_refusal_is_stored_and_repeated(shop: Shop) -> None:
    case = make_case(shop)
    envelope = shop.envelope("noor")
    stale = {**hold_body(case), "version": case.version + 7}

    for _ in range(2):
        with pytest.raises(Refusal) as caught:
            hold_case(envelope, **stale)
        assert caught.value.code == "case-changed"

    stored = Submission.objects.get(pk=envelope.submission_id)
    assert (stored.outcome, stored.code) == ("refused", "case-changed")
    assert case.holds.count() == 0


def test_capability_is_asked_at_the_service(shop: Shop) -> None:
    case = make_case(shop)

    with pytest.raises(Refusal) as caught:
        hold_case(shop.envelope("lind", door="portal"), **hold_body(case))

    assert caught.value.code == "not-allowed"


def test_bench_door_opens_only_what_the_technician_may(shop: Shop) -> None:
    from cases.services.close_case import cancel_case

    case = make_case(shop)
    envelope = replace(shop.envelope("pavo"), door="bench", submission_id=uuid.uuid4())

    with pytest.raises(Refusal) as caught:
        cancel_case(envelope, case=case.pk, version=case.version, reason="wrong entry")

    assert caught.value.code == "not-allowed"


def test_record_agrees_after_logging(shop: Shop) -> None:
    make_case(shop)

    assert verify_record() == []


def test_one_stored_cell_changed_by_sql_is_found(shop: Shop) -> None:
    case = make_case(shop)
    stage = case.stages.get(key="survey")
    CaseStage.objects.filter(pk=stage.pk).update(minutes=stage.minutes + 1)

    differences = verify_record()

    assert [(d.model, d.pk, d.column) for d in differences] == [("CaseStage", stage.pk, "minutes")]


def test_a_column_younger_than_its_row_is_held_to_its_default(shop: Shop) -> None:
    """What a migration adds stands in no earlier event."""
    make_case(shop)
    state = rebuild(Event.objects.order_by("pk"))
    for (model, _pk), cells in state.items():
        if model == "Lab":
            del cells["idle_lock_minutes"]
    assert compare(state) == []

    Lab.objects.update(idle_lock_minutes=77)

    (found,) = compare(state)
    assert (found.column, found.stored) == ("idle_lock_minutes", 77)


def test_private_cell_changed_by_sql_is_found(shop: Shop) -> None:
    case = make_case(shop)
    Case.objects.filter(pk=case.pk).update(patient_ref="Q-9999")

    assert [d.column for d in verify_record()] == ["patient_ref"]


def test_patient_reference_stands_in_no_event(shop: Shop) -> None:
    make_case(shop, ref="Q-7731")

    text = "".join(f"{event.facts}{event.changes}" for event in Event.objects.all())
    results = "".join(str(row.result) for row in Submission.objects.all())

    assert "Q-7731" not in text + results


@pytest.mark.parametrize("statement", ["UPDATE {t} SET {c} = {c}", "DELETE FROM {t}"])
@pytest.mark.parametrize(
    ("table", "column"), [("cases_event", "kind"), ("cases_submission", "verb")]
)
def test_record_rows_cannot_be_changed_or_deleted(
    shop: Shop, statement: str, table: str, column: str
) -> None:
    make_case(shop)

    with (
        pytest.raises(DatabaseError, match="append-only"),
        transaction.atomic(),
        connection.cursor() as cursor,
    ):
        cursor.execute(statement.format(t=table, c=column))
