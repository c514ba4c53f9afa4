"""The record of a bath: judged like for like, kept whole or not at all, decided upon once."""

from __future__ import annotations

import io
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from cases.domain.cure.program import SHORT
from cases.domain.cure.samples import resampled
from cases.models import BathRecord, Lab, ProbeCheck
from cases.services.bath_decision import decide_bath_record
from cases.services.bath_raw import raw_of, take_in_file, take_in_typed
from cases.services.bath_record import keep_bath_record
from cases.services.record import Refusal
from cases.services.verify_record import verify_record
from tests.bath_records import (
    BEGAN,
    CUT,
    LAYOUTS,
    celsius,
    iso_csv,
    make_load,
    points_csv,
    stamp,
    table,
    typed,
    workbook,
)
from tests.factories import NOW, Shop, make_shop, rows

pytestmark = pytest.mark.django_db

ISO: dict[str, Any] = {"form": "iso", "columns": [0], "column": 1, "unit": "C"}


@pytest.fixture
def shop() -> Shop:
    return make_shop()


def keep(
    shop: Shop, data: bytes | str, load: int = 7, now: datetime = NOW, **changes: Any
) -> BathRecord:
    sha256 = take_in_typed(data) if isinstance(data, str) else take_in_file(io.BytesIO(data))
    body = {"choice": ISO, "probe_at": "bath", "probe": "A", **changes}
    made = keep_bath_record(shop.envelope("mara", now=now), load=load, sha256=sha256, **body)
    return BathRecord.objects.get(pk=made.result["record"])


def stage(row: BathRecord, number: int = 1) -> dict[str, Any]:
    found: dict[str, Any] = row.verdict["stages"][number - 1]
    return found


def codes(row: BathRecord) -> set[str]:
    return {flag["code"] for flag in row.verdict["flags"]}


def test_a_perfect_cycle_is_complete_and_all_is_kept(shop: Shop) -> None:
    make_load(shop)

    row = keep(shop, iso_csv())

    assert (row.verdict["verdict"], codes(row)) == ("complete", set())
    assert stage(row)["need"] == pytest.approx(480, rel=0.002)
    assert (row.model_version, row.verdict["kinetics"]) == ("cure-dose 6", "db")
    assert row.verdict["limits"]["complete"] == 0.98
    assert row.started.startswith("2026-12-08T22:30:00+01:00")
    raw = raw_of(row.sha256)
    assert raw is not None
    assert raw.data == iso_csv()
    assert verify_record() == []


def test_typed_readings_are_judged_like_a_file(shop: Shop) -> None:
    make_load(shop)
    clock = {"form": "clock", "columns": [0], "column": 1, "unit": "C"}

    row = keep(shop, typed(), choice={**clock, "began": "2026-12-08T00:00:00"})

    assert (row.how, row.verdict["verdict"]) == ("typed", "complete")
    assert row.started.startswith("2026-12-08T22:30")


def test_a_zone_in_words_is_reckoned_with_wherever_it_stands(shop: Shop) -> None:
    """The lab's wall is an hour ahead: read as its clock the record would be of another hour."""
    make_load(shop)
    utc = BEGAN.astimezone(UTC)
    cells = "{at:%H:%M}:00 UTC;{at:%d.%m.%Y};"
    data = table("Time;Date;T (C)", cells, "{c}", began=utc) + b"\nAverage;;70.0\n"

    row = keep(shop, data, choice={"form": "dmy+", "columns": [1, 0], "column": 2, "unit": "C"})

    assert row.started == "2026-12-08T21:30:00+00:00"
    assert (row.verdict["verdict"], row.verdict["skipped"]) == ("complete", 1)


