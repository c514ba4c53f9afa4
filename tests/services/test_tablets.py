"""Tablets: enrolled, opened with a PIN, changed, left, and what was left running."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from cases.models import (
    BenchSession,
    CaseStage,
    Person,
    Station,
    Submission,
    Tablet,
    WorkSpan,
)
from cases.services import people, put_down, tablets
from cases.services.record import Envelope, Refusal
from cases.services.verify_record import verify_record
from tests.factories import NOW, PIN, Shop, make_case, make_shop, start_stage

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop() -> Shop:
    return make_shop()


def at_tablet(now: datetime = NOW, person: Person | None = None) -> Envelope:
    """Return an envelope that comes from the test's tablet."""
    tablet = Tablet.objects.get()
    return Envelope("bench", now, person_id=person.pk if person else None, tablet_id=tablet.pk)


def refused(code: str, action: Any, /, *args: Any, **kwargs: Any) -> Refusal:
    """Return the refusal that ``action`` raises, and make sure that it is this one."""
    with pytest.raises(Refusal) as caught:
        action(*args, **kwargs)
    assert caught.value.code == code
    return caught.value


def start_first_stage(shop: Shop, who: str, now: datetime = NOW, ref: str = "Q-1180") -> CaseStage:
    """Start ``receive`` of a new case with somebody's hands; the running stage."""
    case = make_case(shop, now=now, ref=ref)
    stage = case.stages.get(key="receive")
    if stage.state != "planned":
        stage = case.stages.filter(state="planned", kind="attended", ready_at__lte=now).first()
    start_stage(shop.envelope(who, now=now), stage=stage.pk, version=stage.version)
    stage.refresh_from_db()
    return stage


def test_enrolled_tablet_stores_a_hash_only(shop: Shop) -> None:
    station = Station.objects.first()

    outcome, token = tablets.enrol(shop.envelope("pavo"), name="Bench 4", station=station.pk)

    row = Tablet.objects.get(pk=outcome.result["tablet"])
    assert (row.name, row.station, row.enrolled_by) == ("Bench 4", station, shop.people["pavo"])
    assert token not in str(Submission.objects.values_list("result", flat=True))
    assert row.token_hash != token
    assert verify_record() == []


def test_enrol_sent_twice_makes_one_tablet_with_the_same_token(shop: Shop) -> None:
    envelope = shop.envelope("pavo")

    first = tablets.enrol(envelope, name="Bench 4")
    second = tablets.enrol(envelope, name="Bench 4")

    assert first[1] == second[1]
    assert second[0].repeated
    assert Tablet.objects.filter(name="Bench 4").count() == 1


def test_enrol_is_refused(shop: Shop) -> None:
    refused("not-allowed", tablets.enrol, shop.envelope("mara"), name="Bench 4")
    refused("no-name", tablets.enrol, shop.envelope("pavo"), name=" ")
    refused("name-taken", tablets.enrol, shop.envelope("pavo"), name="bench 3")


def test_revoked_tablet_opens_nothing_and_its_session_ends(shop: Shop) -> None:
    mara = shop.people["mara"]
    tablets.open_bench(at_tablet(), person=mara.pk, pin=PIN)
    tablet = Tablet.objects.get()

    tablets.revoke(shop.envelope("pavo"), tablet=tablet.pk)

    assert BenchSession.objects.get().closed_how == "revoked"
    refused("no-tablet", tablets.open_bench, at_tablet(), person=mara.pk, pin=PIN)
    refused("no-tablet", tablets.revoke, shop.envelope("pavo"), tablet=tablet.pk)


def test_opening_for_the_next_person_closes_the_session_before(shop: Shop) -> None:
    tablets.open_bench(at_tablet(), person=shop.people["mara"].pk, pin=PIN)
    later = NOW + timedelta(minutes=1)
    much_later = NOW + timedelta(minutes=30)

    tablets.open_bench(at_tablet(later), person=shop.people["oren"].pk, pin=PIN)
    tablets.open_bench(at_tablet(much_later), person=shop.people["teo"].pk, pin=PIN)

    how = BenchSession.objects.order_by("pk").values_list("closed_how", flat=True)
    assert list(how) == ["change", "idle", ""]
    assert verify_record() == []


