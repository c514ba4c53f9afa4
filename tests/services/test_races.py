"""Two at once, on PostgreSQL: what the locks prevent, and that without them it happens."""

from __future__ import annotations

import threading
import uuid
from collections.abc import Callable
from datetime import datetime, timedelta
from typing import Any

import pytest
from django.db import IntegrityError, close_old_connections, connection
from django.db.models import QuerySet

from cases.models import (
    Alert,
    BenchSession,
    Case,
    CaseStage,
    Delivery,
    Event,
    Load,
    StageRun,
    Tablet,
    Timer,
    WorkSpan,
)
from cases.selectors import rows
from cases.services import alarms, load, load_run, tablets, things
from cases.services import record as record_module
from cases.services.record import Envelope, Refusal
from cases.services.stage import pause_stage, start_stage
from cases.services.tablets import open_bench
from cases.services.verify_record import verify_record
from tests.factories import NOW, PIN, Shop, make_case, make_shop
from tests.services.test_load import Bench

pytestmark = [pytest.mark.production, pytest.mark.django_db(transaction=True)]


class Meeting:
    """Lets two threads wait for each other at one point, or go on after a second alone."""

    def __init__(self) -> None:
        self.barrier = threading.Barrier(2)

    def wait(self) -> None:
        """Wait for the other one."""
        try:
            self.barrier.wait(timeout=1)
        except threading.BrokenBarrierError:
            return