def test_a_cut_is_offered_more_time_only_where_the_maker_allows_it(shop: Shop) -> None:
    make_load(shop, number=1, state="running")
    make_load(shop, number=2, state="running", resumable=False, bath="Bath 2")

    allowed = keep(shop, points_csv(CUT), load=1)
    refused = keep(shop, points_csv([(m, heat + 0.1) for m, heat in CUT]), load=2)

    assert allowed.verdict["verdict"] == refused.verdict["verdict"] == "repeat"
    assert stage(allowed)["extend_minutes"] > 200
    assert "makes up the heating time" in stage(allowed)["words"]
    assert stage(refused)["extend_minutes"] is None
    assert "makes up the heating time" not in stage(refused)["words"]


def test_no_more_time_is_spoken_of_once_the_load_is_out(shop: Shop) -> None:
    make_load(shop, state="over")

    row = keep(shop, points_csv(CUT))

    assert row.verdict["verdict"] == "repeat"
    assert stage(row)["extend_minutes"] is None
    assert stage(row)["words"].endswith(
        "The load is out of its bath, and what it lacks is not made up there any more: inspect the "
        "pieces closely, ask the resin's maker, and decide."
    )
    assert "min more" not in stage(row)["words"]
    assert "out of its bath" not in stage(keep(shop, iso_csv()))["words"]


def test_minutes_of_one_stage_never_make_up_for_another(shop: Shop) -> None:
    make_load(shop, short=True)
    boil = [(m, min(100.0, 23 + 2.6 * m)) for m in range(0, 300, 2)]

    row = keep(shop, points_csv(boil))

    assert stage(row, 2)["verdict"] == "complete"
    assert stage(row, 1)["verdict"] == "repeat"
    assert row.verdict["verdict"] == "repeat"


def test_a_boil_is_what_water_does_at_the_labs_altitude(shop: Shop) -> None:
    make_load(shop, short=True)
    lab = Lab.objects.get()
    rows(lambda record: {"lab": record.change(lab, altitude_m=1500)})
    cycle = [(m, min(74.0, 23 + 1.7 * m)) for m in range(0, 150, 2)]
    cycle += [(m, min(95.0, 74 + 0.7 * (m - 150))) for m in range(150, 250, 2)]

    row = keep(shop, points_csv(cycle))

    assert stage(row, 2)["celsius"] == pytest.approx(95.0, abs=0.3)
    assert row.verdict["verdict"] == "complete"
    assert row.verdict["altitude_m"] == 1500


def test_the_last_check_of_the_probe_is_taken_off(shop: Shop) -> None:
    load = make_load(shop)
    check = ProbeCheck.objects.get(bath=load.bath)
    rows(lambda record: {"check": record.change(check, reads_high_k=2.0)})

    row = keep(shop, iso_csv())

    assert stage(row)["got"] / stage(row)["need"] == pytest.approx(0.78, abs=0.02)
    assert row.verdict["probe"]["reads_high_k"] == 2.0


@pytest.mark.parametrize(("days", "high"), [(-1, 2.0), (0, 2.0), (1, 0.0), (6, 0.0)])
def test_a_later_check_of_the_probe_changes_no_earlier_record(
    shop: Shop, days: int, high: float
) -> None:
    """Only a check until the day of the heating says what the probe was worth then."""
    load = make_load(shop)
    rows(lambda record: {
        "check": record.create(
            ProbeCheck, bath=load.bath, probe="A", checked_on=BEGAN.date() + timedelta(days=days),
            reads_high_k=2.0, against="reference thermometer", by=shop.people["pavo"], at=NOW,
        )
    })  # fmt: skip

    row = keep(shop, iso_csv(), now=NOW + timedelta(days=8))

    assert row.verdict["probe"]["reads_high_k"] == high
    assert row.verdict["verdict"] == ("repeat" if high else "complete")
    assert codes(row) == set()


