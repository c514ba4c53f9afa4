"""Live temperatures of a bath: bound, read as they grow, watched, and put down with the load."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from cases.domain.cure.feed import Sample
from cases.models import (
    Alert,
    Bath,
    BathFeed,
    BathRecord,
    BathSample,
    Delivery,
    Event,
    Load,
    LoadTrace,
    ProbeCheck,
    Submission,
    Timer,
)
from cases.services import feed_in, feed_watch, feeds, load_run
from cases.services.alarms import RING_AGAIN, acknowledge, alarm_words, ring
from cases.services.bath_raw import raw_of
from cases.services.bath_record import keep_bath_record
from cases.services.record import Outcome, Recorder, Refusal
from cases.services.verify_record import verify_record
from cases.tasks import feeds as feeds_task
from tests.factories import NOW, Shop, make_shop, rows
from tests.services.test_load import Bench

pytestmark = pytest.mark.django_db

HEAD = "time,bath °C\n"


@pytest.fixture
def shop() -> Shop:
    return make_shop()


@pytest.fixture
def folder(settings: Any, tmp_path: Path) -> Path:
    settings.FEED_DIR = tmp_path / "feed"
    settings.FEED_DIR.mkdir()
    found: Path = settings.FEED_DIR
    return found


def bind(shop: Shop, bath: Bath, **body: Any) -> Outcome:
    said = {"file_name": "bath-1.csv", **body}
    return feeds.bind_file(shop.envelope("pavo"), bath=bath.pk, **said)


def bath_1() -> Bath:
    return Bath.objects.get(name="Bath 1")


def line(at: datetime, celsius: float) -> str:
    """Return a row as a logger on the lab's wall writes it (Vienna, in winter)."""
    return f"{at + timedelta(hours=1):%Y-%m-%d %H:%M:%S},{celsius:.1f}\n"


def told() -> list[float]:
    return list(BathSample.objects.order_by("slot").values_list("celsius", flat=True))


def minute(n: float) -> datetime:
    return NOW + timedelta(minutes=n)


# Setting up ----------------------------------------------------------------------------------


def test_file_is_bound_once_and_ended_once(shop: Shop) -> None:
    bath = bath_1()
    feed = bind(shop, bath).result["feed"]

    again = refused(lambda: bind(shop, bath, file_name="other.csv"))
    feeds.end_feed(shop.envelope("pavo"), feed=feed)
    ended = refused(lambda: feeds.end_feed(shop.envelope("pavo"), feed=feed))
    bind(shop, bath)

    assert (again, ended) == ("has-feed", "no-feed")
    assert BathFeed.objects.filter(ended_at=None).count() == 1
    assert verify_record() == []


@pytest.mark.parametrize("name", ["../secret.csv", "a/b.csv", "", "..", ".hidden", "a\\b.csv"])
def test_file_is_a_plain_name(shop: Shop, name: str) -> None:
    assert refused(lambda: bind(shop, bath_1(), file_name=name)) == "bad-file"


def test_one_file_is_of_one_bath(shop: Shop) -> None:
    other = rows(lambda record: {"bath": record.create(Bath, name="Bath 2", capacity=4)})["bath"]
    bind(shop, bath_1())

    assert refused(lambda: bind(shop, other)) == "file-taken"


def test_only_a_manager_sets_a_feed_up(shop: Shop) -> None:
    code = refused(
        lambda: feeds.bind_file(shop.envelope("mara"), bath=bath_1().pk, file_name="a.csv")
    )

    assert code == "not-allowed"


def test_token_opens_its_bath_until_it_is_revoked_and_is_kept_nowhere(shop: Shop) -> None:
    envelope = shop.envelope("pavo")
    outcome, token = feeds.open_to_token(envelope, bath=bath_1().pk)
    feed = BathFeed.objects.get()

    opened = feed_in.feed_of(token)
    other = feed_in.feed_of(token[:-1] + ("0" if token[-1] != "0" else "1"))
    kept = "".join(
        [str(list(Submission.objects.values())), str(list(Event.objects.values()))]
    )  # fmt: skip
    feeds.end_feed(shop.envelope("pavo"), feed=feed.pk)

    assert (opened, other) == (feed, None)
    assert len(token) == 64
    assert token not in kept + str(BathFeed.objects.values())
    assert feed_in.feed_of(token) is None
    # The same form sent twice shows the same token.
    assert feeds.open_to_token(envelope, bath=bath_1().pk) == (
        Outcome(outcome.result, True, outcome.submission_id), token,
    )  # fmt: skip
    assert verify_record() == []


