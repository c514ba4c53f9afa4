"""A worker that is killed between firing a timer and ringing its alarm: the next one rings."""

from __future__ import annotations

import os
import signal
import subprocess
import sys

import pytest
from django.conf import settings
from django.db import connection

from cases.models import Alert, Delivery, Timer
from cases.services.alarms import LEASE, fire_due, ring
from tests.factories import make_case, make_shop

pytestmark = pytest.mark.django_db(transaction=True)

WORKER = """
import sys, time
from datetime import datetime
import django
django.setup()
from cases.services import alarms
now = datetime.fromisoformat(sys.argv[1])
alarms.fire_due(now)
if sys.argv[2] == "claimed":
    from cases.models import Delivery
    for delivery in Delivery.objects.all():
        alarms.claim_ring(delivery.pk, now)
print("committed", flush=True)
time.sleep(60)
"""


def address() -> str:
    """Return the address of the database this test runs on, for a process of its own."""
    found = connection.settings_dict
    if connection.vendor == "sqlite":
        return f"sqlite:///{found['NAME']}"
    login = f"{found['USER']}:{found['PASSWORD']}@" if found["PASSWORD"] else f"{found['USER']}@"
    return f"postgresql://{login}{found['HOST']}:{found['PORT'] or 5432}/{found['NAME']}"


@pytest.mark.parametrize("died", ["before-claim", "claimed"])
def test_alarm_of_a_killed_worker_rings_once_with_the_next(died: str) -> None:
    make_case(make_shop())
    timer = Timer.objects.filter(state="pending").earliest("due_at")
    now = timer.due_at
    worker = subprocess.Popen(
        [sys.executable, "-W", "ignore", "-c", WORKER, now.isoformat(), died],
        cwd=settings.BASE_DIR,
        env={**os.environ, "LABFLOW_DATABASE": address(),
             "DJANGO_SETTINGS_MODULE": "labflow.settings"},
        stdout=subprocess.PIPE,
        text=True,
    )  # fmt: skip
    assert worker.stdout is not None

    with worker.stdout as said:
        assert said.readline().strip() == "committed"
        worker.send_signal(signal.SIGKILL)
        worker.wait(timeout=20)

    assert Alert.objects.filter(timer=timer).count() == 1
    assert Delivery.objects.get(alert__timer=timer).times == 0
    later = now + LEASE
    fire_due(later)
    ring(later)
    assert Delivery.objects.get(alert__timer=timer).times == 1
    assert Alert.objects.filter(timer=timer).count() == 1
