"""Several cases in one submission: all or nothing, in one order of locks."""

from __future__ import annotations

from datetime import timedelta

import pytest

from cases.models import Case, CaseStage, Event, Submission
from cases.services.batch import finish_many, start_many, undo_many
from cases.services.check import enter_checks
from cases.services.record import Refusal
from cases.services.stage import pause_stage
from cases.services.verify_record import verify_record
from tests.factories import NOW, Shop, answers, make_case, make_shop
from tests.walk import Clock, walk

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop() -> Shop:
    return make_shop(NOW - timedelta(days=9))


@pytest.fixture
def waxes(shop: Shop) -> list[CaseStage]:
    """Two cases that are ready to be waxed up."""
    began = NOW - timedelta(days=5)
    cases: list[Case] = []
    for ref in ("Q-1", "Q-2"):
        case = make_case(shop, now=began, ref=ref, ordered_on=began.date())
        walk(shop, case, Clock(began), until="teeth")
        cases.append(case)
    return [case.stages.get(key="wax") for case in cases]


def entries(stages: list[CaseStage]) -> list[dict[str, int]]:
    for stage in stages:
        stage.refresh_from_db()
    return [{"stage": stage.pk, "version": stage.version} for stage in stages]


def states(stages: list[CaseStage]) -> list[str]:
    entries(stages)
    return [stage.state for stage in stages]


def test_start_many_is_one_submission_with_an_event_for_each(
    shop: Shop, waxes: list[CaseStage]
) -> None:
    outcome = start_many(shop.envelope("mara"), stages=entries(waxes))
    assert states(waxes) == ["running", "running"]
    events = Event.objects.filter(submission_id=outcome.submission_id, kind="stage.started")
    assert {event.case_id for event in events} == {stage.case_id for stage in waxes}


def test_finish_many_passes_all_or_none(shop: Shop, waxes: list[CaseStage]) -> None:
    start_many(shop.envelope("mara"), stages=entries(waxes))
    first = entries(waxes)[0]
    enter_checks(shop.envelope("mara"), **first, checks=answers(waxes[0]))
    with pytest.raises(Refusal) as refused:
        finish_many(shop.envelope("mara"), stages=entries(waxes))
    assert waxes[1].case.number in refused.value.sentence
    assert "13 checks still open" in refused.value.sentence
    assert states(waxes) == ["running", "running"]
    second = entries(waxes)[1]
    enter_checks(shop.envelope("mara"), **second, checks=answers(waxes[1]))
    finish_many(shop.envelope("mara"), stages=entries(waxes))
    assert states(waxes) == ["done", "done"]


def test_a_stale_version_names_the_case_and_stops_all(shop: Shop, waxes: list[CaseStage]) -> None:
    sent = entries(waxes)
    sent[1]["version"] -= 1
    with pytest.raises(Refusal) as refused:
        start_many(shop.envelope("mara"), stages=sent)
    assert refused.value.code == "stage-changed"
    assert waxes[1].case.number in refused.value.sentence
    assert states(waxes) == ["planned", "planned"]
    assert Submission.objects.filter(verb="batch.start", outcome="refused").count() == 1


@pytest.mark.parametrize(
    ("change", "code"),
    [
        (lambda sent: sent[:1], "too-few"),
        (lambda sent: [sent[0], sent[0]], "twice"),
        (lambda sent: [sent[0], {"stage": 10**6, "version": 1}], "no-stage"),
    ],
)
def test_what_is_no_batch_is_refused(
    shop: Shop, waxes: list[CaseStage], change: object, code: str
) -> None:
    with pytest.raises(Refusal) as refused:
        start_many(shop.envelope("mara"), stages=change(entries(waxes)))  # type: ignore[operator]
    assert refused.value.code == code


def test_stages_of_different_kinds_are_no_batch(shop: Shop, waxes: list[CaseStage]) -> None:
    other = waxes[1].case.stages.get(key="wax-pass")
    sent = [*entries(waxes)[:1], {"stage": other.pk, "version": other.version}]
    with pytest.raises(Refusal) as refused:
        start_many(shop.envelope("mara"), stages=sent)
    assert refused.value.code == "mixed"


def test_locks_are_taken_in_the_order_of_the_cases(
    shop: Shop, waxes: list[CaseStage], monkeypatch: pytest.MonkeyPatch
) -> None:
    from cases.services import batch

    seen: list[int] = []
    real = batch.lock_stage

    def spy(pk: int, *, version: int) -> tuple[Case, CaseStage]:
        case, stage = real(pk, version=version)
        seen.append(case.pk)
        return case, stage

    monkeypatch.setattr(batch, "lock_stage", spy)
    start_many(shop.envelope("mara"), stages=list(reversed(entries(waxes))))
    assert seen == sorted(seen)


def test_undo_many_takes_all_back_with_an_event_for_each(
    shop: Shop, waxes: list[CaseStage]
) -> None:
    start_many(shop.envelope("mara"), stages=entries(waxes))

    outcome = undo_many(
        shop.envelope("mara", now=NOW + timedelta(seconds=8)), stages=entries(waxes)
    )

    events = Event.objects.filter(submission_id=outcome.submission_id, kind="stage.start-undone")
    assert states(waxes) == ["planned", "planned"]
    assert {event.case_id for event in events} == {stage.case_id for stage in waxes}
    assert all(event.corrects is not None for event in events)
    assert verify_record() == []


def test_undo_many_takes_all_back_or_none(shop: Shop, waxes: list[CaseStage]) -> None:
    start_many(shop.envelope("mara"), stages=entries(waxes))
    first = entries(waxes)[0]
    pause_stage(shop.envelope("mara"), **first)

    with pytest.raises(Refusal) as refused:
        undo_many(shop.envelope("mara"), stages=entries(waxes))

    assert waxes[0].case.number in refused.value.sentence
    assert states(waxes) == ["paused", "running"]
