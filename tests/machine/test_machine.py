"""Random labs under the real services: nothing may break, and planted faults must show.

``LABFLOW_MACHINE_RUNS`` (200 in CI, 40 of them under ``make test-engine``) × 50 steps, the same
every time. A failing run prints its steps.
"""

from __future__ import annotations

import os

import pytest
from django.db import transaction

from cases.services import access
from cases.services import record as record_module
from cases.services.record import Envelope, Recorder
from cases.services.setup import set_up
from cases.services.verify_record import verify_record
from tests.factories import NOW, Shop, make_shop
from tests.machine.driver import Broken, Driver, Tally
from tests.machine.moves import FAMILIES, MOVES, all_verbs, weights_for
from tests.machine.openings import OPENINGS
from tests.machine.plans import can_be_planned

IN_CI = os.environ.get("CI", "").lower() in {"1", "true", "yes"}
RUNS = int(os.environ.get("LABFLOW_MACHINE_RUNS", "200" if IN_CI else "24"))
STEPS = 50
FAULT_RUNS = 40
OPENING_EVERY = 4

ONCE_ONLY = {"lab.set-up": "needs an empty house; see test_the_verb_of_an_empty_house_succeeds"}
"""Verbs that cannot succeed in a run, with the reason; they are refused there all the same."""

pytestmark = pytest.mark.django_db


def play(shop: Shop, number: int, tally: Tally) -> None:
    """Play one run from a fresh lab and forget it.

    Raises
    ------
    Broken
        With the last steps, when a rule of the house broke.
    """
    moves = [one.run for one in MOVES]
    weights = weights_for(FAMILIES[number % len(FAMILIES)])
    with transaction.atomic():
        opening = None
        if number % OPENING_EVERY == 0:
            opening = OPENINGS[number // OPENING_EVERY % len(OPENINGS)]
            opening.prepare(shop)
        driver = Driver(shop, number, tally)
        try:
            if opening is not None:
                opening.scene(driver)
            while driver.steps < STEPS:
                driver.pick.choices(moves, weights)[0](driver)
            driver.check_all()
            can_be_planned(driver.now)
        except Exception as error:
            steps = "\n".join(driver.trace[-12:])
            message = f"run {number}: {error!r}\n{steps}"
            raise Broken(message) from error
        transaction.set_rollback(True)


@pytest.fixture
def shop() -> Shop:
    return make_shop()


@pytest.mark.timeout(1500)
def test_random_labs_stay_sound(shop: Shop) -> None:
    tally = Tally()

    for number in range(RUNS):
        play(shop, number, tally)

    if RUNS >= 200:
        never_done = all_verbs() - {name for name in tally.done if tally.done[name]}
        never_refused = {name for name in all_verbs() if not tally.refusals(name)}
        assert (sorted(never_done - ONCE_ONLY.keys()), sorted(never_refused)) == ([], [])


def test_the_verb_of_an_empty_house_succeeds() -> None:
    outcome = set_up(Envelope("command", NOW), name="Test bench")

    assert outcome.result["route"] == 1
    assert verify_record() == []


def find_fault(shop: Shop) -> str:
    """Return what the machine says about a planted fault, or an empty string."""
    for number in range(FAULT_RUNS):
        try:
            play(shop, number, Tally())
        except Broken as broken:
            return str(broken)
    return ""


def test_machine_notices_stale_forms_that_are_taken(
    shop: Shop, monkeypatch: pytest.MonkeyPatch
) -> None:
    from cases.services import stage as stage_module

    def no_lock(stage_id: int, *, version: int | None = None) -> object:
        return access.lock_stage(stage_id)

    monkeypatch.setattr(stage_module, "lock_stage", no_lock)

    assert "took a stale form" in find_fault(shop)


def test_machine_notices_an_event_left_out(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    honest = Recorder._log

    def forgetful(self: Recorder, obj: object, *rest: object) -> None:
        if type(obj).__name__ != "WorkSpan":
            honest(self, obj, *rest)  # type: ignore[arg-type]

    monkeypatch.setattr(Recorder, "_log", forgetful)

    assert "WorkSpan" in find_fault(shop)


def test_machine_notices_a_submission_id_that_is_ignored(
    shop: Shop, monkeypatch: pytest.MonkeyPatch
) -> None:
    import uuid

    honest = record_module.perform

    def careless(name, may, envelope, body, run):  # type: ignore[no-untyped-def]
        fresh = record_module.Envelope(
            envelope.door, envelope.now, envelope.person_id, envelope.tablet_id,
            envelope.happened_at, uuid.uuid4(),
        )  # fmt: skip
        return honest(name, may, fresh, body, run)

    monkeypatch.setattr(record_module, "perform", careless)

    found = find_fault(shop)
    assert any(said in found for said in ("again", "same id", "another body was not noticed"))
