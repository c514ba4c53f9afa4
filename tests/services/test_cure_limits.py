"""The limits of the cure: a manager's to change, with a reason, and only for what comes."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest

from cases.models import BathRecord, CureLimitsChange, CutLoad, Event, Lab, Load
from cases.selectors.cure_limits import cure_limits
from cases.services import load
from cases.services.cure_limits import change_cure_limits
from cases.services.record import Refusal
from cases.services.verify_record import verify_record
from tests.bath_records import celsius, make_load, points_csv
from tests.factories import NOW, Shop, make_shop
from tests.services.test_bath_record import keep
from tests.services.test_cut import Night
from tests.services.test_load import Bench, waxed

pytestmark = pytest.mark.django_db

WHY = "The maker asks for every minute."
NEARLY = points_csv([(m, celsius(m, top=73.8)) for m in range(0, 520, 2)])
"""The long cycle, a little too cool: 98.4 % of what it needs."""


@pytest.fixture
def shop() -> Shop:
    return make_shop()


def change(shop: Shop, who: str = "pavo", reason: str = WHY, **values: Any) -> None:
    envelope = shop.envelope(who, now=NOW + timedelta(minutes=1))
    change_cure_limits(envelope, values=values, reason=reason)


def test_a_change_keeps_the_old_and_the_new_value_with_the_reason(shop: Shop) -> None:
    change(shop, complete_percent=99.0, near_c=92.0)
    change(shop, reason="As it was.", near_c=95.0)

    assert cure_limits() == {"complete_percent": 99.0}
    assert Lab.objects.get().cure_limits == {"complete_percent": 99.0}
    events = Event.objects.filter(kind="lab.cure-limits-changed").order_by("pk")
    assert [(event.subject, event.facts) for event in events] == [
        (
            "complete_percent, near_c",
            {
                "was": {"complete_percent": 98.0, "near_c": 95.0},
                "now": {"complete_percent": 99.0, "near_c": 92.0},
            },
        ),
        ("near_c", {"was": {"near_c": 92.0}, "now": {"near_c": 95.0}}),
    ]
    kept = CureLimitsChange.objects.order_by("pk")
    assert [(row.before, row.after, row.reason, row.by.name) for row in kept] == [
        (
            {"complete_percent": 98.0, "near_c": 95.0},
            {"complete_percent": 99.0, "near_c": 92.0},
            WHY,
            shop.people["pavo"].name,
        ),
        ({"near_c": 92.0}, {"near_c": 95.0}, "As it was.", shop.people["pavo"].name),
    ]
    assert verify_record() == []


@pytest.mark.parametrize(
    ("values", "reason", "code", "field"),
    [
        ({"near_c": 120.0}, WHY, "bad-limit", "near_c"),
        ({"steam": 1.0}, WHY, "bad-limit", "steam"),
        ({"complete_percent": 91, "doubtful_percent": 91}, WHY, "bad-limit", "doubtful_percent"),
        ({"near_c": 92.0}, "  ", "no-reason", "reason"),
        ({"near_c": 95.0}, WHY, "nothing-set", ""),
        ({}, WHY, "nothing-set", ""),
    ],
)
def test_what_is_no_limit_or_has_no_reason_is_refused_beside_its_field(
    shop: Shop, values: dict[str, Any], reason: str, code: str, field: str
) -> None:
    with pytest.raises(Refusal) as refused:
        change(shop, reason=reason, **values)

    assert (refused.value.code, refused.value.field) == (code, field)
    assert Lab.objects.get().cure_limits == {}
    assert not CureLimitsChange.objects.exists()


@pytest.mark.parametrize("who", ["mara", "noor", "lind"])
def test_only_a_manager_changes_limits(shop: Shop, who: str) -> None:
    with pytest.raises(Refusal):
        change(shop, who, near_c=92.0)

    assert cure_limits() == {}


def test_a_new_record_is_judged_by_the_new_limits_and_the_old_verdict_stays(shop: Shop) -> None:
    make_load(shop)
    old = keep(shop, NEARLY)

    change(shop, complete_percent=99.0)
    new = keep(shop, NEARLY)

    assert (old.verdict["verdict"], new.verdict["verdict"]) == ("complete", "doubtful")
    assert new.verdict["limits"]["complete"] == 0.99
    kept = BathRecord.objects.get(pk=old.pk).verdict
    assert (kept["verdict"], kept["limits"]["complete"]) == ("complete", 0.98)
    assert verify_record() == []


def test_an_old_check_of_the_probe_counts_as_long_as_the_lab_says(shop: Shop) -> None:
    make_load(shop)
    change(shop, probe_check_days=30)

    flags = keep(shop, NEARLY).verdict["flags"]

    assert [flag["code"] for flag in flags] == ["probe_check_old"]


def test_a_new_estimate_goes_by_the_new_limits_and_the_old_one_stays() -> None:
    bench = Bench(make_shop(), cases=1)
    first = bench.new("long")
    waxed(first.flasks.get(), 11.0)
    bench.do(load.estimate, load=first.number, version=first.version)
    kept = Load.objects.get().sound

    change(bench.shop, near_c=85.0, bath_at_setting_c=75.0, gypsum_mm=10.0)
    stays = Load.objects.get()
    bench.do(load.estimate, load=stays.number, version=stays.version)
    second = Load.objects.get().sound

    assert stays.sound == kept
    assert (kept["risk"], second["risk"]) == ("low", "some")
    assert second["limits"] == {"boils_c": 100.5, "near_c": 85.0, "bath_at_setting_c": 75.0}
    assert (kept["filling"]["gypsum_mm"], second["filling"]["gypsum_mm"]) == (20.0, 10.0)
    assert verify_record() == []


def test_an_estimate_that_cannot_be_made_keeps_its_limits_too() -> None:
    bench = Bench(make_shop(), cases=1)
    row = bench.new("long", thick=None)
    waxed(row.flasks.get(), None)

    bench.do(load.estimate, load=row.number, version=row.version)

    sound = Load.objects.get().sound
    assert (sound["risk"], sound["limits"]["near_c"]) == ("none", 95.0)


def test_a_cut_is_judged_by_the_limits_of_the_lab_and_keeps_them() -> None:
    night = Night("long")
    night.off = night.began + timedelta(minutes=30 + 468)
    night.on = night.off + timedelta(minutes=2)
    night.now = night.on + timedelta(minutes=1)
    usual = night.found(celsius=73.0)

    change(night.bench.shop, complete_percent=100.0)
    strict = night.found(celsius=73.0)
    night.decide("as-is", loads=[night.entry(0, "as-is")])

    assert [usual.stages[0]["state"], strict.stages[0]["state"]] == ["complete", "stopped"]
    assert CutLoad.objects.get().says["limits"]["complete"] == 1.0
    assert verify_record() == []