def test_a_probe_that_was_first_checked_afterwards_is_said_to_be(shop: Shop) -> None:
    load = make_load(shop)
    check = ProbeCheck.objects.get(bath=load.bath)
    after = BEGAN.date() + timedelta(days=6)
    rows(lambda record: {"check": record.change(check, checked_on=after, reads_high_k=0.1)})

    row = keep(shop, iso_csv(), now=NOW + timedelta(days=8))

    assert (row.verdict["probe"]["reads_high_k"], codes(row)) == (0.1, {"probe_check_later"})
    assert row.verdict["flags"][0]["doubts"] is False
    assert "first checked on 2026-12-14, after this load" in row.verdict["flags"][0]["words"]


@pytest.mark.parametrize(
    ("changes", "code"),
    [({"probe": ""}, "probe_unchecked"), ({"probe_at": "dummy"}, "probe_position")],
)
def test_what_is_not_known_of_the_probe_is_said(
    shop: Shop, changes: dict[str, Any], code: str
) -> None:
    make_load(shop)

    assert codes(keep(shop, iso_csv(), **changes)) == {code}


@pytest.mark.parametrize("when", [timedelta(days=-1), timedelta(days=2), timedelta(days=31)])
def test_a_record_of_another_day_is_refused(shop: Shop, when: timedelta) -> None:
    make_load(shop)

    with pytest.raises(Refusal, match="another day or another bath") as refused:
        keep(shop, iso_csv(BEGAN + when))

    assert refused.value.code == "another-time"
    assert not BathRecord.objects.exists()


def test_a_load_that_was_never_in_the_bath_has_no_record(shop: Shop) -> None:
    make_load(shop, state="gathering")

    with pytest.raises(Refusal, match="has not been in the bath"):
        keep(shop, iso_csv())


def test_elapsed_time_asks_when_it_began(shop: Shop) -> None:
    make_load(shop)
    elapsed = {"form": "s", "columns": [0], "column": 1, "unit": "C"}
    data = "Elapsed s,Probe (C)\n" + "\n".join(f"{m * 60},{celsius(m)}" for m in range(0, 515, 5))

    with pytest.raises(Refusal, match="on which day it began"):
        keep(shop, data.encode(), choice=elapsed)

    row = keep(shop, data.encode(), choice={**elapsed, "began": "2026-12-08T22:31:00"})
    assert row.verdict["program_at_s"] == -60


@pytest.mark.parametrize(
    ("points", "sentence"),
    [
        ([(0, 23.0), (10, 40.0), (5, 60.0), (20, 74.0)], "backwards at reading 3"),
        ([(0, 23.0), (200, 40.0), (5, 60.0), (20, 74.0)], "backwards at reading 3"),
        ([(0, 23.0), (10, 300.0), (20, 74.0)], "temperature that no bath has"),
    ],
    ids=["backwards", "far-back", "three-hundred"],
)
def test_what_no_bath_does_is_refused(
    shop: Shop, points: list[tuple[int, float]], sentence: str
) -> None:
    make_load(shop)

    with pytest.raises(Refusal, match=sentence):
        keep(shop, points_csv(points))

    assert not BathRecord.objects.exists()


def test_an_hour_back_is_read_once_a_person_says_so(shop: Shop) -> None:
    make_load(shop)
    points = [(m if m < 300 else m - 60, celsius(m)) for m in range(0, 515, 5)]

    with pytest.raises(Refusal, match="unless the clock was put back"):
        keep(shop, points_csv(points))

    row = keep(shop, points_csv(points), choice={**ISO, "clock_back": True})
    assert row.verdict["verdict"] == "complete"


FAHRENHEIT = [(m, round(celsius(m) * 1.8 + 32, 1)) for m in range(0, 515, 5)]


def test_what_is_hotter_than_water_gets_is_refused_until_it_is_read_as_fahrenheit(
    shop: Shop,
) -> None:
    make_load(shop)

    with pytest.raises(Refusal) as refused:
        keep(shop, points_csv(FAHRENHEIT))
    kept = BathRecord.objects.count()
    row = keep(shop, points_csv(FAHRENHEIT), choice={**ISO, "unit": "F"})

    assert (refused.value.code, refused.value.field, kept) == ("no-water-bath", "heat", 0)
    assert refused.value.sentence == (
        "Read like this the record goes above 130 °C, which no water bath does: choose the other "
        "unit or another column, or send the record of a probe that was in the bath."
    )
    assert (row.verdict["verdict"], codes(row)) == ("complete", set())