def refused(run: Any) -> str:
    with pytest.raises(Refusal) as refusal:
        run()
    return refusal.value.code


# A file that grows ---------------------------------------------------------------------------


def test_rows_come_in_as_the_file_grows_and_a_half_written_line_waits(
    shop: Shop, folder: Path
) -> None:
    bind(shop, bath_1())
    file = folder / "bath-1.csv"
    file.write_text(HEAD + line(minute(-3), 71.0) + line(minute(-2), 72.0))
    first = feed_in.read_files(NOW)
    with file.open("a") as more:
        more.write(line(minute(-1), 73.0) + line(NOW, 74.0)[:-4])
    second, half = feed_in.read_files(NOW), told()
    with file.open("a") as more:
        more.write(line(NOW, 74.0)[-4:])
    third = feed_in.read_files(NOW)

    assert (first, second, third) == (2, 1, 1)
    assert half == [71.0, 72.0, 73.0]
    assert told() == [71.0, 72.0, 73.0, 74.0]
    feed = BathFeed.objects.get()
    assert (feed.last_at, feed.last_celsius, feed.trouble) == (NOW, 74.0, "")
    assert feed_in.read_files(NOW) == 0
    assert verify_record() == []


def test_file_that_is_begun_anew_is_read_from_its_beginning(shop: Shop, folder: Path) -> None:
    bind(shop, bath_1())
    file = folder / "bath-1.csv"
    file.write_text(HEAD + "".join(line(minute(-9 + n), 60.0 + n) for n in range(5)))
    feed_in.read_files(NOW)
    # Rotated: another file of another layout, and as long as the first.
    other = "at;T (°C)\n" + "".join(
        f"{minute(n):%Y-%m-%dT%H:%M:%SZ};{65 + n / 2:.1f}\n".replace(".", ",") for n in range(-4, 3)
    )
    file.write_text(other)
    rotated = feed_in.read_files(NOW + timedelta(minutes=3))
    # Truncated and written on, shorter than before.
    file.write_text(HEAD + line(minute(3), 70.0) + line(minute(4), 70.5))
    truncated = feed_in.read_files(NOW + timedelta(minutes=5))

    assert (rotated, truncated) == (7, 2)
    assert told()[-3:] == [66.0, 70.0, 70.5]
    assert BathFeed.objects.get().trouble == ""


def test_bad_row_is_told_and_costs_nothing_else(shop: Shop, folder: Path) -> None:
    bind(shop, bath_1())
    file = folder / "bath-1.csv"
    file.write_text("Logger 7 of 2026\n" + HEAD + line(minute(-3), 71.0) + line(minute(-2), 72.0))
    feed_in.read_files(NOW)
    quiet = BathFeed.objects.get().trouble
    with file.open("a") as more:
        more.write("2026-12-09 10:41:00,probe off\n" + line(NOW, 74.0))

    feed_in.read_files(NOW)

    assert quiet == ""
    assert told() == [71.0, 72.0, 74.0]
    assert "probe off" in BathFeed.objects.get().trouble


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"\xff\xfet\x00i\x00m\x00e\x00\n\x00", "no plain text"),
        (b"\x89PNG\r\n\x1a\n\x00\x00\n", "no plain text"),
        (b"hello\nworld\n", "No columns"),
        (b"at;T (C)\n09.12.2026 10:40;71\n09.12.2026 10:41;72\n", "two ways"),
    ],
)
def test_what_is_no_table_is_said_at_the_feed(
    shop: Shop, folder: Path, content: bytes, words: str
) -> None:
    bind(shop, bath_1())
    (folder / "bath-1.csv").write_bytes(content)

    assert feed_in.read_files(NOW) == 0
    assert words in BathFeed.objects.get().trouble
    assert told() == []