def test_five_wrong_pins_lock_even_the_right_one_for_five_minutes(shop: Shop) -> None:
    mara = shop.people["mara"]

    words = [
        refused("wrong-pin", tablets.open_bench, at_tablet(), person=mara.pk, pin="0000").sentence
        for _try in range(5)
    ]
    locked = refused("pin-locked", tablets.open_bench, at_tablet(), person=mara.pk, pin=PIN)
    after = NOW + timedelta(minutes=5, seconds=1)
    opened = tablets.open_bench(at_tablet(after), person=mara.pk, pin=PIN)

    assert "4 tries are left" in words[0]
    assert "locked for five minutes" in words[4]
    assert "Wait until" in locked.sentence
    assert opened.result["opened"]
    assert verify_record() == []


def test_wrong_pin_sent_twice_counts_once(shop: Shop) -> None:
    mara = shop.people["mara"]
    envelope = at_tablet()

    for _tap in range(2):
        refused("wrong-pin", tablets.open_bench, envelope, person=mara.pk, pin="0000")

    mara.refresh_from_db()
    assert mara.pin_failures == 1


def test_bench_opens_for_technicians_with_a_pin_on_a_tablet_only(shop: Shop) -> None:
    mara, noor = shop.people["mara"], shop.people["noor"]
    added = people.add_person(shop.envelope("pavo"), name="Ilka", roles=["technician"])
    no_tablet = replace(at_tablet(), tablet_id=None)

    refused("no-tablet", tablets.open_bench, no_tablet, person=mara.pk, pin=PIN)
    refused("no-person", tablets.open_bench, at_tablet(), person=noor.pk, pin=PIN)
    refused("no-pin", tablets.open_bench, at_tablet(), person=added.result["person"], pin=PIN)


def test_pin_never_stands_in_the_record(shop: Shop) -> None:
    outcome = tablets.open_bench(at_tablet(), person=shop.people["mara"].pk, pin=PIN)

    stored = Submission.objects.get(pk=outcome.submission_id)
    events = [(event.facts, event.changes) for event in stored.events.all()]
    assert PIN not in str((stored.result, events))


def test_leaving_the_bench_pauses_ones_own_stages_for_correction(shop: Shop) -> None:
    mine = start_first_stage(shop, "mara")
    other = start_first_stage(shop, "oren", ref="Q-1181")
    later = NOW + timedelta(minutes=20)
    tablets.open_bench(at_tablet(later), person=shop.people["mara"].pk, pin=PIN)

    outcome = tablets.leave_bench(at_tablet(later, shop.people["mara"]))

    mine.refresh_from_db()
    other.refresh_from_db()
    span = WorkSpan.objects.get(run__stage=mine)
    assert outcome.result["paused"] == [mine.pk]
    assert (mine.state, other.state) == ("paused", "running")
    assert (span.ended_at, span.to_check) == (later, True)
    assert BenchSession.objects.get().closed_how == "leave"
    assert verify_record() == []


def test_leaving_is_for_technicians(shop: Shop) -> None:
    refused("not-allowed", tablets.leave_bench, shop.envelope("noor"))


def test_stage_left_running_is_paused_as_of_the_end_of_the_shift(shop: Shop) -> None:
    began = datetime(2026, 12, 9, 15, 30, tzinfo=UTC)  # 16:30 on the wall, the shift ends at 17
    stage = start_first_stage(shop, "mara", now=began)
    end = datetime(2026, 12, 9, 16, tzinfo=UTC)

    early = put_down.pause_forgotten(end + timedelta(minutes=14))
    first = put_down.pause_forgotten(end + timedelta(minutes=16))
    second = put_down.pause_forgotten(end + timedelta(minutes=17))

    stage.refresh_from_db()
    span = WorkSpan.objects.get(run__stage=stage)
    assert (early, first, second) == (0, 1, 0)
    assert stage.state == "paused"
    assert (span.ended_at, span.to_check) == (end, True)
    assert verify_record() == []


def test_only_the_clock_puts_a_stage_down(shop: Shop) -> None:
    stage = start_first_stage(shop, "mara")
    span = WorkSpan.objects.get(run__stage=stage)

    refused("not-allowed", put_down.put_down, shop.envelope("mara"), span=span.pk)
    refused("not-running", put_down.put_down, Envelope("clock", NOW), span=span.pk + 1000)
