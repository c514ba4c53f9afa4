"""Two workers take the planner's turn at once, on PostgreSQL; without the lease both plan."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

import pytest

from cases.models import Lab, Plan, Planner
from cases.services import plan_think, planner
from tests.factories import NOW, Shop, make_case, make_shop
from tests.selectors.planning.small import change
from tests.services.test_races import Meeting, both

pytestmark = [pytest.mark.production, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def shop() -> Shop:
    """The small lab with a case to plan."""
    made = make_shop()
    change(Lab.objects.get(), plan_seconds=0)
    make_case(made)
    return made


def plan_twice(monkeypatch: pytest.MonkeyPatch) -> list[Any]:
    """Two workers take a turn; whoever has begun to plan waits for the other for a second."""
    meeting, honest = Meeting(), plan_think.build
    planner.row()

    def meet(now: datetime) -> Any:
        meeting.wait()
        return honest(now)

    monkeypatch.setattr(plan_think, "build", meet)
    return both(*(lambda: planner.turn(NOW) for _ in range(2)))


def test_two_workers_make_one_plan(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    assert sorted(plan_twice(monkeypatch)) == ["busy", "mended"]
    assert Plan.objects.count() == 1
    assert Planner.objects.get().busy_until is None


def test_without_the_lease_both_plan(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    until = NOW + timedelta(minutes=1)

    def everybody(now: datetime, seconds: float) -> datetime:
        Planner.objects.update(busy_until=until)
        return until

    monkeypatch.setattr(planner, "_lease", everybody)

    # Which of them stores its plan is a matter of who ends first; that both think is not.
    assert sorted(plan_twice(monkeypatch)) == ["mended", "mended"]


def test_the_solvers_thread_leaves_no_connection_behind(shop: Shop) -> None:
    from threading import Thread

    from django.db import connection

    from cases.services.planner import _Budget

    planner.row()
    at = iter((0.0, 0.6))
    left = _Budget(lambda: next(at), 60, plan_think.last_event(), (0, 0.0, 0, 0))
    answers: list[Any] = []

    def ask() -> None:
        answers.extend((left.stop(), connection.connection))

    thread = Thread(target=ask)
    thread.start()
    thread.join()

    assert answers == [False, None]