def test_just_over_what_a_bath_can_be_is_refused_and_just_under_is_not(shop: Shop) -> None:
    make_load(shop)
    over, under = (
        [(m, hottest if m in {300, 305} else celsius(m)) for m in range(0, 515, 5)]
        for hottest in (130.5, 129.5)
    )

    with pytest.raises(Refusal, match="no water bath does"):
        keep(shop, points_csv(over))

    # It is kept, and doubted: so hot no water is.
    assert codes(keep(shop, points_csv(under))) == {"too_hot"}


def test_what_the_probe_was_in_at_another_time_is_not_the_loads(shop: Shop) -> None:
    make_load(shop)
    before = [(m, 160.0) for m in range(-120, -60, 5)]

    row = keep(shop, points_csv(before + [(m, celsius(m)) for m in range(0, 515, 5)]))

    assert row.verdict["verdict"] == "complete"


def test_a_record_with_its_newest_row_first_is_judged_from_its_end(shop: Shop) -> None:
    make_load(shop)
    header, *lines = iso_csv().splitlines()

    row = keep(shop, b"\n".join([header, *reversed(lines)]))

    assert row.verdict["verdict"] == "complete"
    assert row.verdict["from_end"] is True
    assert row.started.startswith("2026-12-08T22:30:00+01:00")
    assert not keep(shop, iso_csv()).verdict["from_end"]


def test_heat_from_before_the_load_is_not_its_own(shop: Shop) -> None:
    """The file of a logger that never stops: last night's cure, then a cut after 100 minutes."""
    make_load(shop)
    earlier = [(m - 800, celsius(m)) for m in range(0, 515, 5)]
    this = [(m, celsius(m) if m < 100 else 23.0) for m in range(0, 515, 5)]

    row = keep(shop, points_csv(earlier + [(m, 23.0) for m in range(-285, 0, 5)] + this))

    assert row.verdict["verdict"] == "repeat"
    assert stage(row)["got"] == pytest.approx(75, abs=10)
    assert "outside" in codes(row)


def test_heat_after_the_flasks_were_out_is_not_theirs(shop: Shop) -> None:
    """The bath went on for the next load: what it gave that is credited to nobody of this one."""
    load = make_load(shop)
    rows(lambda record: {"load": record.change(load, ends_at=BEGAN + timedelta(minutes=200))})

    row = keep(shop, iso_csv())

    assert stage(row)["got"] == pytest.approx(173, abs=4)
    assert row.verdict["verdict"] == "repeat"
    assert "outside" in codes(row)


def test_readings_to_come_are_refused(shop: Shop) -> None:
    make_load(shop)

    with pytest.raises(Refusal, match="still to come") as refused:
        keep(shop, iso_csv(), now=BEGAN + timedelta(minutes=400))

    assert (refused.value.code, refused.value.field) == ("to-come", "time")
    assert not BathRecord.objects.exists()


def test_a_cure_that_runs_is_never_complete_nor_to_be_repeated(shop: Shop) -> None:
    make_load(shop, state="running")
    so_far = points_csv([(m, celsius(m)) for m in range(0, 305, 5)])

    row = keep(shop, so_far, now=BEGAN + timedelta(minutes=300))

    assert row.verdict["verdict"] == "doubtful"
    assert (stage(row)["verdict"], stage(row)["to_go"]) == ("doubtful", True)
    assert codes(row) == {"runs"}


def test_a_first_stage_that_is_made_up_does_not_end_a_program_that_runs(shop: Shop) -> None:
    load = make_load(shop, state="running")
    rows(lambda record: {"load": record.change(load, ends_at=BEGAN + timedelta(minutes=700))})

    row = keep(shop, iso_csv(), now=BEGAN + timedelta(minutes=520))

    assert (stage(row)["verdict"], stage(row)["to_go"]) == ("complete", False)
    assert row.verdict["verdict"] == "doubtful"


