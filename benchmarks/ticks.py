"""How long a tick takes when twenty tablets finish a stage with four checks at once."""

from __future__ import annotations

import http.client
import os
import secrets
import socket
import subprocess
import sys
import time
import uuid
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from statistics import quantiles
from typing import Any
from urllib.parse import urlencode

from django.db import connection
from django.urls import reverse

from cases.models import BenchSession, CaseStage, Skill, Tablet
from cases.services.record import Recorder
from cases.services.stage import start_stage
from cases.views.visitor import TABLET_COOKIE, token_hash
from tests.factories import Shop, make_case, make_person, rows
from tests.walk import Clock, walk

TABLETS = 20
STAGE = "trim"
"""A stage of four yes-or-no checks with this order."""
CHECKS = 4
BETWEEN_TICKS = 1.0
"""Seconds between two ticks of one person where hands are given time. Judgement."""


@dataclass
class Job:
    """A stage in somebody's hands and the checks on it."""

    stage: int
    version: int
    items: list[int]


@dataclass
class Hands:
    """A tablet with its person: the cookie, and the stages to finish."""

    token: str
    person: int
    jobs: list[Job] = field(default_factory=list)


def people_with_tablets(shop: Shop, now: datetime) -> list[Hands]:
    """Enrol the tablets, each with a technician of its own signed in."""
    made: list[Hands] = []

    def make(record: Recorder) -> dict[str, Any]:
        skills = list(Skill.objects.all())
        for n in range(TABLETS):
            token = secrets.token_urlsafe(24)
            person = make_person(record, f"hands{n}", skills=skills, is_technician=True)
            tablet = record.create(
                Tablet,
                name=f"Tablet {n}",
                token_hash=token_hash(token),
                enrolled_by=shop.people["pavo"],
                enrolled_at=now,
            )
            record.create(BenchSession, tablet=tablet, person=person, opened_at=now, seen_at=now)
            shop.people[f"hands{n}"] = person
            made.append(Hands(token, person.pk))
        return {}

    rows(make, now)
    return made


def give_jobs(shop: Shop, hands: Sequence[Hands], each: int, now: datetime, serial: int) -> None:
    """Put ``each`` stages into the hands of everybody, through the services."""
    began = now - timedelta(days=2)
    for n, holder in enumerate(hands):
        holder.jobs = []
        for m in range(each):
            case = make_case(
                shop,
                now=began,
                ref=f"T{serial}-{n}-{m}",
                ordered_on=began.date(),
                appointment_on=(now + timedelta(days=14)).date(),
            )
            walk(shop, case, Clock(began), until="pour")
            stage = case.stages.get(key=STAGE)
            start_stage(
                shop.envelope(f"hands{n}", now=now, door="bench"),
                stage=stage.pk,
                version=stage.version,
            )
            stage.refresh_from_db()
            items = list(stage.checks.exclude(state="dropped").values_list("pk", flat=True))
            if len(items) != CHECKS:
                raise SystemExit(f"{STAGE} has {len(items)} checks, not {CHECKS}: choose another.")
            holder.jobs.append(Job(stage.pk, stage.version, items))


class Browser:
    """One kept connection of one tablet."""

    def __init__(self, port: int, token: str) -> None:
        self.connection = http.client.HTTPConnection("127.0.0.1", port, timeout=60)
        secret = secrets.token_hex(16)
        self.headers = {
            "Cookie": f"{TABLET_COOKIE}={token}; csrftoken={secret}",
            "X-CSRFToken": secret,
            "HX-Request": "true",
            "Content-Type": "application/x-www-form-urlencoded",
        }

    def post(self, path: str, body: dict[str, Any]) -> tuple[float, int]:
        """Post a form; return seconds until the answer was read, and its status."""
        sent = urlencode({"submission_id": str(uuid.uuid4()), **body})
        began = time.perf_counter()
        self.connection.request("POST", path, sent, self.headers)
        answer = self.connection.getresponse()
        answer.read()
        return time.perf_counter() - began, answer.status


def _work(port: int, holder: Hands, pause: float) -> tuple[list[float], list[int]]:
    browser = Browser(port, holder.token)
    times, odd = [], []
    for job in holder.jobs:
        form: dict[str, Any] = {"version": job.version}
        asked = [
            *(
                (reverse("cases:bench-check", args=[item]), form | {"yes": "yes"})
                for item in job.items
            ),
            (reverse("cases:bench-finish", args=[job.stage]), form),
        ]
        for path, body in asked:
            time.sleep(pause * (0.5 + secrets.randbelow(1000) / 1000))
            seconds, status = browser.post(path, body)
            times.append(seconds)
            if status not in (200, 302, 303):
                odd.append(status)
    return times, odd


def press(port: int, hands: Sequence[Hands], pause: float) -> list[float]:
    """Let everybody finish their stages at once; return the seconds of every tick.

    Raises
    ------
    SystemExit
        When an answer was not as it should be: then there is nothing to measure.
    """
    with ThreadPoolExecutor(len(hands)) as pool:
        answers = list(pool.map(lambda holder: _work(port, holder, pause), hands))
    odd = [status for _times, statuses in answers for status in statuses]
    wanted = [job.stage for holder in hands for job in holder.jobs]
    done = CaseStage.objects.filter(pk__in=wanted, state="done").count()
    if odd or done != len(wanted):
        raise SystemExit(f"{done} of {len(wanted)} stages were finished; odd answers: {odd[:5]}.")
    return [seconds for times, _statuses in answers for seconds in times]


def warm(port: int, hands: Sequence[Hands]) -> None:
    """Let every worker answer before anything counts: the first answer loads the program."""

    def look(holder: Hands) -> None:
        browser = Browser(port, holder.token)
        for _ in range(3):
            browser.connection.request("GET", reverse("cases:bench"), headers=browser.headers)
            browser.connection.getresponse().read()

    with ThreadPoolExecutor(len(hands)) as pool:
        list(pool.map(look, hands))


def p95(times: Sequence[float]) -> float:
    """Return the 95th percentile in milliseconds."""
    return quantiles(times, n=20)[-1] * 1000


@contextmanager
def server() -> Any:
    """Run the production server on the scratch database; yields its port."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    workers = ("3", "4") if connection.vendor == "postgresql" else ("1", "8")
    process = subprocess.Popen(  # noqa: S603 - our own server
        [
            sys.executable, "-m", "gunicorn", "labflow.wsgi:application",
            "--bind", f"127.0.0.1:{port}", "--worker-class", "gthread",
            "--workers", workers[0], "--threads", workers[1], "--keep-alive", "30",
            "--log-level", "warning", "--no-control-socket",
        ],
        env=dict(os.environ),
    )  # fmt: skip
    try:
        for _ in range(300):
            with socket.socket() as knock:
                if knock.connect_ex(("127.0.0.1", port)) == 0:
                    break
            time.sleep(0.1)
        yield port
    finally:
        process.terminate()
        process.wait(20)
