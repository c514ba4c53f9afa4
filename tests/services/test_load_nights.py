"""Loads over the nights in which the clock changes, and over a night in which nobody watched."""

from __future__ import annotations

import html
import io
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest
import time_machine
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from django.utils.html import strip_tags

from cases.domain.cure.program import LONG, as_json
from cases.models import (
    Alert,
    Bath,
    BathFeed,
    BathRecord,
    Case,
    CureProgram,
    Load,
    LoadTrace,
    Resin,
    Timer,
)
from cases.services import feeds, load, load_run
from cases.services.alarms import fire_due, ring
from cases.services.bath_raw import take_in_file
from cases.services.bath_record import keep_bath_record
from cases.services.record import Recorder
from cases.services.verify_record import verify_record
from cases.tasks import feeds as feeds_task
from cases.tasks import sweep
from tests.factories import Shop, make_case, make_shop, rows
from tests.walk import Clock, walk

pytestmark = pytest.mark.django_db

WALL = ZoneInfo("Europe/Vienna")
NIGHTS = {
    # Day before, hours of the wall's clock between 22:30 and 22:30 + 510 min, and the end on it.
    "back": (datetime(2026, 10, 24, 22, 30, tzinfo=WALL), "06:00"),
    "forward": (datetime(2027, 3, 27, 22, 30, tzinfo=WALL), "08:00"),
    "plain": (datetime(2026, 12, 8, 22, 30, tzinfo=WALL), "07:00"),
}
MINUTES = LONG.bath_minutes
"""The long cycle: half an hour up, eight hours at 74 °C."""


class Night:
    """A lab whose one flask goes into the bath at half past ten in the evening."""

    def __init__(self, began: datetime, *, cases: bool = True) -> None:
        self.began = began.astimezone(UTC)
        self.shop: Shop = make_shop(self.began - timedelta(days=20))
        if cases:
            self._log()

        def make(record: Recorder) -> dict[str, Any]:
            resin = record.create(Resin, name="Rosewater 3", resumable=True)
            program = record.create(
                CureProgram, resin=resin, name="long", version=1, document=as_json(LONG),
                saved_at=self.began,
            )  # fmt: skip
            return {"program": program}

        self.program = rows(make)["program"]
        self.bath = Bath.objects.get(name="Bath 1")
        self.now = self.began

    def _log(self) -> None:
        self.case = self.packed()

    def packed(self, **more: Any) -> Case:
        """Return a case whose flask waits for a bath."""
        start = self.began - timedelta(days=5)
        away = (start + timedelta(days=30)).date()
        case = make_case(self.shop, now=start, ordered_on=start.date(), appointment_on=away, **more)
        walk(self.shop, case, Clock(start), until="clamp")
        return case

    def cured(self) -> Load:
        """Return a load that has run over the night, of flasks that do not matter."""
        ends = self.began + timedelta(minutes=MINUTES)
        self.now = ends

        def make(record: Recorder) -> dict[str, Any]:
            row = record.create(
                Load, number=1, bath=self.bath, program=self.program, state="over",
                made_at=self.began, placed_at=self.began, starts_at=self.began, ends_at=ends,
            )  # fmt: skip
            return {"load": row}

        found: Load = rows(make)["load"]
        return found

    def do(self, verb: Any, **body: Any) -> dict[str, Any]:
        result: dict[str, Any] = verb(self.shop.envelope("mara", now=self.now), **body).result
        return result

    def cures(
        self, starts_at: str = "", *, case: Case | None = None, bath: Bath | None = None
    ) -> Load:
        """Put a flask into a bath; the lab's own one, where no other is named."""
        made = self.do(load.make_load, bath=(bath or self.bath).pk, program=self.program.pk)
        known, version = {"load": made["number"]}, 1
        for verb, body in (
            (load.add_flask, {"label": (case or self.case).number, "thickest_mm": 4.0}),
            (load.estimate, {}),
            (load_run.start_load, {"starts_at": starts_at}),
        ):
            version = self.do(verb, version=version, **known, **body)["version"]
        return Load.objects.get(number=made["number"])

    def client(self) -> Client:
        found = Client()
        user = self.shop.people["mara"].user
        assert user is not None
        found.force_login(user)
        return found


@pytest.mark.parametrize("night", NIGHTS)
def test_cure_lasts_its_minutes_whatever_the_wall_says(night: str) -> None:
    began, ends = NIGHTS[night]
    lab = Night(began)

    row = lab.cures()

    assert row.starts_at
    assert row.ends_at
    assert row.ends_at - row.starts_at == timedelta(minutes=MINUTES)
    assert f"{row.ends_at.astimezone(WALL):%H:%M}" == ends
    take_out = Timer.objects.get(load=row, kind="take-out")
    assert take_out.due_at == row.ends_at
    assert lab.case.stages.get(key="cool").may_from == row.ends_at
    with time_machine.travel(row.starts_at + timedelta(hours=4), tick=False):
        page = strip_tags(lab.client().get(reverse("cases:load", args=[row.number])).content)
        wall = strip_tags(lab.client().get(reverse("cases:wall")).content)
    assert f"Sun {ends}" in page or night == "plain"
    assert f"Take out at {ends}" in wall
    # Not a minute earlier, and not an hour later.
    assert fire_due(row.ends_at - timedelta(minutes=1)) == 0
    fire_due(row.ends_at)
    assert Alert.objects.filter(timer=take_out).count() == 1
    assert verify_record() == []


