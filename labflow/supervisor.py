"""Keeps the parts of an embedded lab alive: web, worker, clock."""

from __future__ import annotations

import contextlib
import importlib.util
import os
import signal
import sqlite3
import ssl
import subprocess
import sys
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from http.client import HTTPConnection, HTTPException, HTTPSConnection
from pathlib import Path
from types import FrameType

from django.conf import settings

from labflow.celery import app

STOP_SECONDS = 20.0
"""How long a part may take to finish what it has in hand, in seconds. Source: judgement."""

STEADY_SECONDS = 60.0
"""A part that lived this long starts with a clean slate when it dies. Source: judgement."""

PATIENCE = 5
"""Deaths in a row, each within ``STEADY_SECONDS`` of its start, before the lab gives up."""

TRIM_SECONDS = 600.0
"""How often delivered messages are removed from the queue file, in seconds. Source: judgement."""

OPEN_SECONDS = 60.0
"""How long the web part may take to answer after the start, in seconds. Source: judgement."""


@dataclass(kw_only=True)
class Part:
    """One child process.

    Parameters
    ----------
    name
        What a person reads: "web", "worker", "clock".
    command
        Program and arguments.
    """

    name: str
    command: Sequence[str]
    environment: dict[str, str] = field(default_factory=dict)
    process: subprocess.Popen[bytes] | None = None
    started: float = 0.0
    deaths: int = 0
    not_before: float = 0.0

    def start(self) -> None:
        """Start the process in a session of its own: Ctrl-C reaches the supervisor alone."""
        self.process = subprocess.Popen(  # noqa: S603
            self.command,
            env=os.environ | self.environment,
            cwd=settings.BASE_DIR,
            start_new_session=True,
            preexec_fn=_die_with_parent if sys.platform == "linux" else None,
        )
        self.started = time.monotonic()


def parts(
    *, host: str, port: int, names: Sequence[str], certificate: tuple[Path, Path] | None
) -> list[Part]:
    """Return the four parts: web on ``host:port``, the worker, the planner, the clock.

    Parameters
    ----------
    host, port
        Where the web part listens.
    names
        Names and addresses under which it may be asked.
    certificate
        Certificate and key, or None for http.
    """
    environment = {
        "LABFLOW_HOSTS": ",".join([*names, *settings.ALLOWED_HOSTS]),
        "LABFLOW_HTTPS": "1" if certificate or settings.HTTPS else "0",
        # serve says it itself, once and shorter.
        "PYTHONWARNINGS": "ignore:You're running the worker with superuser privileges",
    }
    celery = [sys.executable, "-m", "celery", "-A", "labflow", "--quiet"]
    worker = [
        *celery, "worker", "--pool", "threads", "--loglevel", "WARNING",
        "--without-gossip", "--without-mingle", "--without-heartbeat",
    ]  # fmt: skip
    planner = [*worker, "--concurrency", "1", "--queues", settings.PLANNING_QUEUE]
    clock = [*celery, "beat", "--loglevel", "WARNING", "--pidfile", ""]
    return [
        Part(name="web", command=_web(host, port, certificate), environment=environment),
        Part(name="worker", command=[*worker, "--concurrency", "2"], environment=environment),
        Part(name="planner", command=planner, environment=environment),
        Part(name="clock", command=clock, environment=environment),
    ]


def _web(host: str, port: int, certificate: tuple[Path, Path] | None) -> list[str]:
    if importlib.util.find_spec("fcntl") is None:
        # gunicorn needs a Unix; Django's own server is enough for one desk.
        manage = str(settings.BASE_DIR / "manage.py")
        return [sys.executable, manage, "runserver", "--noreload", f"{host}:{port}"]
    command = [
        sys.executable, "-m", "gunicorn", "labflow.wsgi:application", "--bind", f"{host}:{port}",
        "--worker-class", "gthread", "--workers", "1", "--threads", "8", "--timeout", "60",
        "--graceful-timeout", "10", "--keep-alive", "5", "--log-level", "warning",
        "--no-control-socket",
    ]  # fmt: skip
    if certificate:
        command += ["--certfile", str(certificate[0]), "--keyfile", str(certificate[1])]
    return command


def _die_with_parent() -> None:
    """Ask Linux to stop this child when the supervisor is killed outright.

    Otherwise a web part without a supervisor would hold the port, and a clock without one would
    be the second clock after the next start.
    """
    import ctypes

    set_parent_death_signal = 1  # PR_SET_PDEATHSIG, Linux prctl(2)
    ctypes.CDLL(None).prctl(set_parent_death_signal, signal.SIGTERM)


def clear_queue(file: Path) -> None:
    """Remove the queue of an earlier run: its nudges are stale, the sweep finds the rows."""
    for suffix in ("", "-wal", "-shm", "-journal"):
        file.with_name(file.name + suffix).unlink(missing_ok=True)


