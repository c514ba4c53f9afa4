"""``manage.py compile_planner``: compile the planner ahead, so that no worker waits for it."""

from __future__ import annotations

import time
from typing import Any

from django.core.management.base import BaseCommand

from cases.domain.planning.compiled import engine


class Command(BaseCommand):
    help = "Compile the planner, or load it where it is compiled already, and say how long it took."
    requires_system_checks = ()

    def handle(self, *args: Any, **options: Any) -> None:
        began = time.monotonic()
        if engine.wait():
            took = time.monotonic() - began
            self.stdout.write(f"The planner's compiled code is ready ({took:.1f} s).")
        else:
            self.stdout.write(f"The planner thinks in plain Python: {engine.why_not()}.")
