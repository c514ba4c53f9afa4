"""Packing, unpacking, sending and pick-ups, by the services."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest

from cases.models import Case, CheckResult, PickUp, Shipment, StageRun
from cases.services.close_case import cancel_case
from cases.services.design import set_design
from cases.services.dispatch import ask_pick_up, mark_sent, pack, pick_up_done, unpack
from cases.services.hold import hold_case
from cases.services.record import Outcome, Recorder, Refusal
from cases.services.verify_record import verify_record
from tests.factories import DESIGN, NOW, Shop, answers, make_case, make_shop, rows
from tests.walk import Clock, walk

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop() -> Shop:
    return make_shop()


def entry(case: Case, **changes: Any) -> dict[str, Any]:
    """What the pack page sends for a case: every check passed."""
    stage = case.stages.get(key="pack-out")
    return {"case": case.pk, "checks": answers(stage), **changes}


def pack_up(shop: Shop, clock: Clock, *entries: dict[str, Any], who: str = "noor") -> Outcome:
    return pack(
        shop.envelope(who, now=clock.now),
        practice=shop.practice.pk,
        cases=list(entries),
        ship_on=clock.now.date().isoformat(),
    )


def inspected(shop: Shop, *, ref: str = "Q-1180", until: str = "soak") -> tuple[Case, Clock]:
    """Return a case that lies in water (or stands at ``until``) and the instant."""
    case = make_case(shop, ref=ref)
    clock = Clock(NOW)
    walk(shop, case, clock, until=until)
    case.refresh_from_db()
    return case, clock


def test_pack_ends_the_stage_with_its_checks_and_send_closes_the_case(shop: Shop) -> None:
    case, clock = inspected(shop)
    clock.now += timedelta(days=1)

    box = pack_up(shop, clock, entry(case)).result["shipment"]
    clock.now += timedelta(minutes=30)
    mark_sent(shop.envelope("noor", now=clock.now), shipment=box, carrier_ref=" AB 12 ")

    case.refresh_from_db()
    shipment = Shipment.objects.get(pk=box)
    assert (case.state, case.closed_at) == ("sent", clock.now)
    assert set(
        case.stages.filter(key__in=["pack-out", "send"]).values_list("state", flat=True)
    ) == {"done"}
    assert CheckResult.objects.filter(item__stage__key="pack-out", item__stage__case=case).exists()
    assert (shipment.number, shipment.carrier_ref) == ("D26-0001", "AB 12")
    assert case.timers.filter(state="pending").count() == 0
    assert verify_record() == []


def test_pack_refuses_a_case_that_is_not_inspected(shop: Shop) -> None:
    case, clock = inspected(shop, until="polish")

    with pytest.raises(Refusal, match="Still to do: Inspect") as caught:
        pack_up(shop, clock, entry(case))

    assert caught.value.code == "not-inspected"
    assert Shipment.objects.count() == 0


def test_pack_refuses_an_open_check_and_stores_nothing(shop: Shop) -> None:
    case, clock = inspected(shop)
    clock.now += timedelta(days=1)

    with pytest.raises(Refusal, match="a check is not passed") as caught:
        pack_up(shop, clock, {"case": case.pk, "checks": []})

    assert caught.value.code == "check-open"
    assert case.stages.get(key="pack-out").state == "planned"
    assert StageRun.objects.filter(stage__case=case, stage__key="pack-out").count() == 0


def test_short_soak_wants_words_that_stay_for_the_paper(shop: Shop) -> None:
    case, clock = inspected(shop)
    clock.now += timedelta(hours=5)

    with pytest.raises(Refusal) as caught:
        pack_up(shop, clock, entry(case))
    pack_up(shop, clock, entry(case, soak="the van was due"))

    assert caught.value.code == "soak-short"
    assert case.stages.get(key="soak").words == (
        "Lay in water 5 h instead of 24 h: the van was due"
    )
    assert verify_record() == []


def test_piece_that_was_never_laid_in_water_says_so(shop: Shop) -> None:
    case, clock = inspected(shop, until="inspect")

    pack_up(shop, clock, entry(case, soak="the patient travels"))

    soak = case.stages.get(key="soak")
    assert (soak.state, soak.words) == (
        "skipped",
        "Not laid in water before it left: the patient travels",
    )


def test_twins_go_together_or_with_a_reason(shop: Shop) -> None:
    upper, lower, clock = pair(shop)

    with pytest.raises(Refusal) as caught:
        pack_up(shop, clock, entry(upper))
    box = pack_up(shop, clock, entry(upper, alone="the lower waits for a record")).result
    pack(
        shop.envelope("noor", now=clock.now),
        practice=shop.practice.pk,
        cases=[entry(lower)],
        ship_on=clock.now.date().isoformat(),
        shipment=box["shipment"],
    )

    assert caught.value.code == "twin-alone"
    assert Shipment.objects.get().contents.count() == 2
    assert verify_record() == []


def pair(shop: Shop) -> tuple[Case, Case, Clock]:
    """Return two cases tied as a pair that lay in water long enough, and the instant."""
    one, first = inspected(shop)
    other, second = inspected(shop, ref="Q-1181")

    def tie(record: Recorder) -> dict[str, Any]:
        record.change(one, twin=other)
        record.change(other, twin=one)
        return {}

    rows(tie)
    return one, other, Clock(max(first.now, second.now) + timedelta(days=1))


def test_unpack_opens_the_case_again_with_a_new_attempt(shop: Shop) -> None:
    case, clock = inspected(shop)
    clock.now += timedelta(days=1)
    item = case.received.first()
    assert item is not None
    cast = case.things.filter(kind="cast").first()
    assert cast is not None
    box = pack_up(shop, clock, entry(case, received=[item.pk], casts=[cast.pk])).result["shipment"]
    item.refresh_from_db()
    assert item.state == "back"

    unpack(shop.envelope("noor", now=clock.now), shipment=box, case=case.pk, reason="wrong box")

    case.refresh_from_db()
    item.refresh_from_db()
    cast.refresh_from_db()
    stage = case.stages.get(key="pack-out")
    assert (case.state, stage.state, stage.attempt) == ("open", "planned", 2)
    assert (item.state, cast.place) == ("here", "")
    with pytest.raises(Refusal, match="Nothing is in this box"):
        mark_sent(shop.envelope("noor", now=clock.now), shipment=box)
    assert verify_record() == []


def test_send_waits_for_the_disinfectant(shop: Shop) -> None:
    case, clock = inspected(shop)
    clock.now += timedelta(days=1)
    box = pack_up(shop, clock, entry(case)).result["shipment"]

    with pytest.raises(Refusal) as caught:
        mark_sent(shop.envelope("noor", now=clock.now), shipment=box)

    assert caught.value.code == "waiting"
    case.refresh_from_db()
    assert case.state == "packed"


def test_case_cancelled_in_its_box_must_be_taken_out(shop: Shop) -> None:
    case, clock = inspected(shop)
    clock.now += timedelta(days=1)
    box = pack_up(shop, clock, entry(case)).result["shipment"]
    case.refresh_from_db()
    cancel_case(
        shop.envelope("noor", now=clock.now),
        case=case.pk,
        version=case.version,
        reason="patient moved away",
    )
    clock.now += timedelta(hours=1)

    with pytest.raises(Refusal, match="was cancelled after it was packed"):
        mark_sent(shop.envelope("noor", now=clock.now), shipment=box)
    unpack(shop.envelope("noor", now=clock.now), shipment=box, case=case.pk, reason="cancelled")

    case.refresh_from_db()
    assert case.state == "cancelled"
    assert verify_record() == []


def test_design_of_a_packed_case_stays(shop: Shop) -> None:
    case, clock = inspected(shop)
    clock.now += timedelta(days=1)
    pack_up(shop, clock, entry(case))
    case.refresh_from_db()

    with pytest.raises(Refusal, match="Take it out of its box first"):
        set_design(
            shop.envelope("mara", now=clock.now),
            case=case.pk,
            version=case.version,
            data={**DESIGN, "bar": False, "method": "wax-then-copy"},
            reason="Practice asked for it",
        )

    assert not case.stages.filter(state="planned").exclude(key="send").exists()


def test_held_case_is_not_packed(shop: Shop) -> None:
    case, clock = inspected(shop)
    clock.now += timedelta(days=1)
    hold_case(
        shop.envelope("noor", now=clock.now),
        case=case.pk,
        version=case.version,
        reason="answer",
        waits_for="practice",
        words="which day?",
    )

    with pytest.raises(Refusal) as caught:
        pack_up(shop, clock, entry(case))

    assert caught.value.code == "on-hold"


def test_same_pack_form_twice_makes_one_box(shop: Shop) -> None:
    case, clock = inspected(shop)
    clock.now += timedelta(days=1)
    envelope = shop.envelope("noor", now=clock.now)
    body = {
        "practice": shop.practice.pk,
        "cases": [entry(case)],
        "ship_on": clock.now.date().isoformat(),
    }

    first, second = pack(envelope, **body), pack(envelope, **body)

    assert second.repeated
    assert first.result == second.result
    assert Shipment.objects.count() == 1


def test_other_practice_and_technician_are_refused(shop: Shop) -> None:
    case, clock = inspected(shop)
    clock.now += timedelta(days=1)

    with pytest.raises(Refusal, match="belongs to another practice"):
        pack(
            shop.envelope("noor", now=clock.now),
            practice=shop.other_practice.pk,
            cases=[entry(case)],
            ship_on=clock.now.date().isoformat(),
        )
    with pytest.raises(Refusal) as caught:
        pack_up(shop, clock, entry(case), who="mara")

    assert caught.value.code == "not-allowed"


def test_pick_up_is_asked_and_ticked_off_once(shop: Shop) -> None:
    envelope = shop.envelope("noor")
    row = ask_pick_up(
        envelope, practice=shop.practice.pk, day=NOW.date().isoformat(), words="impression"
    ).result["pick_up"]

    pick_up_done(shop.envelope("noor"), pick_up=row)

    assert PickUp.objects.get().done_at == NOW
    with pytest.raises(Refusal, match="ticked it off already"):
        pick_up_done(shop.envelope("noor"), pick_up=row)
    with pytest.raises(Refusal, match="That day is over"):
        ask_pick_up(
            shop.envelope("noor"), practice=shop.practice.pk, day="2026-12-01", words="tray"
        )
    assert verify_record() == []