@pytest.mark.parametrize(
    ("night", "typed", "starts"),
    [
        # 02:30 comes twice: the first one is meant. 02:30 that is left out is 03:30.
        ("back", "2026-10-25T02:30", datetime(2026, 10, 25, 0, 30, tzinfo=UTC)),
        ("back", "2026-10-25T03:30", datetime(2026, 10, 25, 2, 30, tzinfo=UTC)),
        ("forward", "2027-03-28T01:30", datetime(2027, 3, 28, 0, 30, tzinfo=UTC)),
        ("forward", "2027-03-28T03:30", datetime(2027, 3, 28, 1, 30, tzinfo=UTC)),
    ],
)
def test_heat_that_begins_later_begins_at_the_walls_time(
    night: str, typed: str, starts: datetime
) -> None:
    lab = Night(NIGHTS[night][0])

    with timezone.override(WALL):
        row = lab.cures(starts_at=typed)

    assert row.starts_at == starts
    assert row.ends_at == starts + timedelta(minutes=MINUTES)


def logged(row: Load, zone: ZoneInfo | None = WALL, every: int = 5) -> bytes:
    """Return the perfect cycle as a logger writes it on the wall's clock, or in UTC."""
    lines = ["time,bath °C"]
    assert row.starts_at
    for minute in range(0, round(MINUTES) + 1, every):
        at = (row.starts_at + timedelta(minutes=minute)).astimezone(zone or UTC)
        stamp = f"{at:%Y-%m-%d %H:%M:%S}" if zone else f"{at:%Y-%m-%dT%H:%M:%SZ}"
        lines.append(f"{stamp},{min(74.0, 23 + 1.7 * minute):.1f}")
    return ("\n".join(lines) + "\n").encode()


@pytest.mark.parametrize("night", NIGHTS)
@pytest.mark.parametrize("zone", [WALL, None], ids=["wall", "utc"])
def test_record_over_the_night_is_judged_complete(night: str, zone: ZoneInfo | None) -> None:
    lab = Night(NIGHTS[night][0], cases=False)
    row = lab.cured()
    choice: dict[str, Any] = {"form": "iso", "columns": [0], "column": 1, "unit": "C"}

    kept = lab.do(
        keep_bath_record,
        load=row.number,
        sha256=take_in_file(io.BytesIO(logged(row, zone))),
        choice={**choice, "clock_back": night == "back" and zone is not None},
        probe_at="bath",
    )

    record = BathRecord.objects.get(pk=kept["record"])
    verdict = record.verdict
    codes = {flag["code"] for flag in verdict["flags"]} - {"probe_unchecked"}
    assert (verdict["verdict"], codes) == ("complete", set())
    # The same bath gave the same, whatever the clock on the wall did.
    assert verdict["stages"][0]["got"] == pytest.approx(484.5, abs=0.1)
    assert verdict["hour_left_out"] is (night == "forward" and zone is not None)
    with time_machine.travel(lab.now, tick=False):
        page = lab.client().get(reverse("cases:bath-record", args=[row.number, record.pk]))
    assert ("the clock went forward that night" in page.content.decode()) is verdict[
        "hour_left_out"
    ]


@pytest.mark.parametrize(
    ("offset", "left_out"),
    [(None, True), (timedelta(hours=1), False)],
    ids=["wall", "winter-time"],
)
def test_hour_that_spring_leaves_out_is_credited_to_nobody(
    offset: timedelta | None, left_out: bool
) -> None:
    """The bath was switched off for the last hour: the hour that never was does not make it up."""
    lab = Night(NIGHTS["forward"][0], cases=False)
    row = lab.cured()
    assert row.starts_at
    lines = ["time,bath °C"]
    for minute in range(0, round(MINUTES) + 1, 5):
        at = (row.starts_at + timedelta(minutes=minute)).astimezone(
            timezone.get_fixed_timezone(offset) if offset else WALL
        )
        heat = min(74.0, 23 + 1.7 * minute) if minute < MINUTES - 90 else 40.0
        lines.append(f"{at:%Y-%m-%d %H:%M:%S},{heat:.1f}")

    kept = lab.do(
        keep_bath_record,
        load=row.number,
        sha256=take_in_file(io.BytesIO("\n".join(lines).encode())),
        choice={"form": "iso", "columns": [0], "column": 1, "unit": "C"},
        probe_at="bath",
    )

    verdict = BathRecord.objects.get(pk=kept["record"]).verdict
    assert (verdict["verdict"], verdict["hour_left_out"]) == ("repeat", left_out)
    assert verdict["stages"][0]["got"] == pytest.approx(390, abs=5)


