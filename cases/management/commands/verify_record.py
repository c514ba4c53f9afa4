"""Compare the stored state with what the record says."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand, CommandError

from cases.services.verify_record import verify_record


class Command(BaseCommand):
    """``manage.py verify_record``: prints each difference, exits 1 when there is one."""

    help = "Rebuild the present state from the events and compare it with what is stored."

    def handle(self, *args: Any, **options: Any) -> None:
        """Print the differences."""
        differences = verify_record()
        for difference in differences:
            self.stdout.write(str(difference))
        if differences:
            count = len(differences)
            message = f"{count} differences. Do not go on working on this database: restore a copy."
            raise CommandError(message)
        self.stdout.write("The record and the stored state agree.")
