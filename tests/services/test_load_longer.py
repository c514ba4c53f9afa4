"""A load held longer: its end, its timers and all that waits for it move in one submission."""

from __future__ import annotations

import io
from datetime import timedelta
from typing import Any

import pytest

from cases.models import Alert, BathRecord, Case, Event, Load, LoadExtension, Resin, Timer
from cases.selectors.loads import as_run
from cases.services.alarms import fire_due
from cases.services.bath_decision import decide_bath_record
from cases.services.bath_raw import take_in_file
from cases.services.bath_record import keep_bath_record
from cases.services.load_longer import hold_longer
from cases.services.load_run import shorten_wait, take_out
from cases.services.record import Refusal
from cases.services.verify_record import verify_record
from tests.bath_records import BEGAN, CUT, celsius, make_load, points_csv
from tests.factories import NOW, Shop, make_shop, rows
from tests.services.test_load import Bench, code_of, stage_of

pytestmark = pytest.mark.django_db

WHY = "The heater was slow. Oren"


@pytest.fixture
def shop() -> Shop:
    return make_shop()


@pytest.fixture
def bench(shop: Shop) -> Bench:
    """Two cases, and a resin whose maker lets a cycle be resumed."""
    made = Bench(shop)
    rows(lambda record: {"r": record.change(Resin.objects.get(), resumable=True)})
    return made


def longer(bench: Bench, load: Load, minutes: float = 45, **changes: Any) -> Load:
    load.refresh_from_db()
    body = {"load": load.number, "version": load.version, "minutes": minutes, "words": WHY}
    bench.do(hold_longer, **(body | changes))
    load.refresh_from_db()
    return load


def due(load: Load) -> dict[str, Any]:
    pending = Timer.objects.filter(load=load, state="pending")
    return dict(pending.values_list("kind", "due_at"))


def cooled_from(case: Case) -> Any:
    return stage_of(case, "cool").may_from


def test_end_timers_and_what_waits_in_every_case_move_together(bench: Bench) -> None:
    load = bench.started("short")
    assert load.ends_at
    assert load.open_from
    before, ends, opens = due(load), load.ends_at, load.open_from
    bench.now += timedelta(minutes=60)
    by = timedelta(minutes=45)

    longer(bench, load)

    assert (load.ends_at, load.open_from, load.more_minutes) == (ends + by, opens + by, 45)
    assert due(load) == {kind: at + by for kind, at in before.items() if kind != "heat"}
    assert [cooled_from(case) for case in bench.cases] == [ends + by] * 2
    assert [hold.minutes for hold in as_run(load).stages] == [165, 60]
    row = LoadExtension.objects.get()
    assert (row.stage, row.how, row.words, row.by) == (0, "longer", WHY, bench.shop.people["mara"])
    told = Event.objects.filter(kind="load.case-held-longer").values_list("case", flat=True)
    assert set(told) == {case.pk for case in bench.cases}
    assert verify_record() == []


def test_it_may_be_held_longer_twice(bench: Bench) -> None:
    load = bench.started()
    assert load.ends_at
    ends = load.ends_at

    longer(bench, load, 30)
    longer(bench, load, 15)

    assert (load.ends_at, load.more_minutes) == (ends + timedelta(minutes=45), 45)
    assert LoadExtension.objects.count() == 2
    assert verify_record() == []


def test_what_rang_and_is_no_longer_so_falls_silent_and_rings_anew(bench: Bench) -> None:
    load = bench.started()
    assert load.ends_at
    bench.now = load.ends_at + timedelta(minutes=10)
    fire_due(bench.now)

    longer(bench, load, 30)

    assert load.ends_at == bench.now + timedelta(minutes=30)
    alert = Alert.objects.get(timer__kind="take-out")
    assert (alert.acknowledged_at, alert.acknowledged_by) == (bench.now, None)
    assert due(load) == {"take-out": load.ends_at}
    assert code_of(lambda: bench.do(take_out, load=load.number, version=load.version)) == "waiting"
    fire_due(load.ends_at)
    assert Alert.objects.filter(timer__kind="take-out", acknowledged_at=None).count() == 1
    assert verify_record() == []


def test_flask_that_was_conceded_out_before_its_time_stays_so(bench: Bench) -> None:
    load = bench.started()
    early, other = bench.cases
    cool = stage_of(early, "cool")
    bench.now += timedelta(minutes=5)
    bench.do(shorten_wait, stage=cool.pk, version=cool.version, words="The bath leaks. Oren")
    conceded = cooled_from(early)

    longer(bench, load)

    assert cooled_from(early) == conceded
    assert cooled_from(other) == load.ends_at


@pytest.mark.parametrize("minutes", [0, -10, 0.5, 1441, float("nan")])
def test_no_minutes_and_absurd_ones_are_refused(bench: Bench, minutes: float) -> None:
    load = bench.started()
    ends = load.ends_at

    assert code_of(lambda: longer(bench, load, minutes)) == "bad-minutes"
    load.refresh_from_db()
    assert (load.ends_at, LoadExtension.objects.count()) == (ends, 0)


