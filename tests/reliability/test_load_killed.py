"""The life of a load, from the first flask to its record, while parts of the house are killed.

At each step one part dies outright in the middle of it and comes back; then the same form is sent
again, as a browser does. What was done is done once, and every alarm is raised once.
"""

from __future__ import annotations

import io
import time
import uuid
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from django.utils import timezone

from cases.domain.cure.program import Hold, Program, as_json
from cases.models import (
    Alert,
    Bath,
    BathRecord,
    Case,
    CureProgram,
    Delivery,
    Event,
    Load,
    Resin,
    Submission,
    Timer,
)
from cases.services.bath_raw import take_in_file
from cases.services.record import Recorder
from cases.services.verify_record import verify_record
from tests.factories import Shop, make_case, make_shop, rows
from tests.reliability.house import House, until
from tests.walk import Clock, walk

pytestmark = [
    pytest.mark.production,
    pytest.mark.django_db(transaction=True),
    pytest.mark.timeout(900),
]

SECONDS = 6
"""How long a stage of the program lasts here."""
QUICK = Program(
    "Quick", (Hold(74.0, SECONDS / 60), Hold(100.0, SECONDS / 60, boil=True)), "test",
    bench_cool_minutes=SECONDS / 60, water_cool_minutes=SECONDS / 60,
)  # fmt: skip
DELAYS = (0.0, 0.02, 0.06, 0.15, 0.4)
"""Seconds from sending a form to the killing: before, in the middle of and after the work."""


@pytest.fixture
def shop() -> Shop:
    return make_shop(timezone.now() - timedelta(days=8))


@pytest.fixture
def house(tmp_path: Path, shop: Shop) -> Iterator[House]:
    found = House(tmp_path)
    found.sign_in(shop.people["mara"].user)
    try:
        for part in ("broker", "web", "worker"):
            found.start(part)
        yield found
    finally:
        found.close()


def prepared(shop: Shop) -> tuple[Case, CureProgram]:
    """Return a case whose next stage is the cure, and a program of seconds."""
    began = timezone.now() - timedelta(days=7)
    case = make_case(shop, now=began, ordered_on=began.date())
    walk(shop, case, Clock(began), until="clamp")

    def make(record: Recorder) -> dict[str, Any]:
        resin = record.create(Resin, name="Rosewater 3", source="leaflet of 2026")
        return {
            "program": record.create(
                CureProgram, resin=resin, name="Quick", version=1, document=as_json(QUICK),
                saved_at=began,
            )
        }  # fmt: skip

    return case, rows(make)["program"]


def its_file(load: Load) -> str:
    """Take in what a logger wrote of the load, a row a second; return the file's hash."""
    assert load.starts_at
    assert load.ends_at
    lines, at = ["at,bath (°C)"], load.starts_at
    while at <= load.ends_at:
        warm = 74.0 if at < load.starts_at + (load.ends_at - load.starts_at) / 2 else 100.0
        lines.append(f"{at:%Y-%m-%dT%H:%M:%SZ},{warm}")
        at += timedelta(seconds=1)
    return take_in_file(io.BytesIO("\n".join(lines).encode()))


class Life:
    """The steps of one load; a part is killed in the middle of each."""

    def __init__(self, house: House, victim: str) -> None:
        self.house, self.victim = house, victim
        self.sent: list[uuid.UUID] = []

    def send(self, path: str, **body: Any) -> str:
        """Send a form, kill the part meanwhile, bring it back, send the form again."""
        submission = uuid.uuid4()
        delay = DELAYS[len(self.sent) % len(DELAYS)]
        self.sent.append(submission)
        self.house.post_and_kill(self.victim, delay, path, submission, **body)
        if self.victim != "web":
            # While it is dead, the pages work all the same.
            assert self.house.post(path, submission, **body)[0] in {302, 303}
        self.house.start(self.victim)
        status, where = self.house.post(path, submission, **body)
        assert status in {302, 303}, where[:2000]
        return where

    def act(self, what: str, **body: Any) -> None:
        """Do something with the load, by its page."""
        load = Load.objects.get()
        self.send(f"/loads/{load.number}/act/", what=what, version=load.version, **body)

    def rings(self, kind: str) -> Alert:
        """Wait until an alarm is raised and rings, a part being killed when it falls due."""
        timer = Timer.objects.get(kind=kind)
        left = (timer.due_at - timezone.now()).total_seconds()
        time.sleep(max(0.0, left))
        self.house.nudge()
        time.sleep(0.1)
        self.house.kill(self.victim)
        self.house.nudge()
        self.house.start(self.victim)

        def rung() -> bool:
            self.house.nudge()
            time.sleep(0.3)
            return Delivery.objects.filter(alert__timer=timer, times__gte=1).exists()

        assert until(rung), f"{kind} never rang"
        return Alert.objects.get(timer=timer)


@pytest.mark.parametrize("victim", ["web", "worker", "broker"])
def test_load_lives_through_the_death_of_a_part_at_each_step(
    house: House, shop: Shop, victim: str
) -> None:
    case, program = prepared(shop)
    life = Life(house, victim)

    bath = Bath.objects.get(name="Bath 1")
    where = life.send("/loads/new/", bath=bath.pk, program=program.pk)
    load = Load.objects.get()
    assert where == f"/loads/{load.number}/"
    life.act("flask", label=case.number, thickest_mm="4")
    life.act("estimate")
    life.act("start", starts_at="", words="Quick for the test")
    load.refresh_from_db()
    assert load.starts_at
    assert load.ends_at
    for kind in ("boil", "take-out"):
        heard = life.rings(kind)
        life.send("/alarms/acknowledge/", alerts=str(heard.pk))
    assert until(lambda: timezone.now() >= load.ends_at)
    life.act("take-out")
    life.rings("to-water")
    life.send(
        f"/loads/{load.number}/record/{its_file(load)}/",
        time="iso|0", heat="1|C", probe_at="bath", probe="",
    )  # fmt: skip

    assert Load.objects.get().state == "over"
    assert BathRecord.objects.count() == 1
    # Each form was done once, however often it was sent, and none of them in halves.
    assert Submission.objects.filter(pk__in=life.sent, outcome="done").count() == len(life.sent)
    assert Event.objects.filter(kind="load.started").count() == 1
    assert Event.objects.filter(kind="load.flask-added").count() == 1
    assert Event.objects.filter(kind="load.taken-out").count() == 1
    # Each alarm was raised once, and those that were heard are heard.
    kinds = Alert.objects.filter(timer__load=load).values_list("timer__kind", flat=True)
    assert sorted(kinds) == ["boil", "take-out", "to-water"]
    assert list(Alert.objects.filter(timer__load=load, acknowledged_at=None)) == [
        Alert.objects.get(timer__kind="to-water")
    ]
    assert case.stages.get(key="cool").state == "done"
    assert verify_record() == []