@pytest.mark.parametrize(
    ("minutes", "code"), [((20, 515), "begins_late"), ((0, 480), "ends_early")]
)
def test_a_record_that_leaves_a_part_out_is_doubted(
    shop: Shop, minutes: tuple[int, int], code: str
) -> None:
    make_load(shop)

    row = keep(shop, points_csv([(m, celsius(m)) for m in range(*minutes, 5)]))

    assert codes(row) == {code}
    assert row.verdict["verdict"] != "complete"


@pytest.mark.parametrize(
    ("moved", "expected"), [(-20, True), (-10, False), (45, False), (65, True)]
)
def test_a_course_that_is_not_the_programs_is_asked_about(
    shop: Shop, moved: int, expected: bool
) -> None:
    """Such a record is of another bath, or its clock is wrong: the same shape, another hour."""
    load = make_load(shop)
    rows(lambda record: {"load": record.change(load, ends_at=BEGAN + timedelta(minutes=600))})

    row = keep(shop, points_csv([(m, celsius(max(0, m - moved))) for m in range(-30, 605, 5)]))

    assert ("off_course" in codes(row)) is expected


def test_the_record_of_another_bath_is_refused_and_its_other_column_is_not(shop: Shop) -> None:
    make_load(shop)
    two = "time,Bath 1 C,Bath 2 C\n" + "\n".join(
        f"{stamp('{at:%Y-%m-%dT%H:%M}:00', m)},{celsius(m)},{celsius(m, 70.0)}"
        for m in range(0, 515, 5)
    )
    keep(shop, two.encode())
    other = make_load(shop, number=8, bath="Bath 2")

    with pytest.raises(Refusal, match="record of Bath 1") as refused:
        keep(shop, two.encode(), load=8)
    row = keep(shop, two.encode(), load=8, choice={**ISO, "column": 2})

    assert (refused.value.code, refused.value.field) == ("another-bath", "heat")
    assert (row.load, row.verdict["verdict"]) == (other, "repeat")


@pytest.mark.parametrize("how", ["line-ends", "workbook", "an-hour", "fahrenheit"])
def test_the_trace_of_another_bath_is_refused_in_whatever_file_it_comes(
    shop: Shop, how: str
) -> None:
    make_load(shop)
    keep(shop, iso_csv())
    make_load(shop, number=8, bath="Bath 2")
    choice = ISO
    if how == "fahrenheit":
        header, time, cell, comma, form = LAYOUTS["american"]
        data = table(header, time, cell, comma=comma)
        choice = {**ISO, "form": form, "unit": "F"}
    else:
        data = {
            "line-ends": iso_csv().replace(b"\n", b"\r\n"),
            "workbook": workbook(),
            "an-hour": b"\n".join(iso_csv().splitlines()[:14]),
        }[how]

    with pytest.raises(Refusal, match=r"are kept as the record of Bath 1 \(load 7\)"):
        keep(shop, data, load=8, choice=choice)

    assert BathRecord.objects.count() == 1


def test_two_baths_that_heat_alike_have_each_its_own_record(shop: Shop) -> None:
    make_load(shop)
    keep(shop, iso_csv())
    make_load(shop, number=8, bath="Bath 2")
    alike = [(m, celsius(m) + (0.1 if m % 50 else 0.0)) for m in range(0, 515, 5)]

    assert keep(shop, points_csv(alike), load=8).verdict["verdict"] == "complete"


def test_a_short_cycle_in_place_of_a_long_one_is_to_be_repeated(shop: Shop) -> None:
    make_load(shop)
    other = [(int(minute), round(heat, 1)) for minute, heat in resampled(SHORT.points(), 5)]

    row = keep(shop, points_csv(other))

    assert row.verdict["verdict"] == "repeat"
    assert row.decision == ""


