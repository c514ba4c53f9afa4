"""Two workers at once, as processes of their own: each alarm is raised once, each row kept once."""

from __future__ import annotations

import os
import subprocess
import sys
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings

from cases.domain.cure.program import LONG, as_json
from cases.models import (
    Alert,
    Bath,
    BathSample,
    CureProgram,
    Delivery,
    Event,
    Load,
    Resin,
    Timer,
)
from cases.services import feeds
from cases.services.record import Recorder
from cases.services.verify_record import verify_record
from tests.factories import NOW, make_shop, rows
from tests.services.test_killed_worker import address

pytestmark = pytest.mark.django_db(transaction=True)

TIMERS, ROWS = 30, 200
WORKER = """
import sys
from datetime import datetime
import django
django.setup()
from cases.services.alarms import fire_due, ring
from cases.services.feed_in import read_files
from cases.services.feed_watch import watch_feeds
now = datetime.fromisoformat(sys.argv[1])
print("ready", flush=True)
sys.stdin.readline()
new = read_files(now)
rung = watch_feeds(now)
fired = fire_due(now)
ring(now)
print(new, rung, fired, flush=True)
"""


def of_a_load() -> Load:
    """Return a load in a bath whose feed has fallen, with many timers that are due."""
    shop = make_shop()
    bath = Bath.objects.get(name="Bath 1")

    def make(record: Recorder) -> dict[str, Any]:
        resin = record.create(Resin, name="Rosewater 3")
        program = record.create(
            CureProgram, resin=resin, name="long", version=1, document=as_json(LONG), saved_at=NOW
        )
        begins = NOW - timedelta(minutes=ROWS)
        load = record.create(
            Load, number=1, bath=bath, program=program, state="running", made_at=begins,
            placed_at=begins, starts_at=begins, ends_at=begins + timedelta(hours=9),
        )  # fmt: skip
        for step in range(TIMERS):
            record.create(Timer, load=load, kind="boil", step=step, due_at=NOW)
        return {"load": load}

    found: Load = rows(make)["load"]
    feeds.bind_file(shop.envelope("pavo"), bath=bath.pk, file_name="bath-1.csv")
    return found


def write(folder: Path, load: Load) -> None:
    assert load.starts_at
    lines = ["at,T (C)"]
    for minute in range(ROWS):
        celsius = min(74.0, 23 + 1.7 * minute) if minute < ROWS - 3 else 74.0 - 3 * (minute - 196)
        at = load.starts_at + timedelta(minutes=minute)
        lines.append(f"{at:%Y-%m-%dT%H:%M:%SZ},{celsius:.1f}")
    (folder / "bath-1.csv").write_text("\n".join([*lines, ""]))


def test_two_workers_raise_each_alarm_once_and_keep_each_row_once(tmp_path: Path) -> None:
    load = of_a_load()
    write(tmp_path, load)
    environment = {
        **os.environ, "LABFLOW_DATABASE": address(), "LABFLOW_FEED": str(tmp_path),
        "DJANGO_SETTINGS_MODULE": "labflow.settings",
    }  # fmt: skip
    workers = [
        subprocess.Popen(
            [sys.executable, "-W", "ignore", "-c", WORKER, NOW.isoformat()],
            cwd=settings.BASE_DIR, env=environment, stdin=subprocess.PIPE, stdout=subprocess.PIPE,
            text=True,
        )
        for _ in range(2)
    ]  # fmt: skip
    said = []
    for worker in workers:
        assert worker.stdout is not None
        assert worker.stdout.readline().strip() == "ready"
    for worker in workers:
        assert worker.stdin is not None
        worker.stdin.write("go\n")
        worker.stdin.flush()
    for worker in workers:
        out, _err = worker.communicate(timeout=100)
        said.append([int(n) for n in out.split()])

    new, rung, fired = (sum(column) for column in zip(*said, strict=True))
    assert all(worker.returncode == 0 for worker in workers)
    # The feed's own alarm is fired by who raised it or by the other's sweep.
    assert (new, fired + rung) == (ROWS, TIMERS + 1)
    assert BathSample.objects.count() == ROWS
    kinds = list(Alert.objects.values_list("timer__kind", flat=True))
    assert sorted(kinds) == ["boil"] * TIMERS + ["dropping"]
    assert set(Delivery.objects.values_list("times", flat=True)) == {1}
    assert Event.objects.filter(kind="timer.fired").count() == TIMERS + 1
    assert Event.objects.filter(kind="feed.alarm").count() == 1
    assert verify_record() == []
