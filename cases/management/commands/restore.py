"""``manage.py restore FILE``: put a copy in the place of the lab's database."""

from __future__ import annotations

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError
from django.db import connections
from django.utils import timezone

from labflow.backup import BackupRefused, restore
from labflow.runlock import AlreadyRunning, only_one


class Command(BaseCommand):
    help = "Put a copy made by backup in the place of the lab's SQLite database."
    # A check that reads the database must not stop the command that repairs it.
    requires_system_checks = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", type=Path, help="a copy made by `manage.py backup`")

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            with only_one(settings.VAR_DIR):
                connections.close_all()
                kept = restore(file=options["file"], now=timezone.now())
        except AlreadyRunning as error:
            raise CommandError(
                "The lab is running on this database. Stop it (Ctrl-C where it runs), "
                "then restore again."
            ) from error
        except BackupRefused as refusal:
            raise CommandError(str(refusal)) from refusal
        if kept.exists():
            self.stdout.write(f"The database that was here is kept at {kept}.")
        self.stdout.write(
            f"{options['file'].name} is in place. Run `manage.py migrate`, then start the lab."
        )
