"""What only PostgreSQL and Redis can show."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from collections.abc import Iterator
from datetime import timedelta

import pytest
from django.conf import settings
from django.core.cache import cache
from django.db import connection
from django.utils import timezone

from cases.models import Heartbeat
from labflow import celery_app

pytestmark = pytest.mark.production


def test_cache_is_shared_through_redis() -> None:
    cache.set("labflow-test", "seen", timeout=10)

    assert type(cache).__name__ == "ConnectionProxy"
    assert settings.CACHES["default"]["BACKEND"].endswith("RedisCache")
    assert cache.get("labflow-test") == "seen"


@pytest.fixture
def worker() -> Iterator[None]:
    """A real worker on this run's Redis and on the database of this test."""
    # CELERY reads the address again: conftest keeps nudges in memory for all other tests.
    url = "postgresql://{USER}@{HOST}:{PORT}/{NAME}".format(**connection.settings_dict)
    process = subprocess.Popen(
        [
            sys.executable, "-m", "celery", "-A", "labflow", "--quiet", "worker",
            "--pool", "threads", "--concurrency", "1", "--loglevel", "WARNING",
            "-Q", "labflow-test",
        ],
        cwd=settings.BASE_DIR,
        env=os.environ | {"LABFLOW_DATABASE": url},
        stderr=subprocess.DEVNULL,
    )  # fmt: skip
    try:
        yield
    finally:
        process.terminate()
        process.wait(timeout=30)


@pytest.mark.django_db(transaction=True)
def test_worker_takes_a_sweep_from_redis(worker: None) -> None:
    with celery_app.connection_for_write(url=settings.REDIS_URL) as redis:
        celery_app.send_task(
            "cases.tasks.sweep", connection=redis, queue="labflow-test", ignore_result=True
        )

    until = time.monotonic() + 60
    while not Heartbeat.objects.filter(name="sweep").exists() and time.monotonic() < until:
        time.sleep(0.2)

    beat = Heartbeat.objects.get(name="sweep")
    assert timezone.now() - beat.at < timedelta(seconds=60)
