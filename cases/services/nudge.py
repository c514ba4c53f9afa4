"""Tells the planner's worker that something happened, as soon as it is stored and rests.

The clock asks the worker every few seconds anyway: a nudge that is lost, because the queue is down
or a command ended too soon, costs these seconds and nothing else.
"""

from __future__ import annotations

import logging
import time
from collections.abc import Callable, Iterable
from datetime import timedelta
from threading import Condition, Thread

from celery import current_app
from django.db import transaction

log = logging.getLogger(__name__)

QUIET = timedelta(seconds=0.4)
"""How long nothing must have happened before the plan is mended: one action is a few requests.
Judgement."""
AT_MOST = timedelta(seconds=1.5)
"""How long a lab that never rests waits for its plan to be mended. Judgement."""
KEEPS = 3.0
"""Seconds after which a nudge that nobody took is dropped: the clock has asked by then."""
TASK = "cases.tasks.plan"

SILENT = (
    "account.", "alert.", "bath-record.", "bench.", "check.photographed", "code", "file.",
    "invitation.", "note", "paper.", "pick-up.", "probe.", "report.", "tablet.", "time.", "timer.",
)  # fmt: skip
"""Kinds of events, by their beginning, after which no plan can be another."""


def matters(kind: str) -> bool:
    """Tell whether a plan may be another after an event of this kind."""
    return not kind.startswith(SILENT)


class Nudger:
    """Sends one nudge for all that happens in this process until it rests.

    A thread sends: whoever tapped a button never waits for the queue.
    """

    def __init__(
        self, send: Callable[[], None], *, seconds: Callable[[], float] = time.monotonic
    ) -> None:
        self.send, self.seconds = send, seconds
        self.changed = Condition()
        self.first = self.last = 0.0
        self.waiting = False
        self.thread: Thread | None = None

    def note(self) -> None:
        """Note that something is stored that the planner should know."""
        with self.changed:
            self.last = self.seconds()
            if not self.waiting:
                self.first, self.waiting = self.last, True
            # Of a process that was forked off no thread but its own first one lives on.
            if self.thread is None or not self.thread.is_alive():
                self.thread = Thread(target=self._run, name="planner-nudge", daemon=True)
                self.thread.start()
            self.changed.notify()

    def _run(self) -> None:
        while True:
            with self.changed:
                while (left := self._left()) != 0:
                    self.changed.wait(left)
                self.waiting = False
            try:
                self.send()
            except Exception as error:
                # Each transport has errors of its own, and none may end the thread.
                log.warning("the planner was not nudged, the clock will ask it: %s", error)

    def _left(self) -> float | None:
        """Return the seconds until a nudge is due, None while there is nothing to say."""
        if not self.waiting:
            return None
        due = min(self.last + QUIET.total_seconds(), self.first + AT_MOST.total_seconds())
        return max(0.0, due - self.seconds())


def _send() -> None:
    current_app.send_task(TASK, expires=KEEPS, ignore_result=True, retry=False)


_nudger = Nudger(_send)


def nudge_after(kinds: Iterable[str]) -> None:
    """Nudge the planner once these kinds of events are stored, if a plan depends on one."""
    if any(map(matters, kinds)):
        transaction.on_commit(_nudger.note)
