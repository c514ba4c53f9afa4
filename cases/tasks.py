"""The clock's doors. Each task is thin: the instant in, services called, nothing decided."""

from __future__ import annotations

from typing import Any

from celery import shared_task
from django.utils import timezone

from cases.services.alarms import beat, fire_due, ring
from cases.services.bath_raw import drop_parts
from cases.services.bath_unread import drop_unread
from cases.services.feed_in import drop_old, read_files
from cases.services.feed_watch import offer_traces, watch_feeds
from cases.services.files import drop_unnamed
from cases.services.planner import get_ready, turn
from cases.services.put_down import pause_forgotten
from cases.services.remedies import reckon_wanted
from cases.services.tablets import lock_idle_tablets


@shared_task(name="cases.tasks.sweep")
def sweep(**kwargs: Any) -> dict[str, int]:
    """Fire due timers, ring open alarms, lock tablets that nobody touches, put down what was left
    running, stamp the heartbeat.

    Harmless when run twice.
    """
    now = timezone.now()
    fired = fire_due(now)
    rung = ring(now)
    locked = lock_idle_tablets(now)
    paused = pause_forgotten(now)
    beat("sweep", now)
    return {"fired": fired, "rung": rung, "locked": locked, "paused": paused}


@shared_task(name="cases.tasks.feeds")
def feeds(**kwargs: Any) -> dict[str, int]:
    """Read the files of the baths' feeds, ring for a bath that does not heat, put traces down.

    A task of its own: a folder of another machine that hangs must not keep a wait from ringing.
    Harmless when run twice.
    """
    now = timezone.now()
    new = read_files(now)
    rung = watch_feeds(now)
    return {"new": new, "rung": rung, "traces": offer_traces(now)}


@shared_task(name="cases.tasks.remedies")
def remedies(**kwargs: Any) -> dict[str, int]:
    """Reckon what would lower the risk of loads that ask for it. Harmless when run twice."""
    return {"loads": reckon_wanted(timezone.now())}


@shared_task(name="cases.tasks.tidy")
def tidy(**kwargs: Any) -> dict[str, int]:
    """Delete the bytes of forms that were left unsent or cut off, and old samples of the baths.

    Harmless when run twice.
    """
    now = timezone.now()
    return {
        "dropped": drop_unnamed(now) + drop_parts(now) + drop_unread(now),
        "samples": drop_old(now),
    }


@shared_task(name="cases.tasks.plan")
def plan(**kwargs: Any) -> str:
    """Give the planner its turn. Harmless when run twice: one turn at a time has the lease."""
    get_ready()
    now = timezone.now()
    done = turn(now)
    beat("plan", now)
    return done
