"""The lag of a bath: fitted to a run, kept with it, and used where like is held against like."""

from __future__ import annotations

import io
from datetime import date
from typing import Any

import pytest

from cases.domain.cure.lag import lagged
from cases.domain.cure.program import LONG, SHORT
from cases.models import Bath, BathRecord, LagRun
from cases.selectors.cure_settings import lag_runs
from cases.services.bath_raw import raw_of, take_in_file
from cases.services.bath_record import keep_bath_record
from cases.services.lag import calibrate, take_in_run, take_in_typed_run
from cases.services.record import Outcome, Refusal
from cases.services.verify_record import verify_record
from tests.bath_records import make_load, points_csv
from tests.factories import Shop, make_shop
from tests.lag_runs import CONFIRMED, one_csv, run_csv, typed_run

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop() -> Shop:
    return make_shop()


def bath_1() -> Bath:
    return Bath.objects.get(name="Bath 1")


def keep(shop: Shop, sha256: str, **changes: Any) -> Outcome:
    return calibrate(
        shop.envelope("pavo"), bath=bath_1().pk, sha256=sha256, **{**CONFIRMED, **changes}
    )


def refused(run: Any) -> tuple[str, str]:
    with pytest.raises(Refusal) as refusal:
        run()
    return refusal.value.code, refusal.value.sentence


@pytest.mark.parametrize("lag", [6.0, 14.5, 33.0])
@pytest.mark.parametrize("gap", [False, True])
def test_lag_of_one_table_is_kept_with_the_bath(shop: Shop, lag: float, gap: bool) -> None:
    table = run_csv(lag, gap=gap)

    keep(shop, take_in_run(io.BytesIO(table)))

    run, bath = LagRun.objects.get(), bath_1()
    assert run.minutes == pytest.approx(lag, rel=0.01)
    assert bath.lag_minutes == pytest.approx(lag, rel=0.01)
    assert (bath.lag_on, run.ran_on) == (date(2026, 12, 7), date(2026, 12, 7))
    assert (run.by.name, run.model_version) == ("Pavo", "lag-first-order 1")
    raw = raw_of(run.sha256)
    assert raw is not None
    assert raw.data == table
    assert verify_record() == []


def test_two_files_are_put_side_by_side_by_their_clocks(shop: Shop) -> None:
    bath = take_in_run(io.BytesIO(one_csv()))
    flask = take_in_run(io.BytesIO(one_csv(lag=18.0, late=7)))
    choice = {"form": "dmy", "columns": [0], "column": 1, "unit": "C"}

    keep(shop, bath, flask_sha256=flask, choice=choice, flask_choice=choice)

    assert LagRun.objects.get().minutes == pytest.approx(18.0, rel=0.02)


def test_typed_run_is_read_like_a_table(shop: Shop) -> None:
    sha256 = take_in_typed_run(typed_run(12.0))
    clock = {"form": "clock", "columns": [0], "unit": "C"}

    keep(
        shop, sha256, how="typed",
        choice={**clock, "column": 1}, flask_choice={**clock, "column": 2},
    )  # fmt: skip

    assert LagRun.objects.get().minutes == pytest.approx(12.0, rel=0.03)


def test_later_run_is_the_one_in_use_and_earlier_ones_stay(shop: Shop) -> None:
    keep(shop, take_in_run(io.BytesIO(run_csv(12.0))))
    keep(shop, take_in_run(io.BytesIO(run_csv(20.0))))

    assert bath_1().lag_minutes == pytest.approx(20.0, rel=0.01)
    assert LagRun.objects.count() == 2
    assert verify_record() == []


def test_older_run_that_is_entered_afterwards_does_not_replace_a_newer_one(shop: Shop) -> None:
    keep(shop, take_in_run(io.BytesIO(run_csv(12.0))))
    older = keep(shop, take_in_run(io.BytesIO(run_csv(20.0))), ran_on="2026-11-02")

    bath = bath_1()
    assert bath.lag_minutes == pytest.approx(12.0, rel=0.01)
    assert bath.lag_on == date(2026, 12, 7)
    assert older.result["in_use"] is False
    assert [run.ran_on for run in lag_runs(bath)] == [date(2026, 12, 7), date(2026, 11, 2)]
    assert verify_record() == []


