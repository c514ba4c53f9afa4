"""``manage.py health web|sweep|plan``: does this part of the lab do its work?"""

from __future__ import annotations

from argparse import ArgumentParser
from datetime import timedelta
from http.client import HTTPConnection, HTTPException
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from cases.models import Heartbeat

SWEEP_LATE = timedelta(seconds=60)
"""A last sweep older than this means nobody watches the timers.

Source: judgement, four times the sweep's interval.
"""

PLAN_LATE = timedelta(seconds=180)
"""A last turn of the planner older than this means that nobody plans: it may improve one plan for
a minute or two. Source: judgement.
"""

WEB_SECONDS = 4
"""How long the web part may take to answer, in seconds. Source: judgement."""


class Command(BaseCommand):
    help = "Exit 0 when the part works: web answers, or a sweep has run lately."
    requires_system_checks = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("part", choices=("web", "sweep", "plan"))
        parser.add_argument("--port", type=int, default=8000)

    def handle(self, *args: Any, **options: Any) -> None:
        if options["part"] == "web":
            self._web(options["port"])
        elif options["part"] == "sweep":
            self._beats("sweep", SWEEP_LATE)
        else:
            self._beats("plan", PLAN_LATE)

    def _web(self, port: int) -> None:
        connection = HTTPConnection("localhost", port, timeout=WEB_SECONDS)
        try:
            connection.request("GET", "/", headers={"X-Forwarded-Proto": "https"})
            status = connection.getresponse().status
        except (OSError, HTTPException) as error:
            raise CommandError(f"The web part does not answer: {error}.") from error
        finally:
            connection.close()
        if status >= 400:
            raise CommandError(f"The web part answers {status}.")
        self.stdout.write(f"The web part answers {status}.")

    def _beats(self, name: str, late: timedelta) -> None:
        last = Heartbeat.objects.filter(name=name).first()
        if last is None:
            raise CommandError(f"No {name} has run yet.")
        age = timezone.now() - last.at
        if age > late:
            raise CommandError(f"The last {name} ran {age.total_seconds():.0f} s ago.")
        self.stdout.write(f"The last {name} ran {age.total_seconds():.0f} s ago.")
