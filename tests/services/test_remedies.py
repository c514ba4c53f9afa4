"""What would lower the risk of a load: wanted by its estimate, reckoned by the clock, kept once."""

from __future__ import annotations

import pytest

from cases.domain.cure.program import Hold, Program, as_json
from cases.models import CureProgram, Event, Load
from cases.services import load
from cases.services.record import Envelope, Recorder, Refusal
from cases.services.remedies import WANTED, keep_remedies, reckon_wanted
from cases.services.verify_record import verify_record
from tests.factories import NOW, Shop, make_shop, rows
from tests.services.test_load import Bench, waxed

pytestmark = pytest.mark.django_db
FAST = Program("Fast", (Hold(100.0, 60.0, ramp_minutes=30.0, boil=True),), "leaflet")


@pytest.fixture
def shop() -> Shop:
    return make_shop()


def warned(shop: Shop, *, thick: float = 12.0, cases: int = 1) -> tuple[Bench, Load]:
    """Return a load whose program is too fast for its first flask, estimated."""
    bench = Bench(shop, cases=cases)

    def make(record: Recorder) -> dict[str, object]:
        return {
            "fast": record.create(
                CureProgram, resin=bench.made["long"].resin, name="Fast", version=1,
                document=as_json(FAST), saved_at=NOW,
            )
        }  # fmt: skip

    bench.made |= rows(make)
    row = bench.new("fast")
    waxed(row.flasks.order_by("pk")[0], thick)
    bench.do(load.estimate, load=row.number, version=row.version)
    return bench, Load.objects.get()


def test_an_estimate_that_warns_wants_them(shop: Shop) -> None:
    _bench, row = warned(shop)

    assert row.sound["risk"] == "high"
    assert row.sound["remedies"] == WANTED
    assert row.sound["thicknesses"] == [12.0]


def test_a_sound_program_wants_none(shop: Shop) -> None:
    bench = Bench(shop, cases=1)
    row = bench.new("long")

    bench.do(load.estimate, load=row.number, version=row.version)

    assert Load.objects.get().sound["risk"] == "low"
    assert "remedies" not in Load.objects.get().sound
    assert reckon_wanted(bench.now) == 0


def test_the_clock_reckons_them_once_and_the_page_stays_good(shop: Shop) -> None:
    bench, row = warned(shop)

    assert reckon_wanted(bench.now) == 1
    assert reckon_wanted(bench.now) == 0

    kept = Load.objects.get()
    assert kept.version == row.version
    assert [one["kind"] for one in kept.sound["remedies"]] == ["ramp", "hold", "gypsum"]
    assert kept.sound["risk"] == row.sound["risk"]
    assert Event.objects.filter(kind="load.remedies").count() == 1
    assert verify_record() == []


def test_a_load_changed_meanwhile_keeps_nothing_of_an_older_estimate(shop: Shop) -> None:
    bench, row = warned(shop)
    flask = row.flasks.get()
    bench.do(load.remove_flask, load=row.number, version=row.version, flask=flask.pk)

    with pytest.raises(Refusal) as refused:
        keep_remedies(Envelope("clock", bench.now), load=row.number, at=row.sound["at"], found=[])

    assert refused.value.code == "other-estimate"
    assert Load.objects.get().sound == {}
    assert reckon_wanted(bench.now) == 0


def test_only_the_clock_reckons(shop: Shop) -> None:
    _bench, row = warned(shop)

    with pytest.raises(Refusal) as refused:
        keep_remedies(shop.envelope("mara", now=NOW), load=row.number, at=row.sound["at"], found=[])

    assert refused.value.code == "not-allowed"