def test_resin_whose_maker_says_nothing_of_it_is_not_held_longer(bench: Bench) -> None:
    load = bench.started()
    rows(lambda record: {"r": record.change(Resin.objects.get(), resumable=False)})

    assert code_of(lambda: longer(bench, load)) == "no-extension"


def test_boil_is_not_made_up_by_minutes(bench: Bench) -> None:
    load = bench.started("short")
    bench.now += timedelta(minutes=200)

    assert code_of(lambda: longer(bench, load)) == "no-extension"


def test_load_that_is_out_or_not_yet_heated_is_not_held_longer(bench: Bench) -> None:
    begins = bench.now + timedelta(hours=3)
    load = bench.started(starts_at=begins.isoformat())
    early = code_of(lambda: longer(bench, load))
    assert load.ends_at
    bench.now = load.ends_at
    bench.do(take_out, load=load.number, version=load.version)

    assert (early, code_of(lambda: longer(bench, load))) == ("not-begun", "not-running")


def test_reason_rights_and_stale_pages(bench: Bench) -> None:
    load = bench.started()

    def as_person(who: str) -> str:
        body = {"load": load.number, "version": load.version, "minutes": 30, "words": WHY}
        return code_of(lambda: hold_longer(bench.shop.envelope(who, now=bench.now), **body))

    assert code_of(lambda: longer(bench, load, words="  ")) == "no-reason"
    assert (as_person("teo"), as_person("noor")) == ("may-not-decide", "not-allowed")
    assert code_of(lambda: longer(bench, load, version=load.version - 1)) == "load-changed"


# --- decided on a record ---------------------------------------------------------------------


def read(shop: Shop, points: list[tuple[int, float]], load: int = 7, **envelope: Any) -> BathRecord:
    made = keep_bath_record(
        shop.envelope("mara", **envelope), load=load,
        sha256=take_in_file(io.BytesIO(points_csv(points))),
        choice={"form": "iso", "columns": [0], "column": 1, "unit": "C"}, probe_at="bath",
        probe="A",
    )  # fmt: skip
    return BathRecord.objects.get(pk=made.result["record"])


def extend(shop: Shop, row: BathRecord, **changes: Any) -> None:
    body = {"row": row.pk, "decision": "extend", "words": "Two hours without power."}
    decide_bath_record(shop.envelope("oren"), **(body | changes))


def refused(run: Any) -> str:
    with pytest.raises(Refusal) as found:
        run()
    return found.value.code


def test_to_extend_on_a_record_moves_the_load(shop: Shop) -> None:
    load = make_load(shop, state="running")
    row = read(shop, CUT)
    more = row.verdict["stages"][0]["extend_minutes"]

    extend(shop, row)

    load.refresh_from_db()
    row.refresh_from_db()
    assert load.ends_at
    assert (load.ends_at - NOW) / timedelta(minutes=1) == pytest.approx(more, abs=1e-4)
    assert (row.decision, LoadExtension.objects.get().record) == ("extend", row)
    assert "take-out" in due(load)
    assert verify_record() == []


def test_person_says_how_long_and_from_when(shop: Shop) -> None:
    load = make_load(shop, state="running")
    hot = NOW + timedelta(minutes=20)

    extend(shop, read(shop, CUT), minutes=90, hot_at=hot.isoformat())

    load.refresh_from_db()
    assert load.ends_at == hot + timedelta(minutes=90)


@pytest.mark.parametrize(
    ("changes", "code"),
    [
        ({"minutes": 0}, "bad-minutes"), ({"minutes": 1e6}, "bad-minutes"),
        ({"hot_at": "at noon"}, "no-time"), ({"hot_at": "2026-02-31T10:00"}, "no-time"),
        ({"hot_at": (NOW + timedelta(days=2)).isoformat()}, "bad-time"),
        ({"hot_at": (NOW - timedelta(hours=9)).isoformat(), "minutes": 5}, "not-longer"),
    ],
)  # fmt: skip
def test_what_cannot_be_extended_decides_nothing(
    shop: Shop, changes: dict[str, Any], code: str
) -> None:
    load = make_load(shop, state="running")
    row = read(shop, CUT)

    assert refused(lambda: extend(shop, row, **changes)) == code
    row.refresh_from_db()
    load.refresh_from_db()
    assert (row.decision, load.more_minutes) == ("", 0)


def test_load_that_left_its_bath_is_not_extended(shop: Shop) -> None:
    load = make_load(shop, state="running")
    row = read(shop, CUT)
    rows(lambda record: {"load": record.change(load, state="over")})

    assert refused(lambda: extend(shop, row)) == "not-running"


def test_old_record_does_not_extend_a_stage_that_the_bath_has_left(shop: Shop) -> None:
    make_load(shop, short=True, state="running")
    row = read(shop, [(m, celsius(m)) for m in range(0, 60, 2)])

    assert refused(lambda: extend(shop, row)) == "read-again"
    assert BEGAN + timedelta(minutes=150) < NOW