def test_when_the_resin_sets_is_what_was_estimated_for_this_load(shop: Shop) -> None:
    """A bath that runs away after an hour: by then a thin piece has set, a slow mould has not."""
    load = make_load(shop)
    run_away = [(m, celsius(m) if m < 65 else min(90.0, 74.0 + m - 65)) for m in range(0, 515, 5)]
    rows(lambda record: {"load": record.change(load, sound={"setting_minute": [30.0, 50.0]})})
    before = keep(shop, points_csv(run_away))

    rows(lambda record: {"load": record.change(load, sound={"setting_minute": [60.0, 95.0]})})
    after = keep(shop, points_csv(run_away))

    assert "overheated" not in codes(before)
    assert "overheated" in codes(after)


def test_a_column_that_is_not_there_is_refused(shop: Shop) -> None:
    make_load(shop)

    with pytest.raises(Refusal, match="not in the file"):
        keep(shop, iso_csv(), choice={**ISO, "column": 9})


def test_a_long_record_is_thinned_for_drawing_and_judged_whole(shop: Shop) -> None:
    make_load(shop)
    lines = ["Elapsed s,Probe (C)"]
    lines += [f"{s},{99.0 if s in {20_001, 20_002} else celsius(s / 60)}" for s in range(30_700)]
    choice = {**ISO, "form": "s", "began": "2026-12-08T22:30:00"}

    row = keep(shop, "\n".join(lines).encode(), choice=choice)

    assert len(row.points) <= 600
    assert [20_001.0, 99.0] in row.points
    assert row.verdict["verdict"] == "complete"


def test_a_workbook_reads_like_a_table(shop: Shop) -> None:
    make_load(shop)

    row = keep(shop, workbook())

    assert row.verdict["verdict"] == "complete"
    assert row.started.startswith("2026-12-08T22:30")


def decide(shop: Shop, row: BathRecord, who: str = "oren", **body: Any) -> None:
    decide_bath_record(shop.envelope(who), row=row.pk, **body)


def test_a_decision_is_made_once_and_with_its_reason(shop: Shop) -> None:
    make_load(shop)
    row = keep(shop, points_csv(CUT))

    with pytest.raises(Refusal, match="Say why"):
        decide(shop, row, decision="accept")
    decide(shop, row, decision="repeat", words="The cut lasted two hours.")
    with pytest.raises(Refusal, match="decided already by Oren"):
        decide(shop, row, who="pavo", decision="scrap", words="No.")

    row.refresh_from_db()
    assert (row.decision, row.decided_by, row.decided_at) == ("repeat", shop.people["oren"], NOW)
    assert verify_record() == []


def test_a_complete_cure_is_accepted_without_words(shop: Shop) -> None:
    make_load(shop)
    row = keep(shop, iso_csv())

    decide(shop, row, decision="accept")

    row.refresh_from_db()
    assert row.decision == "accept"


@pytest.mark.parametrize(
    ("who", "decision", "code"),
    [
        ("teo", "accept", "may-not-decide"), ("noor", "accept", "not-allowed"),
        ("oren", "extend", "no-extension"), ("oren", "burn", "no-decision"),
    ],
)  # fmt: skip
def test_who_may_not_and_what_cannot_be_decided_is_refused(
    shop: Shop, who: str, decision: str, code: str
) -> None:
    make_load(shop)
    row = keep(shop, iso_csv())

    with pytest.raises(Refusal) as refused:
        decide(shop, row, who=who, decision=decision, words="Because.")

    assert refused.value.code == code


def test_another_reading_makes_another_row(shop: Shop) -> None:
    make_load(shop)
    first = keep(shop, iso_csv())
    kept = dict(first.verdict)

    second = keep(shop, points_csv(CUT))

    first.refresh_from_db()
    assert first.pk != second.pk
    assert first.verdict == kept