def open_queue() -> None:
    """Make the tables of the queue's file, which two workers would else make at once.

    Nothing where the queue is no file of ours.
    """
    if settings.CELERY_BROKER_URL.startswith("sqla"):
        with app.connection_for_write() as connection:
            connection.SimpleQueue(settings.PLANNING_QUEUE).close()


def trim_queue(file: Path) -> int:
    """Remove delivered messages, which the transport keeps for ever; return how many."""
    if not file.exists():
        return 0
    with contextlib.closing(sqlite3.connect(file, timeout=5)) as queue:
        try:
            removed = queue.execute("DELETE FROM kombu_message WHERE visible = 0").rowcount
            queue.commit()
        except sqlite3.OperationalError:
            # No table yet, or a busy queue: the next trim is soon enough.
            return 0
    return removed


@dataclass(kw_only=True)
class Supervisor:
    """Starts the parts, restarts what dies, stops all on Ctrl-C or SIGTERM.

    Parameters
    ----------
    parts
        What to keep alive.
    address
        Host and port that answer when the lab is open.
    say
        Takes one message for the person at the terminal.
    welcome
        What to say when the lab is open.
    queue_file
        The embedded queue, trimmed now and then.
    https
        Whether the web part speaks https.
    """

    parts: list[Part]
    address: tuple[str, int]
    say: Callable[[str], None]
    welcome: str
    queue_file: Path
    https: bool
    stopping: bool = False
    fault: str = ""

    def run(self) -> str:
        """Keep the lab open until it is told to stop; return the fault that ended it, or ""."""
        previous = {
            number: signal.signal(number, self._on_signal)
            for number in (signal.SIGINT, signal.SIGTERM)
        }
        try:
            for part in self.parts:
                part.start()
            self._watch()
        finally:
            self._stop_all()
            for number, handler in previous.items():
                signal.signal(number, handler)
        if not self.fault:
            self.say("The lab is closed.")
        return self.fault

    def _on_signal(self, number: int, frame: FrameType | None) -> None:
        self.stopping = True

    def _watch(self) -> None:
        is_open = False
        started = last_trim = time.monotonic()
        while not self.stopping:
            for part in self.parts:
                self._revive(part)
            now = time.monotonic()
            if not is_open and self._answers():
                is_open = True
                self.say(self.welcome)
            if not is_open and now - started > OPEN_SECONDS:
                self._give_up(f"The web part did not answer within {OPEN_SECONDS:.0f} seconds.")
            if now - last_trim > TRIM_SECONDS:
                trim_queue(self.queue_file)
                last_trim = now
            time.sleep(0.25)

    def _revive(self, part: Part) -> None:
        now = time.monotonic()
        if part.process is None:
            if now >= part.not_before and not self.stopping:
                part.start()
            return
        code = part.process.poll()
        if code is None:
            return
        part.process = None
        part.deaths = part.deaths + 1 if now - part.started < STEADY_SECONDS else 1
        if part.deaths >= PATIENCE:
            self._give_up(
                f"The {part.name} stopped {part.deaths} times in a row (last exit code {code}). "
                "Its messages are above; start again when the cause is gone."
            )
            return
        wait = 0.5 * 2 ** (part.deaths - 1)
        part.not_before = now + wait
        self.say(f"The {part.name} stopped (exit code {code}). It starts again in {wait:g} s.")

    def _give_up(self, fault: str) -> None:
        self.fault = fault
        self.stopping = True

    def _answers(self) -> bool:
        # A port that accepts is not enough: it is open before the program behind it is loaded.
        host, port = self.address
        host = "127.0.0.1" if host == "0.0.0.0" else host  # noqa: S104
        probe = HTTPConnection(host, port, timeout=2)
        if self.https:
            # Only the own machine is asked, and only whether it answers.
            context = ssl._create_unverified_context()  # noqa: S323
            probe = HTTPSConnection(host, port, timeout=2, context=context)
        try:
            probe.request("GET", "/", headers={"Host": "localhost"})
            return probe.getresponse().status > 0
        except (OSError, HTTPException):
            return False
        finally:
            probe.close()

    def _stop_all(self) -> None:
        running = [part for part in self.parts if part.process and part.process.poll() is None]
        if running:
            self.say("Closing the lab: what is in hand is finished first.")
        for part in running:
            if part.process:
                part.process.terminate()
        until = time.monotonic() + STOP_SECONDS
        for part in running:
            if not part.process:
                continue
            try:
                part.process.wait(timeout=max(0.1, until - time.monotonic()))
            except subprocess.TimeoutExpired:
                part.process.kill()
                part.process.wait()
                self.fault = self.fault or (
                    f"The {part.name} did not finish within {STOP_SECONDS:.0f} seconds and was "
                    "stopped. Nothing recorded is lost; the next start picks up what was open."
                )