@pytest.mark.parametrize("night", NIGHTS)
def test_live_feed_on_the_walls_clock_knows_the_nights(
    night: str, settings: Any, tmp_path: Path
) -> None:
    settings.FEED_DIR = tmp_path
    lab = Night(NIGHTS[night][0])
    feeds.bind_file(lab.shop.envelope("pavo", now=lab.now), bath=lab.bath.pk, file_name="b.csv")
    row = lab.cures()
    assert row.ends_at
    lines = logged(row).decode().splitlines(keepends=True)
    for n in range(2, len(lines) + 1, 12):
        (tmp_path / "b.csv").write_text("".join(lines[:n]))
        with time_machine.travel(row.starts_at + timedelta(minutes=5 * n - 5), tick=False):
            feeds_task()
    (tmp_path / "b.csv").write_text("".join(lines))
    with time_machine.travel(row.ends_at, tick=False):
        feeds_task()
    lab.now = row.ends_at
    lab.do(load_run.take_out, load=row.number, version=row.version)
    with time_machine.travel(row.ends_at + timedelta(minutes=1), tick=False):
        feeds_task()

    trace = LoadTrace.objects.get()
    assert trace.last_at - trace.first_at == timedelta(minutes=MINUTES // 5 * 5)
    assert BathFeed.objects.get().trouble == ""
    # The bath was well all night: nothing rang but the end.
    assert not Timer.objects.filter(kind__in=["not-rising", "dropping", "silent"]).exists()


def test_server_asleep_over_the_end_tells_it_once_and_every_load_is_judged(
    settings: Any, tmp_path: Path
) -> None:
    settings.FEED_DIR = tmp_path
    lab = Night(NIGHTS["plain"][0])
    second = rows(lambda record: {"bath": record.create(Bath, name="Bath 9", capacity=4)})["bath"]
    other = lab.packed(ref="Z-9")
    for bath in (lab.bath, second):
        feeds.bind_file(
            lab.shop.envelope("pavo", now=lab.now), bath=bath.pk, file_name=f"{bath.pk}.csv"
        )
    first = lab.cures()
    lab.now += timedelta(minutes=2)
    loads = [first, lab.cures(case=other, bath=second)]
    ends = [row.ends_at for row in loads if row.ends_at]
    assert len(set(ends)) == 2
    with time_machine.travel(lab.now + timedelta(minutes=1), tick=False):
        assert sweep()["fired"] == 0
        feeds_task()
        awake = lab.client().get(reverse("cases:wall")).content.decode()
    # The machine sleeps from here until ten in the morning; the loggers do not.
    for row in loads:
        (tmp_path / f"{row.bath_id}.csv").write_bytes(logged(row))
    woken = max(ends) + timedelta(hours=3)
    went_by = Timer.objects.filter(state="pending", due_at__lte=woken).count()
    with time_machine.travel(woken, tick=False):
        client = lab.client()
        stale = client.get(reverse("cases:wall")).content.decode()
        fired = sweep()["fired"]
        read = feeds_task()
        alarms = client.get(reverse("cases:alarms"), headers={"HX-Request": "true"})
        again = sweep()["fired"]
    lab.now = woken
    for row in loads:
        lab.do(load_run.take_out, load=row.number, version=row.version)
    with time_machine.travel(woken + timedelta(minutes=11), tick=False):
        offered = feeds_task()["traces"]

    # Awake nothing is said of a standstill; asleep it is, on a page that nobody's clock swept.
    since = f"{loads[1].placed_at.astimezone(WALL) + timedelta(minutes=1):%H:%M}"
    assert "clock has stood still" not in awake
    assert f"clock has stood still since {since}" in html.unescape(stale)
    assert went_by >= len(loads)
    assert (fired, again) == (went_by, 0)
    assert read["new"] == sum(len(logged(row).splitlines()) - 1 for row in loads)
    assert read["rung"] == 0
    # One summary of all that went by, with both loads in it, and no banner beside it.
    shown = alarms.content.decode()
    assert shown.count('class="banner banner-alarm') == 1
    assert f"clock stood still: {went_by} waits and limits went by. Look at each." in shown
    assert "Bath 1" in shown
    assert "Bath 9" in shown
    assert offered == len(loads)
    choice = {"form": "iso", "columns": [0], "column": 1, "unit": "C"}
    for row in loads:
        trace = LoadTrace.objects.get(load=row)
        kept = lab.do(
            keep_bath_record, load=row.number, sha256=trace.sha256, choice=choice, probe_at="bath"
        )
        record = BathRecord.objects.get(pk=kept["record"])
        assert (record.load, record.verdict["verdict"]) == (row, "complete")
    assert {one.stages.get(key="cool").state for one in (lab.case, other)} == {"done"}
    # Nothing that went by in the sleep rings a second time.
    ring(woken)
    assert Alert.objects.filter(timer__kind="take-out").count() == len(loads)
    assert verify_record() == []