def both(*jobs: Callable[[], Any]) -> list[Any]:
    """Run the jobs in threads of their own; returns results or the exceptions they raised."""
    answers: list[Any] = [None] * len(jobs)

    def run(place: int, job: Callable[[], Any]) -> None:
        close_old_connections()
        try:
            answers[place] = job()
        except Exception as error:
            answers[place] = error
        finally:
            connection.close()

    threads = [threading.Thread(target=run, args=(n, job)) for n, job in enumerate(jobs)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(timeout=30)
    return answers


def without_row_locks(monkeypatch: pytest.MonkeyPatch) -> None:
    """Take the row locks away, as if nobody had thought of them."""
    monkeypatch.setattr(QuerySet, "select_for_update", lambda self, **kwargs: self)
    monkeypatch.setattr(rows, "row_lock", lambda: "")


@pytest.fixture
def shop() -> Shop:
    return make_shop()


@pytest.fixture
def stage(shop: Shop) -> CaseStage:
    case: Case = make_case(shop)
    return case.stages.get(key="receive")


def start_twice(shop: Shop, stage: CaseStage, monkeypatch: pytest.MonkeyPatch) -> list[Any]:
    """Two technicians tap "start" on one stage; both have read the same version."""
    meeting = Meeting()
    honest = things.cast_free_at

    def meet(case: Case, row: CaseStage) -> None:
        honest(case, row)
        meeting.wait()

    monkeypatch.setattr(things, "cast_free_at", meet)
    return both(
        *(
            lambda who=who: start_stage(shop.envelope(who), stage=stage.pk, version=stage.version)
            for who in ("mara", "oren")
        )
    )


def test_two_technicians_start_one_stage_and_the_second_sees_who_has_it(
    shop: Shop, stage: CaseStage, monkeypatch: pytest.MonkeyPatch
) -> None:
    answers = start_twice(shop, stage, monkeypatch)

    refused = [one for one in answers if isinstance(one, Refusal)]
    assert [one.code for one in refused] == ["stage-changed"]
    assert "has it in hand" in refused[0].sentence
    assert StageRun.objects.filter(stage=stage).count() == 1


def test_without_the_lock_both_get_past_the_version_check(
    shop: Shop, stage: CaseStage, monkeypatch: pytest.MonkeyPatch
) -> None:
    without_row_locks(monkeypatch)

    answers = start_twice(shop, stage, monkeypatch)

    assert [type(one) for one in answers if isinstance(one, Exception)] == [IntegrityError]


@pytest.fixture
def timer(stage: CaseStage) -> Timer:
    return Timer.objects.filter(state="pending").earliest("due_at")


def sweep_twice(timer: Timer, monkeypatch: pytest.MonkeyPatch) -> list[Any]:
    """Two workers sweep at once; both have found the same timer due."""
    meeting = Meeting()
    honest = alarms.Recorder.event

    def meet(self: Any, kind: str, **facts: Any) -> Any:
        meeting.wait()
        return honest(self, kind, **facts)

    monkeypatch.setattr(record_module.Recorder, "event", meet)
    due = timer.due_at + timedelta(seconds=1)
    # One timer of this case only, so that both sweeps look at the same.
    return both(*(lambda: alarms.fire_one(timer.pk, due) for _ in range(2)))


def test_two_sweeps_fire_one_timer_once(timer: Timer, monkeypatch: pytest.MonkeyPatch) -> None:
    answers = sweep_twice(timer, monkeypatch)

    assert sorted(answers) == [False, True]
    assert Alert.objects.filter(timer=timer).count() == 1


def test_without_locks_and_ids_two_sweeps_both_raise_the_alert(
    timer: Timer, monkeypatch: pytest.MonkeyPatch
) -> None:
    without_row_locks(monkeypatch)
    monkeypatch.setattr(record_module, "_queue_twins", lambda submission_id: None)
    monkeypatch.setattr(alarms.uuid, "uuid5", lambda space, name: uuid.uuid4())

    answers = sweep_twice(timer, monkeypatch)

    assert [type(one) for one in answers if isinstance(one, Exception)] == [IntegrityError]


@pytest.fixture
def delivery(timer: Timer) -> Delivery:
    alarms.fire_one(timer.pk, timer.due_at)
    return Delivery.objects.get(alert__timer=timer)


def ring_twice(monkeypatch: pytest.MonkeyPatch) -> list[Any]:
    meeting = Meeting()
    honest = alarms.claim_ring

    def meet(delivery_id: int, now: Any) -> bool:
        meeting.wait()
        return honest(delivery_id, now)

    monkeypatch.setattr(alarms, "claim_ring", meet)
    return both(*(lambda: alarms.ring(NOW) for _ in range(2)))


def test_two_sweeps_ring_an_alarm_once(delivery: Delivery, monkeypatch: pytest.MonkeyPatch) -> None:
    answers = ring_twice(monkeypatch)

    delivery.refresh_from_db()
    assert (sorted(answers), delivery.times) == ([0, 1], 1)


def test_without_the_lease_two_sweeps_ring_twice(
    delivery: Delivery, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(alarms, "claim_ring", lambda delivery_id, now: True)

    answers = ring_twice(monkeypatch)

    delivery.refresh_from_db()
    assert (sorted(answers), delivery.times) == ([1, 1], 2)


def lock_twice(shop: Shop, stage: CaseStage, monkeypatch: pytest.MonkeyPatch) -> list[Any]:
    """The sweep and a request of the tablet both find it idle while Mara's work runs."""
    tablet, mara = Tablet.objects.get(), shop.people["mara"]
    start_stage(shop.envelope("mara"), stage=stage.pk, version=stage.version)
    open_bench(Envelope("bench", NOW, tablet_id=tablet.pk), person=mara.pk, pin=PIN)
    session = BenchSession.objects.get()
    meeting = Meeting()
    honest = tablets.locks_at
    later = NOW + timedelta(minutes=30)

    def meet(row: BenchSession) -> datetime:
        found = honest(row)
        if threading.current_thread() is not threading.main_thread():
            meeting.wait()
        return found

    monkeypatch.setattr(tablets, "locks_at", meet)
    return both(*(lambda: tablets.lock_if_idle(session, later) for _ in range(2)))


def test_sweep_and_request_lock_an_idle_tablet_once(
    shop: Shop, stage: CaseStage, monkeypatch: pytest.MonkeyPatch
) -> None:
    answers = lock_twice(shop, stage, monkeypatch)

    assert sorted(answers) == [False, True]
    assert Event.objects.filter(kind="bench.closed").count() == 1
    assert Event.objects.filter(kind="stage.paused").count() == 1
    assert verify_record() == []


def test_without_locks_and_ids_both_lock_it(
    shop: Shop, stage: CaseStage, monkeypatch: pytest.MonkeyPatch
) -> None:
    without_row_locks(monkeypatch)
    monkeypatch.setattr(record_module, "_queue_twins", lambda submission_id: None)
    monkeypatch.setattr(tablets.uuid, "uuid5", lambda space, name: uuid.uuid4())

    answers = lock_twice(shop, stage, monkeypatch)

    assert answers == [True, True]
    assert Event.objects.filter(kind="bench.closed").count() == 2


def test_what_is_finished_while_the_tablet_locks_is_finished_or_refused_whole(
    shop: Shop, stage: CaseStage, monkeypatch: pytest.MonkeyPatch
) -> None:
    tablet, mara = Tablet.objects.get(), shop.people["mara"]
    started = start_stage(shop.envelope("mara"), stage=stage.pk, version=stage.version)
    open_bench(Envelope("bench", NOW, tablet_id=tablet.pk), person=mara.pk, pin=PIN)
    session = BenchSession.objects.get()
    later = NOW + timedelta(minutes=6)

    locked, paused = both(
        lambda: tablets.lock_if_idle(session, later),
        lambda: pause_stage(
            shop.envelope("mara", now=later), stage=stage.pk, version=started.result["version"]
        ),
    )

    span = WorkSpan.objects.get()
    assert locked is True
    assert isinstance(paused, Refusal) == span.to_check
    assert Event.objects.filter(kind="stage.paused").count() == 1
    assert verify_record() == []


def start_both(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> list[Any]:
    """Two loads of one bath are started at once; both have looked whether it is free."""
    bench = Bench(shop)
    gathered = []
    cases = list(bench.cases)
    for bench.cases in [[case] for case in cases]:
        row = bench.new()
        asked = bench.do(load.estimate, load=row.number, version=row.version)
        gathered.append({"load": row.number, "version": asked.result["version"]})
    meeting = Meeting()
    honest = load_run._asked

    def meet(row: Load, words: str) -> None:
        honest(row, words)
        meeting.wait()

    monkeypatch.setattr(load_run, "_asked", meet)
    return both(*(lambda one=one: bench.do(load_run.start_load, **one) for one in gathered))


def test_two_loads_of_one_bath_start_at_once_and_the_second_is_told(
    shop: Shop, monkeypatch: pytest.MonkeyPatch
) -> None:
    answers = start_both(shop, monkeypatch)

    assert [one.code for one in answers if isinstance(one, Refusal)] == ["bath-in-use"]
    assert Load.objects.filter(state="running").count() == 1
    assert verify_record() == []


def test_without_the_lock_both_find_the_bath_free(
    shop: Shop, monkeypatch: pytest.MonkeyPatch
) -> None:
    without_row_locks(monkeypatch)

    answers = start_both(shop, monkeypatch)

    assert [type(one) for one in answers if isinstance(one, Exception)] == [IntegrityError]
