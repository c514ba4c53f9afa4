"""The moves at the feeds: bound, opened, ended; a bath that cools; a trace; a lag measured."""

from __future__ import annotations

import io
from datetime import timedelta

from cases.domain.cure.feed import Sample
from cases.models import Bath, BathFeed, Load
from cases.services import feed_in, feed_watch, feeds, load, load_run
from cases.services.bath_raw import take_in_trace
from cases.services.lag import calibrate, take_in_run
from cases.services.record import VERBS
from tests.lag_runs import CONFIRMED, run_csv
from tests.machine.driver import Driver
from tests.machine.load_moves import a_program
from tests.machine.registry import move

DIGEST = "5" * 63


@move(1)
def feed(m: Driver) -> None:
    """Bind a bath to a file, open it to a token, or end its feed, sensible or not."""
    bath = m.one(list(Bath.objects.order_by("pk")))
    running = BathFeed.objects.filter(bath=bath, ended_at=None).first()
    if running is not None and m.pick.random() < 0.5:
        m.send(feeds.end_feed, m.who("pavo"), feed=running.pk)
    elif m.pick.random() < 0.5:
        name = m.pick.choice(["bath-1.csv", "bath-2.csv", "../bath.csv"])
        m.send(feeds.bind_file, m.who("pavo"), bath=bath.pk, file_name=name)
    else:
        digest = f"{m.pick.getrandbits(256):064x}"
        m.send(VERBS["feed.open"], m.who("pavo"), bath=bath.pk, probe="A", digest=digest)


@move(1)
def lag(m: Driver) -> None:
    """Measure the lag of a bath; a run with one column twice shows none."""
    bath = m.one(list(Bath.objects.order_by("pk")))
    run = take_in_run(io.BytesIO(run_csv(lag=m.pick.choice([8.0, 15.0]))))
    flask = m.pick.choice([CONFIRMED["flask_choice"], CONFIRMED["choice"]])
    known = {**CONFIRMED, "flask_choice": flask}
    m.send(calibrate, m.who("pavo"), bath=bath.pk, sha256=run, **known)


def bath_is_fed(m: Driver) -> None:
    """A bath gets one feed after the other, cools during a load, and its trace is put down."""
    bath, program, case = Bath.objects.order_by("pk")[0], a_program(), m.case()
    if case is None:
        raise AssertionError("the lab has no case")
    bound = m.send(feeds.bind_file, "pavo", bath=bath.pk, file_name="bath-1.csv")
    m.send(feeds.bind_file, "pavo", bath=bath.pk, file_name="bath-2.csv")
    m.send(VERBS["feed.open"], "pavo", bath=bath.pk, probe="A", digest=f"{DIGEST}0")
    for _ in range(2):
        m.send(feeds.end_feed, "pavo", feed=bound["feed"])
    m.send(VERBS["feed.open"], "pavo", bath=bath.pk, probe="A", digest=f"{DIGEST}1")
    clamp = case.stages.get(key="cure")
    m.now = max(m.now, clamp.may_from or m.now) + timedelta(minutes=1)
    m.send(load.make_load, "mara", bath=bath.pk, program=program.pk)
    row = Load.objects.get()
    for verb, body in (
        (load.add_flask, {"label": case.number, "thickest_mm": 4.0}),
        (load.estimate, {}),
        (load_run.start_load, {"rest_words": "it is late"}),
    ):
        row.refresh_from_db()
        m.send(verb, "mara", load=row.number, version=row.version, **body)
    row.refresh_from_db()
    _cools(m, row)


def _cools(m: Driver, row: Load) -> None:
    begins, ends = row.starts_at, row.ends_at
    if begins is None or ends is None:
        raise AssertionError("the load was not started")
    told = [(begins + timedelta(minutes=5 * n), 40.0 - n) for n in range(4)]
    feed_in.take_in(BathFeed.objects.get(ended_at=None), [Sample(*one) for one in told])
    m.now = told[-1][0]
    for kind in ("leaking", "not-rising"):
        m.send(feed_watch.raise_feed_alarm, None, door="clock", load=row.number, kind=kind, stage=0)
    m.now = max(m.now, ends)
    offered = {
        "load": row.number, "sha256": take_in_trace(told), "readings": len(told),
        "first_at": told[0][0].isoformat(), "last_at": told[-1][0].isoformat(),
    }  # fmt: skip
    m.send(feed_watch.offer_trace, None, door="clock", **offered)
    m.send(load_run.take_out, "mara", load=row.number, version=row.version)
    for _ in range(2):
        m.send(feed_watch.offer_trace, None, door="clock", **offered)
    run = take_in_run(io.BytesIO(run_csv(lag=15.0)))
    for flask in (CONFIRMED["choice"], CONFIRMED["flask_choice"]):
        known = {**CONFIRMED, "flask_choice": flask}
        m.send(calibrate, "pavo", bath=row.bath_id, sha256=run, **known)