def test_missing_file_folder_and_link_are_said_and_keep_no_other_feed_from_being_read(
    shop: Shop, folder: Path
) -> None:
    names = ["missing.csv", "folder.csv", "link.csv", "good.csv"]

    def make(record: Recorder) -> dict[str, Any]:
        return {name: record.create(Bath, name=name, capacity=2) for name in names}

    for name, bath in rows(make).items():
        bind(shop, bath, file_name=name)
    (folder / "folder.csv").mkdir()
    secret = folder.parent / "secret.csv"
    secret.write_text(HEAD + line(minute(-2), 50.0) + line(minute(-1), 51.0))
    (folder / "link.csv").symlink_to(secret)
    (folder / "good.csv").write_text(HEAD + line(minute(-2), 70.0) + line(minute(-1), 71.0))

    feed_in.read_files(NOW)

    said = {feed.file_name: feed.trouble for feed in BathFeed.objects.all()}
    assert told() == [70.0, 71.0]
    assert "no file" in said["missing.csv"]
    assert "cannot be read" in said["folder.csv"]
    assert "cannot be read" in said["link.csv"]
    assert said["good.csv"] == ""


def test_large_file_is_read_turn_by_turn(
    shop: Shop, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(feed_in, "MOST_AT_ONCE", 100)
    bind(shop, bath_1())
    text = HEAD + "".join(line(minute(-20 + n), 60.0 + n / 2) for n in range(20))
    (folder / "bath-1.csv").write_text(text)

    turns = [feed_in.read_files(NOW) for _ in range(8)]

    assert sum(turns) == 20
    assert max(turns) == 4
    assert turns[-1] == 0


# Samples -------------------------------------------------------------------------------------


def take(bath: Bath, samples: Sequence[tuple[datetime, float]]) -> feed_in.TakenIn:
    feed = BathFeed.objects.get(bath=bath, ended_at=None)
    return feed_in.take_in(feed, [Sample(at, celsius) for at, celsius in samples])


def test_same_rows_again_change_nothing_and_too_many_are_thinned(shop: Shop) -> None:
    bind(shop, bath_1())
    seconds = [(NOW + timedelta(seconds=n), 70 + n / 100) for n in range(60)]

    first, again = take(bath_1(), seconds), take(bath_1(), seconds[15:40])

    # One in ten seconds; 09:42:00 begins a slot.
    assert (first, again) == (feed_in.TakenIn(6, 54), feed_in.TakenIn(0, 25))
    assert told() == [70.0, 70.1, 70.2, 70.3, 70.4, 70.5]
    assert BathFeed.objects.get().last_celsius == pytest.approx(70.59)


def test_late_rows_do_not_become_the_last_temperature(shop: Shop) -> None:
    bind(shop, bath_1())
    take(bath_1(), [(NOW, 74.0)])

    take(bath_1(), [(minute(-30), 60.0)])

    assert BathFeed.objects.get().last_celsius == 74.0


def test_samples_leave_no_event_and_go_after_two_weeks(shop: Shop) -> None:
    bind(shop, bath_1())
    before = Event.objects.count(), Submission.objects.count()

    take(bath_1(), [(NOW, 74.0), (minute(1), 74.1)])
    kept = feed_in.drop_old(NOW + timedelta(days=13))
    dropped = feed_in.drop_old(NOW + timedelta(days=15))

    assert (Event.objects.count(), Submission.objects.count()) == before
    assert (kept, dropped) == (0, 2)


# A load that is watched ------------------------------------------------------------------------


class Watched(Bench):
    """A load in a bath with a feed that tells one temperature a minute."""

    def __init__(self, shop: Shop) -> None:
        super().__init__(shop, cases=1)
        self.bath = self.made["bath"]
        feeds.open_to_token(shop.envelope("pavo"), bath=self.bath.pk, probe="A")
        self.load = self.started()
        assert self.load.starts_at
        self.begins = self.load.starts_at

    def at(self, minutes: float) -> datetime:
        return self.begins + timedelta(minutes=minutes)

    def heats(self, until: int, since: int = 0) -> None:
        """Let the feed tell the course of the long program."""
        take(
            self.bath,
            [(self.at(n), round(min(74.0, 23 + 1.7 * n), 1)) for n in range(since, until + 1)],
        )

    def falls(self, since: int, readings: int) -> None:
        take(self.bath, [(self.at(since + n), 74.0 - n) for n in range(1, readings + 1)])


def test_bath_that_stops_heating_rings_at_the_second_reading_and_is_named(shop: Shop) -> None:
    bench = Watched(shop)
    bench.heats(200)
    well = feed_watch.watch_feeds(bench.at(200))
    bench.falls(200, 1)
    one = feed_watch.watch_feeds(bench.at(201))
    bench.falls(200, 2)

    two = feed_watch.watch_feeds(bench.at(202))

    assert (well, one, two) == (0, 0, 1)
    alert = Alert.objects.get(acknowledged_at=None, timer__kind="dropping")
    assert alert.timer.load == bench.load
    for word in ("Load 1", "Cauldron", "74 °C", "heater", "fuse"):
        assert word in alert.words
    assert alarm_words(alert.timer) == alert.words
    assert verify_record() == []


def test_alarm_of_a_bath_rings_on_until_somebody_hears_it_and_is_raised_once(shop: Shop) -> None:
    bench = Watched(shop)
    bench.heats(200)
    bench.falls(200, 6)
    feed_watch.watch_feeds(bench.at(202))
    ring(bench.at(202))
    later = bench.at(202) + RING_AGAIN

    again = feed_watch.watch_feeds(later)
    ring(later)
    rung = Delivery.objects.get(alert__timer__kind="dropping").times
    alert = Alert.objects.get(timer__kind="dropping")
    acknowledge(shop.envelope("mara", now=later), alert=alert.pk)

    assert (again, rung) == (0, 2)
    # Heard, and the trouble is still the same: it is not raised anew.
    assert feed_watch.watch_feeds(bench.at(206)) == 0
    assert Timer.objects.filter(kind="dropping").count() == 1


def test_what_is_wrong_with_a_bath_stays_with_its_feed_until_it_is_well(shop: Shop) -> None:
    bench = Watched(shop)

    def fault(minute: int) -> str:
        feed_watch.watch_feeds(bench.at(minute))
        return BathFeed.objects.get().fault

    bench.heats(200)
    well = fault(200)
    bench.falls(200, 3)
    falls = fault(203)
    acknowledge(shop.envelope("mara", now=bench.at(204)), alert=Alert.objects.latest("pk").pk)
    heard = fault(203)
    silent = fault(208)
    bench.heats(230, since=206)
    heats = fault(230)
    bench.falls(230, 2)
    assert (well, falls, heard, silent, heats) == ("", "dropping", "dropping", "silent", "")
    assert fault(232) == "dropping"
    bench.now = bench.load.ends_at or bench.at(232)
    bench.do(load_run.take_out, load=bench.load.number, version=bench.load.version)

    feed_watch.watch_feeds(bench.now)

    assert BathFeed.objects.get().fault == ""
    assert verify_record() == []


def test_bath_that_fails_again_rings_again(shop: Shop) -> None:
    bench = Watched(shop)
    bench.heats(200)
    bench.falls(200, 3)
    feed_watch.watch_feeds(bench.at(203))
    alert = Alert.objects.get(timer__kind="dropping")
    acknowledge(shop.envelope("mara", now=bench.at(204)), alert=alert.pk)
    bench.heats(230, since=206)
    well = feed_watch.watch_feeds(bench.at(230))
    bench.falls(230, 2)

    assert (well, feed_watch.watch_feeds(bench.at(232))) == (0, 1)


def test_feed_that_falls_silent_is_told(shop: Shop) -> None:
    bench = Watched(shop)
    bench.heats(60)

    assert feed_watch.watch_feeds(bench.at(62)) == 0
    assert feed_watch.watch_feeds(bench.at(64)) == 1
    assert "no temperature comes in" in Alert.objects.get(timer__kind="silent").words


def test_feed_set_up_during_a_load_is_given_time_to_tell_something(shop: Shop) -> None:
    bench = Watched(shop)
    feed = BathFeed.objects.get()
    rows(lambda record: {"feed": record.change(feed, made_at=bench.at(60))})

    assert feed_watch.watch_feeds(bench.at(69)) == 0
    assert feed_watch.watch_feeds(bench.at(70)) == 1


def test_offset_of_the_probe_is_taken_off(shop: Shop) -> None:
    bench = Watched(shop)

    def check(record: Recorder) -> dict[str, Any]:
        made = record.create(
            ProbeCheck, bath=bench.bath, probe="A", checked_on=NOW.date(), reads_high_k=3.0,
            against="glass thermometer", by=shop.people["pavo"], at=NOW,
        )  # fmt: skip
        return {"check": made}

    rows(check)
    bench.heats(60)

    # What reads 74 is 71, and does not rise: three kelvin short of the program.
    found = feed_watch.look(bench.load, bench.at(60))

    assert found is not None
    assert found.kind == "not-rising"
    # A check of a later day says nothing of this load.
    rows(lambda record: {
        "late": record.create(
            ProbeCheck, bath=bench.bath, probe="A", reads_high_k=0.0,
            checked_on=NOW.date() + timedelta(days=1), against="glass thermometer",
            by=shop.people["pavo"], at=NOW,
        )
    })  # fmt: skip
    assert feed_watch.look(bench.load, bench.at(60)) == found


def test_load_taken_out_is_watched_no_more_and_its_alarm_is_still(shop: Shop) -> None:
    bench = Watched(shop)
    bench.heats(200)
    bench.falls(200, 2)
    feed_watch.watch_feeds(bench.at(202))
    assert bench.load.ends_at
    bench.now = bench.load.ends_at

    bench.do(load_run.take_out, load=bench.load.number, version=bench.load.version)

    assert not Alert.objects.filter(timer__kind="dropping", acknowledged_at=None).exists()
    assert feed_watch.watch_feeds(bench.now) == 0


def test_only_the_clock_looks_at_feeds(shop: Shop) -> None:
    bench = Watched(shop)
    asked = shop.envelope

    assert refused(
        lambda: feed_watch.raise_feed_alarm(
            asked("pavo"), load=bench.load.number, kind="dropping", stage=0
        )
    ) == "not-allowed"  # fmt: skip
    assert refused(
        lambda: feed_watch.offer_trace(
            asked("pavo"), load=bench.load.number, sha256="0" * 64, readings=2,
            first_at=NOW.isoformat(), last_at=NOW.isoformat(),
        )
    ) == "not-allowed"  # fmt: skip


# The trace of a load that is over ----------------------------------------------------------------


def test_trace_of_a_load_is_put_down_and_confirmed_like_a_file(shop: Shop) -> None:
    bench = Watched(shop)
    bench.heats(550)
    assert bench.load.ends_at
    bench.now = bench.load.ends_at + timedelta(minutes=5)
    early = feed_watch.offer_traces(bench.now)
    bench.do(load_run.take_out, load=bench.load.number, version=bench.load.version)

    made = feed_watch.offer_traces(bench.now)
    again = feed_watch.offer_traces(bench.now + timedelta(minutes=1))

    trace = LoadTrace.objects.get()
    assert (early, made, again) == (0, 1, 0)
    assert trace.readings == round((bench.now - bench.begins) / timedelta(minutes=1)) + 1
    assert trace.probe == "A"
    raw = raw_of(trace.sha256)
    assert raw is not None
    assert raw.how == "feed"
    kept = keep_bath_record(
        shop.envelope("mara", now=bench.now),
        load=bench.load.number,
        sha256=trace.sha256,
        choice={"form": "iso", "columns": [0], "column": 1, "unit": "C"},
        probe_at="bath",
        probe="A",
    )
    row = BathRecord.objects.get(pk=kept.result["record"])
    assert (row.how, row.verdict["verdict"]) == ("feed", "complete")
    assert datetime.fromisoformat(row.started) == bench.begins
    assert verify_record() == []


def test_late_rows_of_a_feed_are_waited_for(shop: Shop) -> None:
    bench = Watched(shop)
    bench.heats(300)
    assert bench.load.ends_at
    bench.now = bench.load.ends_at
    bench.do(load_run.take_out, load=bench.load.number, version=bench.load.version)

    at_once = feed_watch.offer_traces(bench.now + timedelta(minutes=9))
    later = feed_watch.offer_traces(bench.now + timedelta(minutes=10))

    assert (at_once, later) == (0, 1)


def test_task_does_all_of_it_and_is_harmless_twice(shop: Shop, folder: Path) -> None:
    bind(shop, bath_1())
    now = datetime.now(UTC)
    (folder / "bath-1.csv").write_text(
        "at,T (C)\n"
        + "".join(f"{now - timedelta(minutes=n):%Y-%m-%dT%H:%M:%SZ},70\n" for n in (2, 1))
    )

    assert feeds_task() == {"new": 2, "rung": 0, "traces": 0}
    assert feeds_task() == {"new": 0, "rung": 0, "traces": 0}


def test_load_without_a_feed_has_neither_alarm_nor_trace(shop: Shop) -> None:
    bench = Bench(shop, cases=1)
    row: Load = bench.started()
    assert row.ends_at
    bench.now = row.ends_at

    assert feed_watch.watch_feeds(bench.now - timedelta(minutes=30)) == 0
    bench.do(load_run.take_out, load=row.number, version=row.version)
    assert feed_watch.offer_traces(bench.now + timedelta(hours=1)) == 0
