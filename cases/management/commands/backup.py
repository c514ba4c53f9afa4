"""``manage.py backup``: a proven copy of the SQLite file, while the lab works."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from labflow.backup import BackupRefused, backup


class Command(BaseCommand):
    help = "Copy the lab's SQLite database to the backup folder, while the lab works."

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            file = backup(timezone.now())
        except BackupRefused as refusal:
            raise CommandError(str(refusal)) from refusal
        self.stdout.write(
            f"Copied to {file}. Carry it off this machine, with the folder of the files."
        )
