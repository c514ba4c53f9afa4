"""The planner is nudged once something is stored and rests; who tapped never waits for that."""

from __future__ import annotations

from collections.abc import Callable
from queue import Empty, Queue
from threading import Event
from typing import Any

import pytest
from django.conf import settings
from kombu import Connection

from cases.models import Event as Stored
from cases.services import nudge
from cases.services.nudge import AT_MOST, QUIET, TASK, Nudger
from cases.services.record import Envelope, Recorder, Refusal, perform
from cases.tasks import plan
from labflow import celery_app
from tests.factories import NOW

SOON = 30
"""Seconds after which a test gives up; nothing is said by how long it took."""


def store(*kinds: str, refuse: bool = False) -> None:
    """Store events, or have them refused."""

    def run(record: Recorder) -> dict[str, Any]:
        for kind in kinds:
            record.event(kind)
        if refuse:
            raise Refusal("no", "No. Do something else.")
        return {}

    perform("test.happens", None, Envelope("command", NOW), {}, run)


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("kinds", "nudges"),
    [
        (["stage.finished"], 1),
        (["note.added", "timer.fired"], 0),
        (["note.added", "load.placed", "stage.started"], 1),
        ([], 0),
    ],
)
def test_what_a_plan_depends_on_nudges_once_it_is_stored(
    kinds: list[str], nudges: int, django_capture_on_commit_callbacks: Callable[..., Any]
) -> None:
    with django_capture_on_commit_callbacks() as after:
        store(*kinds)

    assert len(after) == nudges


@pytest.mark.django_db
def test_what_was_refused_nudges_nobody(
    django_capture_on_commit_callbacks: Callable[..., Any],
) -> None:
    with django_capture_on_commit_callbacks() as after, pytest.raises(Refusal):
        store("stage.finished", refuse=True)

    assert after == []


@pytest.mark.django_db(transaction=True)
def test_a_nudge_lies_in_the_queue_of_the_planner() -> None:
    with celery_app.connection_for_read() as connection:
        queue = connection.SimpleQueue(settings.PLANNING_QUEUE)
        queue.clear()

        store("stage.finished")

        nudge = queue.get(timeout=SOON)
        assert nudge.headers["task"] == TASK
        assert plan.name == TASK
        queue.close()


class Hands:
    """A clock that stands until it is moved, and what was sent by it."""

    def __init__(self) -> None:
        self.at = 0.0
        self.sent: Queue[float] = Queue()
        self.looked = Event()

    def __call__(self) -> float:
        self.looked.set()
        return self.at

    def send(self) -> None:
        self.sent.put(self.at)

    def after(self, nudger: Nudger, seconds: float) -> None:
        """Let time go by, until the thread has seen it."""
        self.at += seconds
        with nudger.changed:
            self.looked.clear()
            nudger.changed.notify()
        assert self.looked.wait(SOON)


def test_much_at_once_is_one_nudge_when_it_rests() -> None:
    hands = Hands()
    nudger = Nudger(hands.send, seconds=hands)
    rest = QUIET.total_seconds()

    for _ in range(3):
        nudger.note()
        hands.after(nudger, rest * 0.9)
    assert hands.sent.empty()
    hands.after(nudger, rest * 0.1)

    assert hands.sent.get(timeout=SOON) == pytest.approx(rest * 2.8)
    hands.at += 10
    nudger.note()
    hands.after(nudger, rest)
    assert hands.sent.get(timeout=SOON) == pytest.approx(rest * 3.8 + 10)
    with pytest.raises(Empty):
        hands.sent.get_nowait()


def test_lab_that_never_rests_is_planned_all_the_same() -> None:
    hands = Hands()
    nudger = Nudger(hands.send, seconds=hands)
    step = AT_MOST.total_seconds() / 5

    for _ in range(5):
        assert hands.sent.empty()
        nudger.note()
        hands.after(nudger, step)

    assert hands.sent.get(timeout=SOON) == pytest.approx(AT_MOST.total_seconds())


def test_queue_that_is_down_costs_one_nudge_only() -> None:
    hands = Hands()
    broken = [OSError("Nobody listens there.")]

    def send() -> None:
        if broken:
            raise broken.pop()
        hands.send()

    nudger = Nudger(send, seconds=hands)
    nudger.note()
    first = nudger.thread
    hands.at += 1
    with nudger.changed:
        nudger.changed.notify()
    while broken:
        hands.looked.wait(0.01)
    nudger.note()
    hands.at += 1
    with nudger.changed:
        nudger.changed.notify()

    assert hands.sent.get(timeout=SOON) == 2
    assert nudger.thread is first


@pytest.mark.django_db(transaction=True)
def test_who_stores_never_waits_for_a_queue_that_does_not_answer(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """The queue's machine takes the call and says nothing: whoever tapped goes on all the same."""
    called, answers, sent = Event(), Event(), Queue[str]()

    def send() -> None:
        called.set()
        answers.wait(SOON)
        sent.put("sent")

    monkeypatch.setattr(nudge, "_nudger", Nudger(send))
    try:
        store("stage.finished")
        assert called.wait(SOON)
        for kind in ("stage.started", "stage.finished"):
            store(kind)
        assert event_kinds() == ["stage.finished", "stage.started", "stage.finished"]
        assert sent.empty()
    finally:
        answers.set()

    # What happened while it hung is one nudge more.
    assert [sent.get(timeout=SOON) for _ in range(2)] == ["sent"] * 2


def event_kinds() -> list[str]:
    return list(Stored.objects.order_by("pk").values_list("kind", flat=True))


def test_queue_of_an_embedded_lab_is_looked_at_more_often_than_each_second() -> None:
    with Connection("sqla+sqlite:///:memory:") as connection:
        assert connection.transport.polling_interval < QUIET.total_seconds()
