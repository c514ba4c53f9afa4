"""Starting, pausing, finishing, undoing and skipping a stage."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest

from cases.domain.order import Disinfection
from cases.models import Case, CaseStage, Occupied, StageRun, TimeCorrection, Timer, WorkSpan
from cases.services import assign, check, countersign, hold, send_back
from cases.services.record import Refusal
from cases.services.stage import (
    finish_stage,
    pause_stage,
    resume_stage,
    skip_stage,
    start_stage,
)
from cases.services.undo import undo_stage
from tests.factories import NOW, Shop, answers, make_case, make_shop, rows
from tests.walk import Clock, do_stage, free_things, walk

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop() -> Shop:
    return make_shop()


def start(shop: Shop, stage: CaseStage, who: str = "mara", **body: Any) -> CaseStage:
    """Start a stage when it is ready."""
    now = body.pop("now", max(NOW, stage.ready_at or NOW))
    start_stage(shop.envelope(who, now=now), stage=stage.pk, version=stage.version, **body)
    stage.refresh_from_db()
    return stage


def stage_of(case: Case, key: str) -> CaseStage:
    return case.stages.select_related("case").get(key=key)


def refused(verb: Any, envelope: Any, **body: Any) -> Refusal:
    """Return the refusal that a verb must raise."""
    with pytest.raises(Refusal) as caught:
        verb(envelope, **body)
    return caught.value


def test_stage_waits_for_what_comes_before_it(shop: Shop) -> None:
    wax = stage_of(make_case(shop), "wax")

    refusal = refused(start_stage, shop.envelope(), stage=wax.pk, version=wax.version)

    assert refusal.code == "not-ready"
    assert "comes after" in refusal.sentence


def test_stage_waits_until_the_least_wait_is_over(shop: Shop) -> None:
    case = make_case(shop)
    clock = Clock(NOW)
    walk(shop, case, clock, until="pour")
    trim = stage_of(case, "trim")

    early = shop.envelope(now=clock.now + timedelta(minutes=44))
    assert refused(start_stage, early, stage=trim.pk, version=trim.version).code == "waiting"

    start(shop, trim, now=clock.now + timedelta(minutes=45))
    assert trim.state == "running"
    assert trim.ready_at == clock.now + timedelta(minutes=60)


def test_stage_cannot_be_finished_with_a_check_open_or_failed(shop: Shop) -> None:
    stage = start(shop, stage_of(make_case(shop), "receive"))
    entries = answers(stage)
    entries[0]["yes"] = False

    outcome = finish_stage(shop.envelope(), stage=stage.pk, version=stage.version, checks=entries)

    stage.refresh_from_db()
    assert (outcome.result["finished"], stage.state) == (False, "running")
    assert outcome.result["failed"] == [stage.checks.get(pk=entries[0]["item"]).key]
    assert stage.checks.get(pk=entries[0]["item"]).state == "failed"


def test_failed_check_is_never_conceded_by_who_did_the_work(shop: Shop) -> None:
    stage = start(shop, stage_of(make_case(shop), "receive"))
    entries = answers(stage)
    entries[0]["yes"] = False
    check.enter_checks(shop.envelope(), stage=stage.pk, version=stage.version, checks=entries)
    body = {
        "item": entries[0]["item"], "version": stage.version, "reason": "dentist-agreed",
    }  # fmt: skip

    assert refused(check.concede, shop.envelope("mara"), **body).code == "own-work"
    assert refused(check.concede, shop.envelope("teo"), **body).code == "student"
    check.concede(shop.envelope("oren"), **body)

    item = stage.checks.get(pk=entries[0]["item"])
    assert (item.state, item.concessions.get().by) == ("conceded", shop.people["oren"])


def test_one_cast_is_in_one_pair_of_hands(shop: Shop) -> None:
    case = make_case(shop)
    clock = Clock(NOW)
    walk(shop, case, clock, until="block-out")
    clasps, mount = stage_of(case, "clasps"), stage_of(case, "mount")
    later = max(clock.now, clasps.ready_at or NOW, mount.ready_at or NOW)
    start(shop, clasps, now=later)

    refusal = refused(
        start_stage,
        shop.envelope("oren", now=later),
        stage=mount.pk,
        version=mount.version,
        things_used=free_things(),
    )

    assert refusal.code == "cast-in-hand"
    assert "Mara" in refusal.sentence


def test_flask_is_taken_from_flasking_to_deflasking(shop: Shop) -> None:
    one, two = make_case(shop, ref="Q-1"), make_case(shop, ref="Q-2")
    clock = Clock(NOW)
    walk(shop, one, clock, until="flask-lower")
    walk(shop, two, clock, until="wax-pass")
    flask = stage_of(two, "flask-lower")
    label = Occupied.objects.get(case=one, thing__kind="flask", freed_at__isnull=True).thing.label
    clock.now = max(clock.now, flask.ready_at or NOW)
    body = {"stage": flask.pk, "version": flask.version}

    taken = refused(start_stage, shop.envelope(now=clock.now), **body, things_used={"flask": label})
    nameless = refused(start_stage, shop.envelope(now=clock.now), **body, things_used={})
    unknown = refused(
        start_stage, shop.envelope(now=clock.now), **body, things_used={"flask": "77"}
    )

    assert (taken.code, nameless.code, unknown.code) == ("thing-in-use", "which-thing", "no-thing")
    assert one.number in taken.sentence
    walk(shop, one, clock, until="deflask")
    assert not Occupied.objects.filter(
        case=one, thing__kind="flask", freed_at__isnull=True
    ).exists()


def test_point_of_no_return_asks_for_a_photograph(shop: Shop) -> None:
    case = make_case(shop)
    clock = Clock(NOW)
    walk(shop, case, clock, until="separate")
    pack = stage_of(case, "pack")
    clock.now = max(clock.now, pack.ready_at or NOW)

    refusal = refused(
        start_stage, shop.envelope(now=clock.now), stage=pack.pk, version=pack.version
    )

    assert refusal.code == "photograph-first"


def test_students_work_waits_for_a_countersign_before_a_point_of_no_return(shop: Shop) -> None:
    case = make_case(shop)
    clock = Clock(NOW)
    walk(shop, case, clock, until="boil-out")

    separate = do_stage(shop, stage_of(case, "separate"), clock, who="teo")

    request = separate.countersigns.get()
    assert separate.state == "countersign"
    assert stage_of(case, "pack").ready_at is None
    own = shop.envelope("teo", now=clock.now)
    assert refused(countersign.countersign, own, request=request.pk, agreed=True).code in {
        "own-work", "not-allowed",
    }  # fmt: skip
    countersign.countersign(shop.envelope("oren", now=clock.now), request=request.pk, agreed=True)
    assert stage_of(case, "pack").ready_at is not None


def test_refused_countersign_reopens_the_stage_as_a_new_attempt(shop: Shop) -> None:
    case = make_case(shop)
    clock = Clock(NOW)
    walk(shop, case, clock, until="boil-out")
    separate = do_stage(shop, stage_of(case, "separate"), clock, who="teo")

    countersign.countersign(
        shop.envelope("oren", now=clock.now),
        request=separate.countersigns.get().pk,
        agreed=False,
        words="Separator on a tooth",
    )

    separate.refresh_from_db()
    assert (separate.state, separate.attempt) == ("planned", 2)
    assert set(separate.checks.values_list("state", flat=True)) == {"open"}


def test_undo_of_a_finish_is_a_compensating_event(shop: Shop) -> None:
    case = make_case(shop)
    stage = do_stage(shop, stage_of(case, "receive"), clock := Clock(NOW))

    undo_stage(
        shop.envelope(now=clock.now + timedelta(seconds=9)),
        stage=stage.pk,
        version=stage.version,
    )

    stage.refresh_from_db()
    assert stage.state == "running"
    kinds = list(case.events.filter(subject="receive").values_list("kind", flat=True))
    assert kinds[-2:] == ["stage.finished", "stage.finish-undone"]


def test_undo_is_refused_when_late_or_when_the_next_stage_has_begun(shop: Shop) -> None:
    case = make_case(shop)
    stage = do_stage(shop, stage_of(case, "receive"), clock := Clock(NOW))
    body = {"stage": stage.pk, "version": stage.version}

    late = shop.envelope(now=clock.now + timedelta(seconds=16))
    assert refused(undo_stage, late, **body).code == "too-late"
    start(shop, stage_of(case, "pour"), now=clock.now)
    in_time = shop.envelope(now=clock.now + timedelta(seconds=3))
    assert refused(undo_stage, in_time, **body).code == "later-begun"


def test_send_back_reopens_everything_after_and_keeps_earlier_work(shop: Shop) -> None:
    case = make_case(shop)
    clock = Clock(NOW)
    walk(shop, case, clock, until="wax-pass")
    row = stage_of(case, "wax-pass")

    result = send_back.send_back(
        shop.envelope(now=clock.now),
        stage=row.pk,
        version=row.version,
        to="teeth",
        reason="bracing-low",
        standing={"wax-pass": ""},
    ).result

    assert result["reopened"] == ["teeth", "wax", "wax-pass"]
    teeth = stage_of(case, "teeth")
    assert (teeth.state, teeth.attempt) == ("planned", 2)
    assert StageRun.objects.filter(stage=teeth, attempt=1, outcome="done").count() == 1
    assert case.send_backs.get().reason == "bracing-low"
    assert stage_of(case, "clasps").state == "done"


def test_send_back_may_leave_a_stage_standing_with_a_reason(shop: Shop) -> None:
    case = make_case(shop)
    clock = Clock(NOW)
    walk(shop, case, clock, until="wax-pass")
    row = stage_of(case, "wax-pass")

    send_back.send_back(
        shop.envelope(now=clock.now),
        stage=row.pk,
        version=row.version,
        to="mount",
        reason="tooth-position",
        standing={"teeth": "only the pin was off"},
    )

    assert stage_of(case, "teeth").state == "done"
    assert "only the pin" in stage_of(case, "teeth").words
    assert stage_of(case, "wax").ready_at is None


def test_hold_pauses_what_runs_and_stops_starts(shop: Shop) -> None:
    case = make_case(shop)
    stage = start(shop, stage_of(case, "receive"))

    result = hold.hold_case(
        shop.envelope("noor"), case=case.pk, version=case.version, reason="account",
        waits_for="practice",
    ).result  # fmt: skip

    stage.refresh_from_db()
    assert stage.state == "paused"
    resumed = {"stage": stage.pk, "version": stage.version}
    assert refused(resume_stage, shop.envelope(), **resumed).code == "on-hold"
    hold.release_hold(shop.envelope("noor"), hold=result["hold"])
    resume_stage(shop.envelope(), **resumed)


def test_pause_ends_the_minutes(shop: Shop) -> None:
    stage = start(shop, stage_of(make_case(shop), "receive"))

    pause_stage(
        shop.envelope(now=NOW + timedelta(minutes=7)), stage=stage.pk, version=stage.version
    )

    span = WorkSpan.objects.get(run__stage=stage)
    assert span.ended_at == NOW + timedelta(minutes=7)


def test_corrected_minutes_keep_both_values(shop: Shop) -> None:
    stage = start(shop, stage_of(make_case(shop), "receive"))
    pause_stage(
        shop.envelope(now=NOW + timedelta(minutes=90)), stage=stage.pk, version=stage.version
    )
    span = WorkSpan.objects.get(run__stage=stage)
    body = {"span": span.pk, "minutes": 12, "reason": "forgot-stop"}

    assert refused(assign.correct_own_time, shop.envelope("oren"), **body).code == "not-yours"
    assign.correct_own_time(shop.envelope("mara"), **body)

    row = TimeCorrection.objects.get()
    assert (row.minutes_before, row.minutes) == (90, 12)
    span.refresh_from_db()
    assert span.ended_at == NOW + timedelta(minutes=90)


def test_wait_has_a_timer_and_starting_the_next_stage_stops_it(shop: Shop) -> None:
    case = make_case(shop)
    clock = Clock(NOW)
    walk(shop, case, clock, until="pour")
    trim = stage_of(case, "trim")

    pending = Timer.objects.filter(stage=trim, state="pending")
    assert sorted(pending.values_list("kind", flat=True)) == ["latest", "latest-soon", "wait-over"]
    start(shop, trim)

    assert set(
        Timer.objects.filter(stage=trim, state="pending").values_list("kind", flat=True)
    ) == {"forgotten"}


def test_second_pair_of_eyes_is_not_who_did_the_work(shop: Shop) -> None:
    case = make_case(shop)
    clock = Clock(NOW)
    walk(shop, case, clock, until="wax")
    row = stage_of(case, "wax-pass")
    body = {"stage": row.pk, "version": row.version}
    clock.now = max(clock.now, row.ready_at or NOW)

    assert refused(start_stage, shop.envelope("mara", now=clock.now), **body).code == "own-work"
    start(shop, row, "oren", now=clock.now)


def test_pour_clock_starts_when_the_impression_was_taken(shop: Shop) -> None:
    case = make_case(shop)

    assert case.pour_by == NOW - timedelta(minutes=5) + timedelta(minutes=15)
    assert stage_of(case, "pour").latest_at == case.pour_by


def test_students_work_is_countersigned_even_when_a_colleague_finishes_it(shop: Shop) -> None:
    case = make_case(shop)
    clock = Clock(NOW)
    walk(shop, case, clock, until="boil-out")
    separate = stage_of(case, "separate")
    clock.now = max(clock.now, separate.ready_at or NOW)
    start(shop, separate, "teo", now=clock.now)

    finish_stage(
        shop.envelope("oren", now=clock.now),
        stage=separate.pk,
        version=separate.version,
        checks=answers(separate),
    )

    separate.refresh_from_db()
    assert separate.state == "countersign"


@pytest.mark.parametrize(
    ("key", "reason"), [("cure", "not-ordered"), ("disinfect", "not-ordered"), ("bar", "whim")]
)
def test_some_stages_and_some_reasons_are_never_skipped(shop: Shop, key: str, reason: str) -> None:
    case = make_case(shop, disinfection=Disinfection("not-known"))
    row = case.stages.filter(key=key).first() or stage_of(case, "polish")

    refusal = refused(skip_stage, shop.envelope(), stage=row.pk, version=row.version, reason=reason)

    assert refusal.code in {"not-skippable", "no-reason"}


def test_finish_asks_for_the_skill(shop: Shop) -> None:
    stage = start(shop, stage_of(make_case(shop), "receive"))
    rows(lambda record: _take_skills(record, shop))

    refusal = refused(
        finish_stage, shop.envelope("oren"), stage=stage.pk, version=stage.version,
        checks=answers(stage),
    )  # fmt: skip

    assert refusal.code == "no-skill"


def _take_skills(record: Any, shop: Shop) -> dict[str, Any]:
    for skill in shop.people["oren"].skills.all():
        record.remove(skill)
    return {}