@pytest.mark.parametrize(
    ("changes", "code"),
    [
        ({"flask_choice": CONFIRMED["choice"]}, "no-lag"),
        ({"choice": CONFIRMED["flask_choice"], "flask_choice": CONFIRMED["choice"]}, "no-lag"),
        ({"flask_choice": {**CONFIRMED["flask_choice"], "column": 9}}, "no-record"),
        ({"ran_on": "2026-12-11"}, "day-ahead"),
        ({"ran_on": "soon"}, "bad-day"),
        ({"flask_sha256": "0" * 64}, "no-raw"),
    ],
)
def test_what_shows_no_lag_changes_nothing(shop: Shop, changes: dict[str, Any], code: str) -> None:
    sha256 = take_in_run(io.BytesIO(run_csv(12.0)))

    assert refused(lambda: keep(shop, sha256, **changes))[0] == code
    assert bath_1().lag_minutes is None
    assert not LagRun.objects.exists()


def test_typed_line_that_is_none_is_named() -> None:
    code, sentence = refused(lambda: take_in_typed_run("22:30 23 23\n22:40 40"))

    assert code == "no-record"
    assert "Line 2" in sentence


# Like for like ---------------------------------------------------------------------------------

ISO = {"form": "iso", "columns": [0], "column": 1, "unit": "C"}


def record_of(shop: Shop, points: list[tuple[int, float]], probe_at: str) -> BathRecord:
    sha256 = take_in_file(io.BytesIO(points_csv(points)))
    made = keep_bath_record(
        shop.envelope("mara"), load=7, sha256=sha256, choice=ISO, probe_at=probe_at, probe="A"
    )
    return BathRecord.objects.get(pk=made.result["record"])


def felt(program: Any, lag: float) -> list[tuple[int, float]]:
    """Return what a probe in a flask reads while the program runs as it should."""
    return [(round(minute), round(celsius, 1)) for minute, celsius in lagged(program.points(), lag)]


def codes(row: BathRecord) -> set[str]:
    return {flag["code"] for flag in row.verdict["flags"]}


def test_probe_in_a_flask_is_held_against_the_program_as_a_flask_gets_it(shop: Shop) -> None:
    make_load(shop)
    before = record_of(shop, felt(LONG, 15.0), "dummy")
    keep(shop, take_in_run(io.BytesIO(run_csv(15.0))))

    after = record_of(shop, felt(LONG, 15.0), "dummy")

    assert (before.verdict["verdict"], codes(before)) == ("doubtful", {"probe_position"})
    assert (after.verdict["verdict"], codes(after)) == ("complete", set())
    assert after.verdict["lag_minutes"] == pytest.approx(15.0, rel=0.01)
    assert before.verdict["lag_minutes"] is None


def test_flask_that_got_too_little_is_not_excused_by_the_lag(shop: Shop) -> None:
    make_load(shop)
    keep(shop, take_in_run(io.BytesIO(run_csv(15.0))))
    cold = [(m, min(c, 66.0)) for m, c in felt(LONG, 15.0)]

    assert record_of(shop, cold, "flask").verdict["verdict"] == "repeat"


def test_probe_in_the_bath_is_judged_without_the_lag(shop: Shop) -> None:
    make_load(shop)
    bath = [(round(m), c) for m, c in LONG.points()]
    points = [(m, min(74.0, 23 + 1.7 * m)) for m in range(0, bath[-1][0] + 1, 5)]
    without = record_of(shop, points, "bath")
    keep(shop, take_in_run(io.BytesIO(run_csv(15.0))))

    with_lag = record_of(shop, points, "bath")

    assert with_lag.verdict["stages"] == without.verdict["stages"]
    assert with_lag.verdict["lag_minutes"] is None


def test_boil_too_short_to_reach_a_flask_is_judged_with_its_doubt(shop: Shop) -> None:
    make_load(shop, short=True)
    keep(shop, take_in_run(io.BytesIO(run_csv(33.0))))

    row = record_of(shop, felt(SHORT, 33.0), "flask")

    assert row.verdict["lag_minutes"] is None
    assert "probe_position" in codes(row)
