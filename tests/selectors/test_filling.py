"""What a load is reckoned with: the mix that was entered, the maker's, or the usual one."""

from __future__ import annotations

import pytest

from cases.domain.cure.overheating import SCENARIOS, USUAL
from cases.models import CheckItem, Load
from cases.services import load
from cases.services.verify_record import verify_record
from tests.factories import make_shop, rows
from tests.services.test_load import Bench

pytestmark = pytest.mark.django_db


@pytest.fixture
def bench() -> Bench:
    return Bench(make_shop())


def mixed(bench: Bench, which: int, powder: float | None, liquid: float = 10.0) -> None:
    """Let the mix of a case be another one, or none."""
    item = CheckItem.objects.get(case=bench.cases[which], number=40)
    told = {**item.values["values"], "powder": powder, "liquid": liquid}
    told = {key: number for key, number in told.items() if number is not None}
    rows(lambda record: {"item": record.change(item, values={**item.values, "values": told})})


def resin(bench: Bench, **fields: object) -> None:
    rows(lambda record: {"resin": record.change(bench.made["long"].resin, **fields)})


def estimated(bench: Bench) -> Load:
    row = bench.new("long", thick=6.0)
    bench.do(load.estimate, load=row.number, version=row.version)
    return Load.objects.get(number=row.number)


def test_the_wettest_mix_of_the_flasks_decides(bench: Bench) -> None:
    mixed(bench, 0, 24.0)
    mixed(bench, 1, 20.0)

    row = estimated(bench)

    assert row.sound["filling"]["powder_liquid_g_ml"] == 2.0
    assert row.sound["ratio_from"] == "mixed"


def test_the_makers_middle_stands_for_a_mix_that_nobody_entered(bench: Bench) -> None:
    resin(bench, ratio_low=2.0, ratio_high=2.4)
    mixed(bench, 0, 24.0)
    mixed(bench, 1, None)

    row = estimated(bench)

    assert row.sound["filling"]["powder_liquid_g_ml"] == 2.2
    assert row.sound["ratio_from"] == "maker"


def test_the_usual_mix_stands_where_no_maker_states_one(bench: Bench) -> None:
    mixed(bench, 0, None)
    mixed(bench, 1, None)

    row = estimated(bench)

    assert row.sound["filling"]["powder_liquid_g_ml"] == USUAL.powder_liquid_g_ml
    assert row.sound["ratio_from"] == "usual"


def test_more_peroxide_and_a_wetter_mix_make_more_heat(bench: Bench) -> None:
    row = estimated(bench)
    usual = row.sound

    resin(bench, bpo_percent=1.2)
    bench.do(load.estimate, load=row.number, version=row.version)
    row = Load.objects.get()
    more = row.sound
    for which in (0, 1):
        mixed(bench, which, 17.0)
    bench.do(load.estimate, load=row.number, version=row.version)
    wetter = Load.objects.get().sound

    assert more["filling"]["bpo_percent"] == 1.2
    assert more["setting_minute"][0] < usual["setting_minute"][0]
    assert wetter["live_c"][1] > more["live_c"][1]


def test_a_mix_outside_the_range_of_the_estimate_is_refused_with_the_reason(bench: Bench) -> None:
    mixed(bench, 0, 10.0)

    row = estimated(bench)

    assert row.sound["risk"] == "none"
    assert "powder to liquid ratio of 1 g/mL is outside the range" in row.sound["reason"]


def test_everything_that_went_in_is_kept_with_the_load(bench: Bench) -> None:
    kept = estimated(bench).sound

    assert kept["filling"]["gypsum_mm"] == USUAL.gypsum_mm
    assert kept["start_c"] == 23.0
    assert len(kept["scenarios"]) == len(SCENARIOS)
    assert verify_record() == []
