"""``manage.py sweep``: what the clock does every 15 seconds, once, now."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand

from cases.tasks import feeds, sweep


class Command(BaseCommand):
    help = "Run one sweep now: feeds of the baths, due timers, alerts, leases, the heartbeat."

    def handle(self, *args: Any, **options: Any) -> None:
        feeds()
        sweep()
        self.stdout.write("One sweep has run.")
