"""What a locking tablet puts down, and what its person says of it afterwards."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from django.utils import timezone

from cases.models import BenchSession, CaseStage, Event, Lab, Tablet, TimeCorrection, WorkSpan
from cases.selectors.labour import attended_minutes, put_down_by_a_lock
from cases.services import labour, tablets
from cases.services.hold import hold_case
from cases.services.record import Envelope
from cases.services.stage import resume_stage
from cases.services.verify_record import verify_record
from tests.factories import NOW, PIN, Shop, make_shop, rows
from tests.services.test_tablets import at_tablet, refused, start_first_stage

pytestmark = pytest.mark.django_db

IDLE = timedelta(minutes=5)
LOCKED = NOW + IDLE


@pytest.fixture
def shop() -> Shop:
    return make_shop()


def at(minutes: float) -> datetime:
    return NOW + timedelta(minutes=minutes)


def open_for(shop: Shop, who: str, now: datetime = NOW, tablet: int | None = None) -> BenchSession:
    number = tablet or Tablet.objects.get(name="Bench 3").pk
    envelope = Envelope("bench", now, tablet_id=number)
    made = tablets.open_bench(envelope, person=shop.people[who].pk, pin=PIN)
    return BenchSession.objects.get(pk=made.result["session"])


def second_tablet(shop: Shop) -> int:
    return int(tablets.enrol(shop.envelope("pavo"), name="Bench 4")[0].result["tablet"])


def choose(shop: Shop, *, puts_down: bool) -> None:
    rows(lambda record: {"lab": record.change(shop.lab, lock_puts_down=puts_down).pk})


def put_down(shop: Shop, stages: int = 1) -> list[CaseStage]:
    """Let mara begin stages and the tablet lock by itself; the stages."""
    open_for(shop, "mara")
    made = [start_first_stage(shop, "mara", ref=f"Q-118{n}") for n in range(stages)]
    assert tablets.lock_idle_tablets(at(6)) == 1
    for stage in made:
        stage.refresh_from_db()
    return made


def span_of(stage: CaseStage) -> WorkSpan:
    return WorkSpan.objects.filter(run__stage=stage).earliest("pk")


def minutes_of(stage: CaseStage, now: datetime) -> float:
    spans = WorkSpan.objects.filter(run__stage=stage)
    return sum(one.minutes for one in attended_minutes(spans, now).values())


def test_idle_tablet_puts_the_work_of_its_person_down_as_of_the_lock(shop: Shop) -> None:
    other = start_first_stage(shop, "oren", ref="Q-1190")

    (stage,) = put_down(shop)

    other.refresh_from_db()
    span, session = span_of(stage), BenchSession.objects.get()
    event = Event.objects.get(kind="stage.paused")
    assert (stage.state, other.state) == ("paused", "running")
    assert (span.ended_at, span.ended_how, span.to_check) == (LOCKED, "lock", True)
    assert (session.closed_at, session.closed_how) == (LOCKED, "idle")
    assert (event.by, event.facts["why"], event.happened_at) == (None, "tablet locked", LOCKED)
    assert verify_record() == []


def test_idle_tablet_is_locked_once_however_many_find_it(shop: Shop) -> None:
    put_down(shop)
    session = BenchSession.objects.get()
    before = Event.objects.count()

    again = [tablets.lock_if_idle(session, at(7)), tablets.lock_idle_tablets(at(8)) > 0]

    assert again == [False, False]
    assert Event.objects.count() == before


def test_tablet_that_is_touched_in_time_does_not_lock(shop: Shop) -> None:
    session = open_for(shop, "mara")
    stage = start_first_stage(shop, "mara")
    BenchSession.objects.update(seen_at=at(4))

    found_before_the_touch = tablets.lock_if_idle(session, at(6))

    stage.refresh_from_db()
    assert not found_before_the_touch
    assert stage.state == "running"
    assert tablets.lock_idle_tablets(at(9.5)) == 1


def test_only_the_clock_locks_an_idle_tablet(shop: Shop) -> None:
    session = open_for(shop, "mara")

    refused("not-allowed", tablets.lock_idle, shop.envelope("mara"), session=session.pk)
    refused("in-use", tablets.lock_idle, Envelope("clock", at(5)), session=session.pk)
    refused("no-session", tablets.lock_idle, Envelope("clock", at(6)), session=session.pk + 9)


def test_own_lock_puts_down_at_once(shop: Shop) -> None:
    open_for(shop, "mara")
    stage = start_first_stage(shop, "mara")

    done = tablets.close_bench(at_tablet(at(2), shop.people["mara"]), how="change")

    assert done.result["paused"] == [stage.pk]
    assert span_of(stage).ended_at == at(2)
    assert Event.objects.get(kind="stage.paused").by == shop.people["mara"]
    refused("bad-how", tablets.close_bench, at_tablet(at(3)), how="thrown")
    refused("no-tablet", tablets.close_bench, replace(at_tablet(at(3)), tablet_id=None))
    assert verify_record() == []


@pytest.mark.parametrize(("minutes", "ended"), [(2, 2), (30, 5)])
def test_another_persons_pin_puts_down_what_was_there(shop: Shop, minutes: int, ended: int) -> None:
    open_for(shop, "mara")
    stage = start_first_stage(shop, "mara")

    open_for(shop, "oren", at(minutes))

    assert span_of(stage).ended_at == at(ended)
    assert BenchSession.objects.get(closed_at=None).person == shop.people["oren"]
    assert verify_record() == []


def test_own_pin_on_ones_own_open_tablet_puts_nothing_down(shop: Shop) -> None:
    open_for(shop, "mara")
    stage = start_first_stage(shop, "mara")

    open_for(shop, "mara", at(2))

    assert span_of(stage).ended_at is None


def test_wrong_pin_puts_nothing_down(shop: Shop) -> None:
    open_for(shop, "mara")
    stage = start_first_stage(shop, "mara")

    oren = shop.people["oren"].pk
    refused("wrong-pin", tablets.open_bench, at_tablet(at(2)), person=oren, pin="0000")

    assert span_of(stage).ended_at is None


def test_who_works_at_another_tablet_goes_on(shop: Shop) -> None:
    other = second_tablet(shop)
    open_for(shop, "mara")
    stage = start_first_stage(shop, "mara")
    open_for(shop, "mara", at(4), tablet=other)

    tablets.lock_idle_tablets(at(6))
    first = span_of(stage).ended_at
    tablets.lock_idle_tablets(at(10))

    assert first is None
    assert span_of(stage).ended_at == at(9)


def test_work_begun_after_the_lock_is_not_put_down_by_it(shop: Shop) -> None:
    open_for(shop, "mara")
    stage = start_first_stage(shop, "mara", now=at(7))

    assert tablets.lock_idle_tablets(at(8)) == 1

    assert span_of(stage).ended_at is None


def test_lab_may_choose_that_a_lock_leaves_work_running(shop: Shop) -> None:
    choose(shop, puts_down=False)
    open_for(shop, "mara")
    stage = start_first_stage(shop, "mara")

    assert tablets.lock_idle_tablets(at(6)) == 1

    assert span_of(stage).ended_at is None
    assert BenchSession.objects.get().closed_how == "idle"


def test_who_went_on_has_the_work_in_hand_since_the_lock(shop: Shop) -> None:
    (stage,) = put_down(shop)

    labour.went_on(shop.envelope("mara", now=at(35)), spans=[span_of(stage).pk])

    stage.refresh_from_db()
    first, second = WorkSpan.objects.filter(run__stage=stage).order_by("pk")
    event = Event.objects.get(kind="stage.went-on")
    assert stage.state == "running"
    assert (first.ended_at, first.to_check) == (LOCKED, False)
    assert (second.began_at, second.ended_at) == (LOCKED, None)
    assert event.corrects == Event.objects.get(kind="stage.paused")
    assert minutes_of(stage, at(35)) == pytest.approx(35)
    assert not put_down_by_a_lock(shop.people["mara"]).exists()
    assert verify_record() == []


def test_several_stages_go_on_together_and_share_the_time(shop: Shop) -> None:
    first, second = put_down(shop, stages=2)

    spans = [span_of(first).pk, span_of(second).pk]
    labour.went_on(shop.envelope("mara", now=at(35)), spans=spans)

    assert minutes_of(first, at(35)) == pytest.approx(17.5)
    assert minutes_of(second, at(35)) == pytest.approx(17.5)


def test_who_stopped_then_confirms_the_minutes(shop: Shop) -> None:
    (stage,) = put_down(shop)

    labour.confirm_time(shop.envelope("mara", now=at(35)), span=span_of(stage).pk)

    stage.refresh_from_db()
    assert stage.state == "paused"
    assert minutes_of(stage, at(35)) == pytest.approx(5)
    assert not put_down_by_a_lock(shop.people["mara"]).exists()


def test_who_stopped_later_has_the_time_counted_up_to_then(shop: Shop) -> None:
    (stage,) = put_down(shop)
    span = span_of(stage)

    labour.stopped_at(shop.envelope("mara", now=at(35)), span=span.pk, until=at(25).isoformat())

    stage.refresh_from_db()
    assert stage.state == "paused"
    assert span_of(stage).ended_at == LOCKED
    assert minutes_of(stage, at(35)) == pytest.approx(25)
    assert verify_record() == []


def test_who_stopped_earlier_has_both_values_kept(shop: Shop) -> None:
    first, second = put_down(shop, stages=2)

    labour.stopped_at(
        shop.envelope("mara", now=at(35)), span=span_of(first).pk, until=at(2).isoformat()
    )

    row = TimeCorrection.objects.get()
    assert (row.minutes_before, row.minutes) == (pytest.approx(5), pytest.approx(1))
    assert minutes_of(first, at(35)) == pytest.approx(1)
    assert minutes_of(second, at(35)) == pytest.approx(2.5)
    assert verify_record() == []


def test_answers_are_refused(shop: Shop) -> None:
    (stage,) = put_down(shop)
    span = span_of(stage).pk
    mara, now = "mara", at(35)

    def went_on(who: str, **body: Any) -> Callable[[], Any]:
        return lambda: labour.went_on(shop.envelope(who, now=now), **body)

    def stopped(who: str, until: datetime) -> Callable[[], Any]:
        return lambda: labour.stopped_at(
            shop.envelope(who, now=now), span=span, until=until.isoformat()
        )

    refused("not-allowed", went_on("noor", spans=[span]))
    refused("not-yours", went_on("oren", spans=[span]))
    refused("no-span", went_on(mara, spans=[]))
    refused("no-span", went_on(mara, spans=[span + 99]))
    refused("bad-time", stopped(mara, at(-1)))
    refused("bad-time", stopped(mara, at(36)))
    refused("not-yours", stopped("oren", at(6)))
    went_on(mara, spans=[span])()
    refused("nothing-to-check", went_on(mara, spans=[span]))
    refused("nothing-to-check", stopped(mara, at(6)))


def test_who_left_the_bench_is_not_asked_whether_they_went_on(shop: Shop) -> None:
    stage = start_first_stage(shop, "mara")
    tablets.leave_bench(shop.envelope("mara", now=at(5)))

    span = span_of(stage).pk
    refused("not-locked", labour.went_on, shop.envelope("mara", now=at(9)), spans=[span])


def test_nobody_went_on_at_what_a_colleague_took_up(shop: Shop) -> None:
    (stage,) = put_down(shop)
    resume_stage(shop.envelope("oren", now=at(20)), stage=stage.pk, version=stage.version)
    span = span_of(stage).pk
    now = shop.envelope("mara", now=at(35))

    said = refused("taken-up", labour.went_on, now, spans=[span]).sentence
    refused("taken-up", labour.stopped_at, shop.envelope("mara", now=at(35)), span=span,
            until=at(21).isoformat())  # fmt: skip
    labour.stopped_at(shop.envelope("mara", now=at(35)), span=span, until=at(20).isoformat())

    assert "has it in hand" in said
    assert minutes_of(stage, at(35)) == pytest.approx(35)


def test_nobody_went_on_at_what_is_held(shop: Shop) -> None:
    (stage,) = put_down(shop)
    hold_case(
        shop.envelope("noor", now=at(20)), case=stage.case_id, version=stage.case.version,
        reason="person-away", waits_for="laboratory",
    )  # fmt: skip

    now = shop.envelope("mara", now=at(35))
    refused("on-hold", labour.went_on, now, spans=[span_of(stage).pk])


def test_nobody_went_on_all_night(shop: Shop) -> None:
    (stage,) = put_down(shop)
    morning = datetime(2026, 12, 10, 7, 30, tzinfo=UTC)

    with timezone.override("Europe/Vienna"):
        said = refused(
            "shift-over",
            labour.went_on,
            shop.envelope("mara", now=morning),
            spans=[span_of(stage).pk],
        )

    assert "17:00" in said.sentence


def test_sent_twice_an_answer_counts_once(shop: Shop) -> None:
    (stage,) = put_down(shop)
    envelope = shop.envelope("mara", now=at(35))

    answers = [labour.went_on(envelope, spans=[span_of(stage).pk]) for _tap in range(2)]

    assert [one.repeated for one in answers] == [False, True]
    assert WorkSpan.objects.filter(run__stage=stage).count() == 2


def test_revoked_tablet_puts_nothing_down(shop: Shop) -> None:
    open_for(shop, "mara")
    stage = start_first_stage(shop, "mara")

    tablets.revoke(shop.envelope("pavo"), tablet=Tablet.objects.get().pk)

    assert span_of(stage).ended_at is None


def test_without_a_laboratory_a_tablet_locks_after_five_minutes(shop: Shop) -> None:
    session = open_for(shop, "mara")
    Lab.objects.all().delete()

    assert tablets.locks_at(session) == LOCKED
