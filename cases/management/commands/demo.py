"""``manage.py demo``: fill an empty database with the invented demo lab."""

from __future__ import annotations

import gc
import time
from collections.abc import Iterator
from contextlib import contextmanager, nullcontext
from datetime import datetime
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandParser
from django.db import connection, transaction
from django.utils import timezone

from cases.demo.load import DRAW, FINISHED, FULL_FINISHED, OPEN, Progress, load
from cases.demo.people import (
    LAB,
    PASSWORD,
    PIN,
    PLACES,
    PRESCRIBERS,
    RECEPTION,
    WORKERS,
)
from cases.documents.boxes import box_facts
from cases.documents.delivery_note import delivery_note_pdf
from cases.documents.facts import House
from cases.models import Lab
from cases.selectors.dispatch import find_box
from cases.selectors.driving import lab_is_there
from cases.services.papers import store_pdf

BAR = 30
GARBAGE_AFTER = 100_000
"""Objects until Python looks for garbage: the load makes millions that die by themselves."""


@contextmanager
def one_piece() -> Iterator[None]:
    """Keep an interrupted load out of the database altogether where one transaction can hold it.

    PostgreSQL keeps a lock for every submission until the transaction ends and would run out of
    them, so there each submission stands by itself.
    """
    thresholds = gc.get_threshold()
    gc.set_threshold(GARBAGE_AFTER, *thresholds[1:])
    whole = nullcontext() if connection.vendor == "postgresql" else transaction.atomic()
    try:
        with whole:
            yield
    finally:
        gc.set_threshold(*thresholds)


def draw_note(number: str) -> dict[str, Any]:
    """Draw the delivery note of a box and store it."""
    box = find_box(number)
    assert box is not None  # noqa: S101  (it was packed and sent just now)
    house = House.of(Lab.objects.get())
    return vars(store_pdf(delivery_note_pdf(box_facts(box, house), house)))


class Command(BaseCommand):
    help = "Load the invented demo lab, if the database is empty."

    def add_arguments(self, parser: CommandParser) -> None:
        """Take how much to load."""
        parser.add_argument("--full", action="store_true", help="a year with 400 finished cases")
        parser.add_argument("--open", type=int, default=OPEN, help="open cases (60)")
        parser.add_argument("--finished", type=int, help="finished cases (60, or 400 with --full)")
        parser.add_argument("--draw", type=int, default=DRAW, help="another lab of the same kind")
        parser.add_argument("--now", help="the instant that counts as now (ISO, with its zone)")

    def handle(self, *args: Any, **options: Any) -> None:
        """Load the lab and say how to come in."""
        if lab_is_there():
            self.stdout.write(
                "There is a laboratory in this database already; it is left as it is."
            )
            if settings.DEMO:
                self._sign_ins()
            return
        now = datetime.fromisoformat(options["now"]) if options["now"] else timezone.now()
        full = options["full"]
        finished = options["finished"] or (FULL_FINISHED if full else FINISHED)
        self.stdout.write(
            f"Loading the demo lab, {LAB}: {options['open']} open cases, {finished} finished."
        )
        began = time.monotonic()
        with one_piece():
            steps = load(
                now,
                open_cases=options["open"],
                finished=finished,
                full=full,
                draw=options["draw"],
                note=draw_note,
            )
            last = None
            for last in steps:
                self._show(last)
        seconds = time.monotonic() - began
        self.stdout.write("")
        if last is not None:
            self.stdout.write(f"{last.cases} cases in {seconds:.0f} s.")
        self._sign_ins()

    def _show(self, step: Progress) -> None:
        full = round(BAR * step.share)
        bar = "█" * full + "·" * (BAR - full)
        self.stdout.write(
            f"\r{bar} {step.day:%d %b}  {step.cases} cases, {step.sent} sent", ending=""
        )
        self.stdout.flush()

    def _sign_ins(self) -> None:
        out = self.stdout.write
        out("")
        out(f"Sign-ins of the demo lab (all invented). The password of everybody is: {PASSWORD}")
        for worker in WORKERS:
            if worker.username:
                out(f"  {worker.username:10} {worker.name}, {' and '.join(worker.roles)}")
        names = {place.code: place.name for place in PLACES}
        for one in PRESCRIBERS:
            if one.username:
                where = " and ".join(names[code] for code in one.practices)
                out(f"  {one.username:10} {one.name}, dentist at {where}")
        code, name, username = RECEPTION
        out(f"  {username:10} {name}, reception at {names[code]}")
        out(f"The PIN of every technician at the bench is: {PIN}")
        out(
            "To see the bench, sign in as the manager on the device that is to be the tablet, "
            "and enrol it under Settings."
        )
