"""The clock's doors. Each task is thin: the instant in, services called, nothing decided."""

from __future__ import annotations

from typing import Any

from celery import shared_task
from django.utils import timezone

from cases.services.alarms import beat, fire_due, ring
from cases.services.files import drop_unnamed
from cases.services.put_down import pause_forgotten
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


@shared_task(name="cases.tasks.tidy")
def tidy(**kwargs: Any) -> dict[str, int]:
    """Delete the bytes of forms that were left unsent. Harmless when run twice."""
    return {"dropped": drop_unnamed(timezone.now())}
