"""Small services of the bench: who a colleague is, where a thing is, minutes that are right."""

from __future__ import annotations

import io
from datetime import timedelta

import pytest
import segno
from PIL import Image

from cases.models import BenchSession, Person, Tablet, WorkSpan
from cases.services.alarms import acknowledge_many
from cases.services.labour import confirm_time
from cases.services.places import keep_thing
from cases.services.read_code import read_code
from cases.services.record import Envelope, Refusal
from cases.services.tablets import identify, leave_bench, open_bench
from cases.services.verify_record import verify_record
from tests.factories import NOW, PIN, Shop, make_case, make_shop
from tests.walk import Clock, walk

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop() -> Shop:
    return make_shop(NOW - timedelta(days=9))


def at_tablet(shop: Shop, who: str) -> Envelope:
    return Envelope("bench", NOW, person_id=shop.people[who].pk, tablet_id=Tablet.objects.get().pk)


def test_identify_leaves_the_tablet_with_who_has_it(shop: Shop) -> None:
    mara, oren = shop.people["mara"], shop.people["oren"]
    open_bench(Envelope("bench", NOW, tablet_id=Tablet.objects.get().pk), person=mara.pk, pin=PIN)
    identify(at_tablet(shop, "mara"), person=oren.pk, pin=PIN)
    assert BenchSession.objects.get(closed_at=None).person == mara


def test_identify_counts_wrong_pins_like_the_door_does(shop: Shop) -> None:
    oren = shop.people["oren"]
    for _n in range(5):
        with pytest.raises(Refusal):
            identify(at_tablet(shop, "mara"), person=oren.pk, pin="0000")
    with pytest.raises(Refusal) as locked:
        identify(at_tablet(shop, "mara"), person=oren.pk, pin=PIN)
    assert locked.value.code == "pin-locked"
    assert Person.objects.get(pk=oren.pk).pin_locked_until is not None


def test_keep_thing_makes_it_known_once(shop: Shop) -> None:
    case = make_case(shop)
    first = keep_thing(shop.envelope("mara"), case=case.pk, kind="tooth-card", place="drawer 4")
    again = keep_thing(shop.envelope("mara"), case=case.pk, kind="tooth-card", place="tray")
    assert first.result == again.result
    assert case.things.get(kind="tooth-card").place == "tray"
    assert verify_record() == []


@pytest.mark.parametrize(
    ("kind", "place", "code"), [("tooth-card", " ", "no-place"), ("flask", "shelf", "no-kind")]
)
def test_keep_thing_refuses_in_words(shop: Shop, kind: str, place: str, code: str) -> None:
    case = make_case(shop)
    with pytest.raises(Refusal) as refused:
        keep_thing(shop.envelope("mara"), case=case.pk, kind=kind, place=place)
    assert refused.value.code == code


def test_confirm_time_is_for_ones_own_paused_minutes(shop: Shop) -> None:
    began = NOW - timedelta(days=3)
    case = make_case(shop, now=began, ordered_on=began.date())
    walk(shop, case, Clock(began), until="trim")
    from cases.services.stage import start_stage

    survey = case.stages.get(key="survey")
    start_stage(shop.envelope("mara"), stage=survey.pk, version=survey.version)
    leave_bench(shop.envelope("mara", now=NOW + timedelta(minutes=5)))
    span = WorkSpan.objects.get(to_check=True)
    with pytest.raises(Refusal) as others:
        confirm_time(shop.envelope("oren"), span=span.pk)
    assert others.value.code == "not-yours"
    confirm_time(shop.envelope("mara"), span=span.pk)
    with pytest.raises(Refusal) as twice:
        confirm_time(shop.envelope("mara"), span=span.pk)
    assert twice.value.code == "nothing-to-check"


def test_acknowledge_many_refuses_when_nothing_is_open(shop: Shop) -> None:
    with pytest.raises(Refusal) as refused:
        acknowledge_many(shop.envelope("mara"), alerts=[1, 2])
    assert refused.value.code == "acknowledged"


def code_picture(text: str, *, turned: int = 0) -> io.BytesIO:
    made = io.BytesIO()
    segno.make(text, error="m").save(made, kind="png", scale=6, border=4)
    made.seek(0)
    out = io.BytesIO()
    with Image.open(made) as picture:
        picture.convert("RGB").rotate(turned, expand=True, fillcolor="white").save(out, "JPEG")
    out.seek(0)
    return out


@pytest.mark.parametrize("turned", [0, 90, 17])
def test_read_code_reads_a_photograph(turned: int) -> None:
    assert read_code(code_picture("26-0417-Z", turned=turned)) == "26-0417-Z"


def test_read_code_says_when_there_is_none() -> None:
    blank = io.BytesIO()
    Image.new("RGB", (200, 200), "white").save(blank, "PNG")
    blank.seek(0)
    with pytest.raises(Refusal) as none:
        read_code(blank)
    assert none.value.code == "no-code"
    with pytest.raises(Refusal) as broken:
        read_code(io.BytesIO(b"%PDF-1.4 nothing"))
    assert broken.value.code == "not-a-picture"
